"""The API reference: one page for each folder of the package, made from its docstrings."""

from __future__ import annotations

import ast
from pathlib import Path

import thrustlapse as tl
from thrustlapse import _WHERE

PACKAGE = Path(tl.__file__).parent

FOLDERS = {
    "air": "What the machine breathes", "power": "Where the watts come from",
    "rotor": "What turns", "propulsor": "What pushes", "aircraft": "What flies",
    "bench": "Readings of a bench", "designs": "Many designs", "study": "Questions",
    "scenario": "What a person writes",
}
"""Folders in the order of the house, with what they are about. Left out: ``report`` and
``commands``, whose use is on the pages of public names and of commands."""

BASE = ("arrays", "elementwise", "distributions", "glossary", "search")
"""Modules beside the folders."""


def pages(*, complete: bool) -> dict[str, str]:
    """reStructuredText of every page; only the public names where not ``complete``."""
    made = {"api/index.rst": _index(complete), "api/public.rst": _public()}
    if complete:
        made |= {f"api/{folder}.rst": _folder(folder, title) for folder, title in FOLDERS.items()}
        made["api/base.rst"] = _modules("What every folder builds on",
                                        [f"thrustlapse.{name}" for name in BASE])
    return made


def _title(text: str, mark: str = "=") -> str:
    return f"{text}\n{mark * len(text)}\n"


def _index(complete: bool) -> str:
    names = ["public", *(["base", *FOLDERS] if complete else [])]
    return "\n".join([
        _title("Python reference"),
        "From the docstrings. Everything is SI inside; physics functions take keyword arguments "
        "that broadcast, so one operating point, a curve and a batch are the same call. ``Array``, "
        "``IntArray`` and ``BoolArray`` are NumPy arrays; ``Values`` is a number or an array.\n",
        ".. toctree::\n   :maxdepth: 1\n", *(f"   {name}" for name in names), ""])


def _public() -> str:
    lines = [_title("Public names"),
             "``import thrustlapse as tl`` and then ``tl.NAME``. The rest of the package may "
             "change between versions.\n"]
    for name, module in sorted(_WHERE.items()):
        kind = "autoexception" if name.endswith("Error") else "autofunction"
        lines += [_title(f"tl.{name}", "-"), f".. {kind}:: {module}.{name}\n   :no-index:\n"]
    return "\n".join(lines)


def _folder(folder: str, title: str) -> str:
    """A folder's page; what a scenario may hold is in the scenario reference."""
    names = [".".join(("thrustlapse", *path.relative_to(PACKAGE).with_suffix("").parts))
             for path in sorted((PACKAGE / folder).rglob("*.py"))
             if path.name != "__init__.py" and path.stem != "json_schema"
             and path.parent.name != "schema" and _shows_anything(path)]
    return _modules(f"{folder}: {title[0].lower()}{title[1:]}", names)


def _shows_anything(path: Path) -> bool:
    """Whether a module defines anything without a leading underscore."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return any(isinstance(node, ast.FunctionDef | ast.ClassDef) and not node.name.startswith("_")
               for node in tree.body)


def _modules(title: str, names: list[str]) -> str:
    lines = [_title(title)]
    for name in names:
        lines += [_title(name.removeprefix("thrustlapse."), "-"), f".. automodule:: {name}\n"]
    return "\n".join(lines)
