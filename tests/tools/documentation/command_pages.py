"""The page of all commands, from what the commands themselves say with ``--help``."""

from __future__ import annotations

import inspect
from collections.abc import Iterator

import click

from tests.tools.documentation.markdown import block, cell, code, heading, table
from thrustlapse.cli import main


def commands(command: click.Command = main, name: str = "thrustlapse",
             above: click.Context | None = None) -> Iterator[tuple[click.Context, click.Command]]:
    """Every command that does something, groups before their members."""
    context = click.Context(command, info_name=name, parent=above, max_content_width=96)
    yield context, command
    if isinstance(command, click.Group):
        for inner in command.list_commands(context):
            found = command.get_command(context, inner)
            assert found is not None
            yield from commands(found, inner, context)


def page() -> str:
    """Markdown of the page."""
    every = list(commands())
    lines = [heading("Commands"),
             "What each command says of itself with `--help`. A command that is given something "
             "wrong says all that is wrong, what would do, and leaves with exit code 2.\n",
             table(("command", "does"), [
                 (f"[{context.command_path}](#{_anchor(context)})",
                  cell(command.get_short_help_str(200))) for context, command in every])]
    lines += [_section(context, command) for context, command in every]
    return "\n".join(lines)


def _anchor(context: click.Context) -> str:
    return context.command_path.replace(" ", "-")


def _section(context: click.Context, command: click.Command) -> str:
    level = 2 if context.parent is None or context.parent.parent is None else 3
    lines = [f"({_anchor(context)})=", heading(f"`{context.command_path}`", level),
             block(" ".join([context.command_path, *command.collect_usage_pieces(context)])),
             _words(command.help or "")]
    options = [_row(option, context) for option in command.get_params(context)
               if isinstance(option, click.Option)]
    if options:
        lines.append(table(("option", "takes", "meaning"), options))
    return "\n\n".join(lines) + "\n"


def _words(text: str) -> str:
    """A help text: paragraphs flow, what click keeps as it stands is a block."""
    parts = []
    for part in inspect.cleandoc(text).split("\n\n"):
        if part.startswith("\b"):
            parts.append(block(part.removeprefix("\b").strip("\n")))
        else:
            parts.append(cell(part))
    return "\n\n".join(parts)


def _row(option: click.Option, context: click.Context) -> tuple[str, str, str]:
    takes = "" if option.is_flag else option.make_metavar(context)
    notes = []
    if option.required:
        notes.append("**Required.**")
    if option.multiple:
        notes.append("May be given again.")
    if option.default not in (None, (), False, "") and not callable(option.default) \
            and option.show_default:
        notes.append(f"Default {code(str(option.default))}.")
    said = cell(option.help or "")
    return (", ".join(code(one) for one in option.opts), code(takes) if takes else "",
            " ".join([said + ("" if said.endswith((".", "?", "]")) else "."), *notes]))
