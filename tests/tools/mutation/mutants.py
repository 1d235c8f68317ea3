"""The mutants: small wrong changes of the physics, made by cosmic-ray, drawn with a stated seed.

The operators, the folders and the files taken whole stand in ``pyproject.toml`` under
``[tool.thrustlapse-mutation]``.
"""

from __future__ import annotations

import ast
import random
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from types import CodeType
from typing import Any

ROOT = Path(__file__).parents[3]


@cache
def settings() -> dict[str, Any]:
    """``[tool.thrustlapse-mutation]`` of ``pyproject.toml``."""
    with (ROOT / "pyproject.toml").open("rb") as stream:
        found: dict[str, Any] = tomllib.load(stream)["tool"]["thrustlapse-mutation"]
    return found


@dataclass(frozen=True, kw_only=True)
class Mutant:
    """One wrong change: where, and the line as it was and as it is."""

    file: str
    operator: str
    occurrence: int
    line: int
    was: str
    now: str
    whole: bool
    """Whether its file is one of those whose mutants are all tried"""

    @property
    def key(self) -> tuple[str, str, str, str]:
        """What names it even when lines above it have changed."""
        return self.file, self.operator, self.was, self.now


def physics_files() -> list[str]:
    """Every file of the folders that compute physics, as paths from the root."""
    return [str(path.relative_to(ROOT)) for folder in settings()["folders"]
            for path in sorted((ROOT / folder).rglob("*.py")) if path.name != "__init__.py"]


def mutated(mutant: Mutant) -> str:
    """The whole text of its file with the change made."""
    from cosmic_ray.mutating import mutate_code
    from cosmic_ray.plugins import get_operator

    text: str | None = mutate_code((ROOT / mutant.file).read_text(encoding="utf-8"),
                                   get_operator(mutant.operator)(), mutant.occurrence)
    assert text is not None
    return text


def _all_of(file: str) -> Iterator[Mutant]:
    from cosmic_ray.ast import ast_nodes, get_ast
    from cosmic_ray.plugins import get_operator

    source = (ROOT / file).read_text(encoding="utf-8")
    lines = source.splitlines()
    tree = get_ast(source)
    nodes = list(ast_nodes(tree))
    left_alone = _words(source)
    for name in settings()["operators"]:
        operator = get_operator(name)()
        occurrence = -1
        for node in nodes:
            for index, (start, _) in enumerate(operator.mutation_positions(node)):
                occurrence += 1
                if start[0] in left_alone or _only_a_star(node):
                    continue
                yield Mutant(file=file, operator=name, occurrence=occurrence, line=start[0],
                             was=lines[start[0] - 1].strip(), now=str(index),
                             whole=file in settings()["whole"])


def _only_a_star(node: Any) -> bool:
    """Whether this is the ``*`` of a parameter list or the ``|`` of a type: no computing."""
    holder = node
    while holder is not None and holder.type not in ("suite", "file_input"):
        if holder.type in ("parameters", "param", "argument", "annassign"):
            return holder.type != "argument" or node.parent is holder
        holder = holder.parent
    return False


def _words(source: str) -> set[int]:
    """Lines that hold only words: docstrings, sentences, the raising of an error."""
    found: set[int] = set()
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Raise | ast.JoinedStr) or (
                isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)):
            found |= set(range(node.lineno, (node.end_lineno or node.lineno) + 1))
    return found


def population() -> list[Mutant]:
    """Every place where an operator applies, in a fixed order (``now`` is not yet filled)."""
    return [mutant for file in physics_files() for mutant in _all_of(file)]


def drawn(everything: list[Mutant], *, rest: int, seed: int) -> list[Mutant]:
    """All mutants of the files taken whole, and ``rest`` of the others by chance."""
    others = [mutant for mutant in everything if not mutant.whole]
    chosen = random.Random(seed).sample(others, min(rest, len(others)))
    return [mutant for mutant in everything if mutant.whole] + chosen


def told(mutant: Mutant) -> tuple[Mutant, str] | None:
    """The mutant with its changed line, and its text; None where it changes nothing or no Python.

    A change that leaves the same byte code (in a type, a docstring) is no mutant.
    """
    text = mutated(mutant)
    before = (ROOT / mutant.file).read_text(encoding="utf-8")
    try:
        new = compile(text, mutant.file, "exec", dont_inherit=True)
    except (SyntaxError, ValueError):
        return None
    if same(compile(before, mutant.file, "exec", dont_inherit=True), new):
        return None
    line = next((now for was, now in zip(before.splitlines(), text.splitlines(), strict=False)
                 if was != now), "")
    return Mutant(**{**mutant.__dict__, "now": line.strip()}), text


def same(one: CodeType, other: CodeType, *, functions: bool = True) -> bool:
    """Whether two code objects do the same; ``functions=False`` leaves function bodies out."""
    if (one.co_code, one.co_names, len(one.co_consts)) != (
            other.co_code, other.co_names, len(other.co_consts)):
        return False
    for left, right in zip(one.co_consts, other.co_consts, strict=True):
        if isinstance(left, CodeType) and isinstance(right, CodeType):
            if (functions or not is_function(left)) and not same(left, right, functions=functions):
                return False
        elif repr(left) != repr(right):
            return False
    return True


def is_function(code: CodeType) -> bool:
    """A function's code, not that of a class body."""
    return bool(code.co_flags & 0x02)  # CO_NEWLOCALS: set for functions, not for class bodies


def functions_of(code: CodeType) -> Iterator[CodeType]:
    """The outermost functions of a module's code, those of its classes included."""
    for part in code.co_consts:
        if isinstance(part, CodeType):
            if is_function(part):
                yield part
            else:
                yield from functions_of(part)
