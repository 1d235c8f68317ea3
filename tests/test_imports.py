"""The folders are the parts of the machine, and an arrow is the only import allowed."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[1] / "thrustlapse"

BASE = {"arrays", "elementwise", "glossary", "distributions", "register", "notebook_view"}
ALLOWED = {
    "arrays": set(), "elementwise": {"arrays"}, "glossary": set(), "distributions": {"arrays"},
    "register": {"distributions"}, "notebook_view": set(),
    "air": BASE, "power": BASE,
    "rotor": BASE | {"air", "power"},
    "propulsor": BASE | {"air", "power", "rotor"},
    "aircraft": BASE | {"air", "power", "rotor", "propulsor"},
    "bench": BASE | {"air"},
    "designs": BASE | {"air", "power", "rotor", "propulsor", "aircraft"},
    "scenario": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench"},
    "learning": BASE | {"propulsor", "bench", "scenario", "study"},
    "search": BASE | {"designs", "scenario", "study"},
    "sizing": BASE | {"scenario", "study", "aircraft"},
    "study": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench"},
    "report": BASE | {"designs", "air", "power", "rotor", "propulsor", "aircraft", "bench",
                      "study"},
    "served": BASE | {"air", "propulsor", "aircraft", "scenario", "study", "report", "learning"},
    "commands": BASE | {"served", "scenario", "bench", "study", "report", "sizing", "learning",
                        "rotor"},
    "cli": BASE | {"search", "commands", "scenario", "study", "report", "propulsor", "rotor"},
    "notebook": BASE | {"scenario", "study", "report", "propulsor"},
    "__init__": {"scenario", "study", "report", "propulsor", "air"},
}
"""Folder -> folders it may import from, besides itself."""

FILES = sorted(PACKAGE.rglob("*.py"))

SLOW = {"scipy", "matplotlib", "pandas", "rich", "pint", "tomlkit"}
"""Libraries that a command which needs none of them should not wait for."""

DRAWS = {"report/comparison/write_up.py": 2, "report/machine/files.py": 2,
         "report/search/files.py": 2}
"""Files that fetch the package's own inside a function because it draws: file -> how many."""

MOST_OF_COMMANDS = 80
"""Most imports inside functions of all commands: each loads what it runs, when it runs."""

PHYSICS_CALLS = {"operate", "operate_ducted", "operate_open_rotor", "station_states", "match",
                 "compare", "level_flight", "size_nozzle", "shaft_speed", "standard_air"}
"""Functions that compute; a report reads results and calls none of them."""


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Everything in a file, read once."""
    return tuple(ast.walk(ast.parse(path.read_text(encoding="utf-8"))))


def imported(path: Path) -> set[tuple[str, str]]:
    """(folder, name) of everything of this package that a file imports, lazily or not."""
    found = set()
    for node in nodes(path):
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


@cache
def files_imported(path: Path) -> set[Path]:
    """Files of this package that a file imports anywhere, for types alone too.

    The front door is a table of names; nothing but its version is taken from it.
    """
    found = set()
    for node in nodes(path):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("thrustlapse."):
            parts = (node.module or "").split(".")[1:]
            for alias in node.names:
                inner = PACKAGE.joinpath(*parts, f"{alias.name}.py")
                found.add(inner if inner.is_file() else PACKAGE.joinpath(*parts).with_suffix(".py"))
    return found


def folder_of(path: Path) -> str:
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_import_runs_back(path: Path) -> None:
    own = folder_of(path)
    for folder, name in imported(path):
        assert folder == own or folder in ALLOWED[own], f"{path.name} imports {folder}.{name}"


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_no_file_leads_back_to_itself(path: Path) -> None:
    seen: set[Path] = set()
    ahead = set(files_imported(path))
    while ahead:
        assert path not in ahead, f"a circle through {path.name}"
        seen |= ahead
        ahead = set().union(*(files_imported(one) for one in ahead if one in FILES)) - seen


def inside_functions(path: Path) -> list[str]:
    """Modules that a file imports inside functions."""
    functions = [node for node in nodes(path)
                 if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]
    inner = {node for function in functions for node in ast.walk(function)}
    return [alias.name for node in inner if isinstance(node, ast.Import) for alias in node.names
            ] + [node.module or "" for node in inner if isinstance(node, ast.ImportFrom)]


def of_a_command(path: Path) -> bool:
    return folder_of(path) in ("cli", "commands")


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_an_import_inside_a_function_only_saves_start_up_time(path: Path) -> None:
    modules = inside_functions(path)
    own = [one for one in modules if one.split(".")[0] == "thrustlapse"]
    slow = SLOW | ({"numpy"} if of_a_command(path) else set())
    assert {one.split(".")[0] for one in modules} <= slow | {"thrustlapse"}
    assert of_a_command(path) or len(own) == DRAWS.get(str(path.relative_to(PACKAGE)), 0), own


def test_the_imports_of_commands_are_counted() -> None:
    count = sum(len(inside_functions(path)) for path in FILES if of_a_command(path))
    assert 0 < count <= MOST_OF_COMMANDS


@pytest.mark.parametrize("path", [path for path in FILES if folder_of(path) == "report"],
                         ids=lambda path: path.name)
def test_a_report_computes_no_physics(path: Path) -> None:
    assert not {name for _, name in imported(path)} & PHYSICS_CALLS


@pytest.mark.parametrize("path", FILES, ids=lambda path: str(path.relative_to(PACKAGE)))
def test_nothing_slow_is_imported_at_the_top(path: Path) -> None:
    """Start-up: SciPy and matplotlib only inside the functions that need them."""
    tree = nodes(path)[0]
    assert isinstance(tree, ast.Module)
    for node in tree.body:
        modules = ([alias.name for alias in node.names] if isinstance(node, ast.Import)
                   else [node.module or ""] if isinstance(node, ast.ImportFrom) else [])
        heavy = {module.split(".")[0] for module in modules} & {"scipy"}
        assert not heavy, f"{path.name} imports {heavy}"
