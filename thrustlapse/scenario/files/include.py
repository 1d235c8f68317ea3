"""Candidates that stand in files of their own: ``[candidates.mine] include = "mine.toml"``.

The included file holds the tables of one candidate at its top level. What stands beside ``include``
overrides it, table by table and key by key; a fitted value that is overridden is no longer a fitted
one, and leaves the fit. An included file lies in the scenario's folder or below it, and includes
nothing itself.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from thrustlapse.propulsor.bench_fit import CONTRACTION
from thrustlapse.scenario.faults import Fault, KeyPath, ScenarioError, key_text, printable
from thrustlapse.scenario.faults import value_text as shown_value
from thrustlapse.scenario.files.lines import key_lines, line_of
from thrustlapse.scenario.section import DISCRIMINATORS

ACCEPTED = "the path of a candidate's file, in the folder of the scenario or below it"

DESCRIBED, EVIDENCE = "described", "evidence"
"""Tables of a machine's file that are no part of the candidate: how it was described before any
evidence, and the pieces."""

Load = Callable[[Path], tuple[bytes, str, dict[str, Any]]]
"""Reads a file: bytes, text and tables; raises ScenarioError."""


@dataclass(frozen=True, kw_only=True)
class Included:
    """One included file: what messages call it, its text, and where its keys stand."""

    name: str
    text: str
    digest: str
    lines: Mapping[KeyPath, int] = field(repr=False)


@dataclass(frozen=True, kw_only=True)
class Expanded:
    """A parsed scenario with its includes put in.

    ``included`` by the path of the table they were put into; ``told`` are sentences by candidate
    about fitted values that were overridden; ``faults`` those of the includes themselves, whose
    candidates are left out.
    """

    raw: dict[str, Any]
    included: dict[KeyPath, Included]
    told: dict[str, tuple[str, ...]]
    faults: tuple[Fault, ...]


def expanded(raw: dict[str, Any], *, file: str, text: str, folder: Path | None,
             load: Load) -> Expanded:
    """Put the included files of a parsed scenario in.

    Parameters
    ----------
    folder : Path or None
        Folder of the scenario; None where it is not a file, and may include none
    """
    candidates = raw.get("candidates")
    asked = {name for name, table in candidates.items()
             if isinstance(table, dict) and "include" in table} if isinstance(
                 candidates, dict) else set()
    if not asked:
        return Expanded(raw=raw, included={}, told={}, faults=())
    assert isinstance(candidates, dict)
    kept, included, told = dict(candidates), {}, {}
    faults: list[Fault] = []
    lines = key_lines(text)
    for name in sorted(asked):
        beside = {key: value for key, value in candidates[name].items() if key != "include"}
        path: KeyPath = ("candidates", name, "include")
        value = candidates[name]["include"]
        try:
            called = _located(value, folder)
            data, inner, tables = load(Path(called))
            tables = {key: value for key, value in tables.items()
                      if key not in (DESCRIBED, EVIDENCE)}
            _no_scenario(tables, called)
        except _Refused as refused:
            faults.append(Fault(file=printable(file), line=line_of(path, lines),
                                key=key_text(path), value=shown_value(value),
                                problem=refused.problem, accepted=ACCEPTED, hint=refused.hint))
        except ScenarioError as error:
            # what is wrong with the file as a whole is told where it is asked for
            faults += [one if one.key or one.line else replace(
                one, file=printable(file), line=line_of(path, lines), key=key_text(path),
                value=shown_value(value), problem=f"{called}: {one.problem}",
                accepted=ACCEPTED, hint="") for one in error.faults]
        else:
            kept[name], sentences = put_together(tables, beside)
            told[name] = sentences
            included[path[:-1]] = Included(name=printable(called), text=inner,
                                           digest=hashlib.sha256(data).hexdigest(),
                                           lines=key_lines(inner))
            continue
        del kept[name]
    return Expanded(raw={**raw, "candidates": kept}, included=included, told=told,
                    faults=tuple(faults))


class _Refused(ValueError):
    def __init__(self, problem: str, hint: str = "") -> None:
        super().__init__(problem)
        self.problem, self.hint = problem, hint


def _located(value: Any, folder: Path | None) -> str:
    """Path of the file an include names, as messages call it."""
    if folder is None:
        raise _Refused("a scenario that is no file can include none",
                       "write the candidate's tables here")
    if not isinstance(value, str) or not value.strip() or "\0" in value:
        raise _Refused("not the path of a file")
    try:
        root = folder.resolve()
        where = (root / value).resolve()
        inside = where.is_relative_to(root)
        waits = where.exists() and not (where.is_file() or where.is_dir())
    except (OSError, ValueError, RuntimeError):
        raise _Refused("not a usable path") from None
    if not inside:
        raise _Refused("lies outside the scenario's folder", "copy the file beside the scenario")
    if waits:
        raise _Refused("not a plain file: reading a pipe or a device may never end")
    return str(folder / value)


def _no_scenario(tables: dict[str, Any], called: str) -> None:
    for key, problem in (("candidates", "holds a whole scenario, not one candidate"),
                         ("include", "an included file cannot include another")):
        if key in tables:
            raise ScenarioError([Fault(
                file=printable(called), line=0, key=key, value="", problem=problem,
                accepted='the tables of one candidate at the top: kind = "blower", then [motor], '
                "[map] and the others")])


# Putting together -------------------------------------------------------------------------------


def put_together(tables: dict[str, Any], beside: dict[str, Any]) -> tuple[dict[str, Any],
                                                                          tuple[str, ...]]:
    """An included candidate with what stands beside its include, and what that overrode."""
    together = _merged(tables, beside)
    if "fit" in beside or not isinstance(together.get("fit"), dict):
        return together, ()
    changed = [name for name in _fitted(together["fit"]) if any(
        _value(tables, key) is not None and _value(together, key) != _value(tables, key)
        for key in RESTS_ON.get(name, (name,)))]
    if not changed:
        return together, ()
    fit = _without(together["fit"], set(changed))
    rest = {key: value for key, value in together.items() if key != "fit"}
    sentences = tuple(f"{key} as the scenario gives it, in place of what the bench fit of the "
                      "included file found" for key in changed)
    return (rest if fit is None else {**rest, "fit": fit}), sentences


RESTS_ON = {CONTRACTION: ("nozzle.discharge_coefficient", "nozzle.velocity_coefficient")}
"""Keys that a name of a fit stands for."""


def _merged(base: dict[str, Any], over: dict[str, Any]) -> dict[str, Any]:
    out = dict(base)
    for key, value in over.items():
        old = base.get(key)
        # a table of another kind has other keys: it replaces the old one whole
        alike = isinstance(value, dict) and isinstance(old, dict) and all(
            word not in value or value[word] == old.get(word) for word in DISCRIMINATORS)
        out[key] = _merged(old, value) if alike and isinstance(old, dict) else value
    return out


def _fitted(fit: dict[str, Any]) -> list[str]:
    unknowns = fit.get("unknowns")
    return [key for key in unknowns if isinstance(key, str)] if isinstance(unknowns, list) else []


def _value(tables: dict[str, Any], dotted: str) -> Any:
    part: Any = tables
    for step in dotted.split("."):
        part = part.get(step) if isinstance(part, dict) else None
    return part


def _without(fit: dict[str, Any], gone: set[str]) -> dict[str, Any] | None:
    """A fit without some of its unknowns; None where none is left. Their rows and columns go."""
    unknowns, rows = fit["unknowns"], fit.get("covariance")
    keep = [place for place, key in enumerate(unknowns) if key not in gone]
    if not keep:
        return None
    square = isinstance(rows, list) and len(rows) == len(unknowns) and all(
        isinstance(row, list) and len(row) == len(unknowns) for row in rows)
    if not square:
        return fit  # faulty, and told so by its own check
    assert isinstance(rows, list)
    return {**fit, "unknowns": [unknowns[i] for i in keep],
            "covariance": [[rows[i][j] for j in keep] for i in keep]}


# Where a fault stands ---------------------------------------------------------------------------


def place_of(path: KeyPath, *, file: str, lines: dict[KeyPath, int],
             included: Mapping[KeyPath, Included]) -> tuple[str, int, KeyPath]:
    """File, line and path within that file of a path of an expanded scenario.

    The nearest table that is written anywhere; of two equally near, the included file's, unless
    the scenario itself gives the very key.
    """
    home = next((table for table in included if path[:len(table)] == table), None)
    if home is None or path in lines:
        return file, line_of(path, lines), path
    inner, one = path[len(home):], included[home]
    for end in range(len(path), len(home), -1):
        if path[len(home):end] in one.lines:
            return one.name, one.lines[path[len(home):end]], inner
        if path[:end] in lines:
            return file, lines[path[:end]], path
    return one.name, 0, inner


def all_texts(text: str, included: Mapping[KeyPath, Included]) -> Iterator[str]:
    """The scenario's text, and those it includes as comments behind it, each under its name."""
    yield text
    for one in included.values():
        yield f"\n# included from {one.name}:\n#\n"
        yield "".join(f"# {line}".rstrip() + "\n" for line in one.text.splitlines())
