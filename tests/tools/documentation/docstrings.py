"""How docstrings are read: formulas stand as they are, and types link only where a page has them.

An extension of Sphinx. Docstrings here are written to be read in an editor: a formula is set in by
four spaces under its sentence. reStructuredText wants two colons before that, or it would run the
lines together as a quotation; this puts them in.
"""

from __future__ import annotations

import re
from typing import Any

from docutils import nodes
from sphinx.addnodes import pending_xref
from sphinx.util.nodes import find_pending_xref_condition

BEFORE_SECTIONS_ARE_READ = 400
"""Priority at which the lines are still those of the docstring."""

VALUES = ("attribute", "data", "property")
"""What the reader of sections takes for "type: words" wherever its words hold a colon."""


def marked(lines: list[str]) -> list[str]:
    """The lines with a mark before each indented block that follows a paragraph."""
    found: list[str] = []
    before = ""
    for place, line in enumerate(lines):
        if line.startswith("    ") and place and not lines[place - 1].strip() and before \
                and not before.startswith(" ") and not before.endswith("::"):
            found += ["::", ""]
        found.append(line)
        before = line if line.strip() else before
    return found


def _mark(app: Any, what: str, name: str, thing: Any, options: Any, lines: list[str]) -> None:
    lines[:] = marked(lines)
    if what in VALUES and lines and ":" in lines[0]:
        lines[:0] = ["..", ""]  # an empty remark, so that the words before the colon are no type


def _skip(app: Any, what: str, name: str, thing: Any, skip: bool, options: Any) -> bool | None:
    """Leave out what has no words of its own."""
    return True if str(getattr(thing, "__doc__", "")).startswith("Alias for field") else None


ALIAS = re.compile(r"TypeAliasForwardRef\('(\w+)'\)")
"""How the name of a type stands where it is part of another."""


def _by_name(app: Any, what: str, name: str, thing: Any, options: Any, signature: str | None,
             returns: str | None) -> tuple[str | None, str | None]:
    return tuple(None if one is None else ALIAS.sub(r"\1", one) for one in (signature, returns))


def _only_known_targets(app: Any, doctree: nodes.document) -> None:
    """Names of types are looked up exactly, and only those of this package: a guess among five
    thousand names for every ``float`` of a signature takes a third of the build."""
    for one in list(doctree.findall(pending_xref)):
        if one.get("refdomain") != "py":
            continue
        if str(one.get("reftarget", "")).startswith("thrustlapse."):
            one["refspecific"] = False
        else:
            shown = find_pending_xref_condition(one, "resolved")
            one.replace_self(shown.children if shown is not None else one.children)


def setup(app: Any) -> dict[str, bool]:
    """Listen to every docstring before its sections are read, and to every page once it is."""
    app.connect("autodoc-process-docstring", _mark, priority=BEFORE_SECTIONS_ARE_READ)
    app.connect("autodoc-skip-member", _skip)
    app.connect("autodoc-process-signature", _by_name)
    app.connect("doctree-read", _only_known_targets)
    return {"parallel_read_safe": True, "parallel_write_safe": True}
