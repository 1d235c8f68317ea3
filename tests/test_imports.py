"""The folders are the parts of the machine, and an arrow is the only import allowed."""

from __future__ import annotations

import ast
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "thrustlapse"

BASE = {"arrays", "elementwise", "glossary", "chance", "register"}
ALLOWED = {
    "arrays": set(), "elementwise": {"arrays"}, "glossary": set(), "chance": {"arrays"},
    "register": {"chance"},
    "air": BASE, "power": BASE,
    "rotor": BASE | {"air", "power"},
    "propulsor": BASE | {"air", "power", "rotor"},
    "aircraft": BASE | {"air", "power", "rotor", "propulsor"},
    "bench": BASE | {"air"},
    "designs": BASE | {"air", "power", "rotor", "propulsor", "aircraft"},
    "scenario": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench"},
    "search": BASE | {"designs", "scenario", "study"},
    "when": BASE | {"designs", "scenario", "study", "propulsor"},
    "study": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench"},
    "report": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench",
                      "study"},
    "served": BASE | {"air", "propulsor", "aircraft", "scenario", "study", "report"},
    "commands": BASE | {"served", "scenario", "bench", "study", "report"},
    "cli": BASE | {"search", "commands", "scenario", "study", "report", "propulsor", "rotor"},
    "__init__": {"scenario", "study", "report", "propulsor", "air"},
}
"""Folder -> folders it may import from, besides itself."""

FILES = sorted(PACKAGE.rglob("*.py"))

PHYSICS_CALLS = {"operate", "operate_ducted", "operate_open_rotor", "march", "match", "compare",
                 "level_flight", "size_nozzle", "shaft_speed", "standard_air"}
"""Functions that compute; a report reads results and calls none of them."""


def imported(path: Path) -> set[tuple[str, str]]:
    """(folder, name) of everything of this package that a file imports, lazily or not."""
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        names: list[tuple[str, str]] = []
        if isinstance(node, ast.ImportFrom) and node.module:
            names = [(node.module, alias.name) for alias in node.names]
        elif isinstance(node, ast.Import):
            names = [(alias.name, "") for alias in node.names]
        for module, name in names:
            parts = module.split(".")
            if parts[0] == "thrustlapse":
                folder = parts[1] if len(parts) > 1 else name
                if folder != "__version__":
                    found.add((folder, name))
    return found


def folder_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_import_runs_back(path: Path) -> None:
    own = folder_of(path)
    for folder, name in imported(path):
        assert folder == own or folder in ALLOWED[own], f"{path.name} imports {folder}.{name}"


@pytest.mark.parametrize("path", [path for path in FILES if folder_of(path) == "report"],
                         ids=lambda path: path.name)
def test_a_report_computes_no_physics(path: Path) -> None:
    assert not {name for _, name in imported(path)} & PHYSICS_CALLS


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_slow_is_imported_at_the_top(path: Path) -> None:
    """Start-up: SciPy and matplotlib only inside the functions that need them."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in tree.body:
        modules = ([alias.name for alias in node.names] if isinstance(node, ast.Import)
                   else [node.module or ""] if isinstance(node, ast.ImportFrom) else [])
        heavy = {module.split(".")[0] for module in modules} & {"scipy"}
        assert not heavy, f"{path.name} imports {heavy}"
