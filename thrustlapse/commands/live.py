"""``live``: a scenario with handles, in the browser of this machine."""

from __future__ import annotations

from pathlib import Path

import click

from thrustlapse.commands.console import Place, faults_told, say, stop

FOLDER = Place()


@click.command()
@click.argument("file", type=Place())
@click.option("--out", "folder", type=FOLDER, default=None,
              help="Folder for write-ups  [default: the scenario's]")
@click.option("--port", type=click.IntRange(0, 65535), default=0, show_default="any free one",
              help="Port on this machine")
@click.option("--open/--no-open", "opened", default=True, show_default=True,
              help="Open the page in the usual browser")
def live(file: Path, folder: Path | None, port: int, opened: bool) -> None:
    """Move the numbers of FILE by hand and watch thrust, top speeds and crossovers follow.

    Serves a page to this machine alone, at an address that is printed and cannot be guessed. Keep
    variants side by side, write values back into FILE (comments stay), or have the whole write-up
    made. Ends with Ctrl-C.
    """
    from thrustlapse.served.scenario_editor import ScenarioEditor

    with faults_told():
        editor = ScenarioEditor(file=file, folder=folder or file.parent)
    from thrustlapse.served.server import NotFree, serve

    try:
        serve(editor, port=port, told=say, opened=opened)
    except NotFree as error:
        stop(f"--port {port}: {error}")
