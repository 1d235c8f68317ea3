"""Which tables of ``tests/authorities`` stand behind records, and what holds the others.

A table counts where a function under ``@authority``, or a name or function of its module that it
uses, reads it; so a new table cannot be added and left off the page in silence.
"""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path

TESTS = Path(__file__).parents[1]

BY_ORDINARY_TESTS = {
    "flight3_electric_log": "a real flight log without bank, directions, motor or propeller: that "
                            "the answer says what it cannot tell, test_log_lapse",
    "centrifugal_blower_7040": "one measured blower of unknown wheel: shape of its line, and one "
                               "speed foretold from the other, test_centrifugal_measured, test_fit",
}
"""Tables that ordinary tests read and no record does: what holds them."""


@cache
def names() -> frozenset[str]:
    """Every table there is."""
    return frozenset(path.stem for path in (TESTS / "authorities").glob("*.csv"))


def in_records() -> frozenset[str]:
    """Tables that records rest on."""
    return frozenset(name for read in by_test().values() for name in read)


@cache
def by_test() -> dict[tuple[str, str], frozenset[str]]:
    """Tables behind the records of each test, by its file's stem and its name."""
    found: dict[tuple[str, str], frozenset[str]] = {}
    shared = (_definitions(TESTS / "rotor" / "measured_propellers.py")
              | _definitions(TESTS / "rotor" / "measured_stages.py")
              | _definitions(TESTS / "rotor" / "small_machine.py"))
    for path in TESTS.rglob("test_*.py"):
        known = shared | _definitions(path)
        for node in ast.parse(path.read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef) and any(
                    "authority" in ast.dump(one) for one in node.decorator_list):
                found[path.stem, node.name] = frozenset(_read_by(node, known, set()))
    return found


def _definitions(path: Path) -> dict[str, ast.AST]:
    """What a module defines at its top, by name."""
    found: dict[str, ast.AST] = {}
    for node in ast.parse(path.read_text(encoding="utf-8")).body:
        if isinstance(node, ast.FunctionDef):
            found[node.name] = node
        elif isinstance(node, ast.Assign):
            for target in ast.walk(node):
                if isinstance(target, ast.Name) and isinstance(target.ctx, ast.Store):
                    found[target.id] = node
    return found


def _read_by(node: ast.AST, known: dict[str, ast.AST], seen: set[str]) -> set[str]:
    """Tables named in a piece of code, or in what it uses."""
    found: set[str] = set()
    for inner in ast.walk(node):
        if isinstance(inner, ast.Constant) and inner.value in names():
            found.add(str(inner.value))
        elif isinstance(inner, ast.Name) and inner.id in known and inner.id not in seen:
            seen.add(inner.id)
            found |= _read_by(known[inner.id], known, seen)
    return found
