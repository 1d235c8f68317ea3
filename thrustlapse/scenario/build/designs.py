"""Many designs from one scenario: the file's numbers replaced at the keys that a search varies."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.designs.design_batch import DesignBatch
from thrustlapse.designs.spec import SearchSpec
from thrustlapse.propulsor.basis import EQUAL_POWER
from thrustlapse.scenario.build.components import NotBuilt, build_parts
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.schema.scenario import ScenarioSection
from thrustlapse.scenario.schema.search_axes import key_values, replaced, search_spec
from thrustlapse.scenario.section import sections

MOST_GROUPS = 24
"""Maps that are made one by one; more of them are made as one batch, which holds a map for every
design but costs far less than so many short ones."""


@dataclass(frozen=True, kw_only=True)
class ScenarioDesigns:
    """Designs of a scenario: its checked tables are all that another process needs to make them."""

    section: ScenarioSection
    digest: str

    @cached_property
    def spec(self) -> SearchSpec:
        """What the table ``[search]`` asks."""
        return search_spec(self.section)

    def draw(self, candidate: str, values: Mapping[str, Array]) -> Iterator[DesignBatch]:
        """Designs of a candidate, in groups that share a map and a count.

        ``values`` are SI values by axis name, each of shape (designs,).
        """
        section, spec = self.section, self.spec
        keyed: dict[str, Array] = {}
        slow: list[str] = []
        for axis in spec.axes:
            if axis.name not in values:
                continue
            for key, taken in key_values(section, axis, axis.keys, values[axis.name]).items():
                steps = key.split(".")
                if steps[0] == "candidates" and steps[1].strip("\"'") not in (
                        candidate, section.comparison.reference):
                    continue  # an axis shared by several candidates
                keyed[key] = np.asarray(taken)
                slow += [key] if axis.slow else []
        count = next(iter(values.values())).size if values else 1
        groups = list(_alike([keyed[key] for key in slow], count))
        if len(groups) > MOST_GROUPS:
            together = [key for key in slow if key.endswith(".count")]
            batches = list(_alike([keyed[key] for key in together], count))
            whole = [_batch(section, candidate,
                            keyed={key: value[rows] for key, value in keyed.items()},
                            single=together, rows=rows) for rows in batches]
            if all(one is not None for one in whole):
                yield from (one for one in whole if one is not None)
                return
        for rows in groups:
            yield _group(section, candidate,
                         keyed={key: value[rows] for key, value in keyed.items()}, slow=slow,
                         rows=rows)


def scenario_designs(scenario: Scenario) -> ScenarioDesigns:
    """Designs of a scenario that has been read; its file must have a table ``[search]``."""
    return ScenarioDesigns(section=scenario.section, digest=scenario.digest)


def _alike(columns: list[Array], count: int) -> Iterator[IntArray]:
    """Places of designs with the same values in all columns, group by group, in order."""
    if not columns:
        yield np.arange(count)
        return
    _, first, back = np.unique(np.stack(columns, axis=1), axis=0, return_index=True,
                               return_inverse=True)
    back = back.reshape(-1)
    for group in np.argsort(first, kind="stable"):
        yield np.flatnonzero(back == group)


def _batch(section: ScenarioSection, candidate: str, keyed: Mapping[str, Array],
           single: list[str], rows: IntArray) -> DesignBatch | None:
    """All these designs built at once, maps too; None where some of them give no map."""
    values = _values(keyed, single)
    if _no_map(section, candidate, values):
        return None
    try:
        return _built(section, candidate, values, rows)
    except NotBuilt:
        return None


def _values(keyed: Mapping[str, Array], single: list[str]) -> dict[str, Any]:
    """What the keys of some designs take: single numbers, or columns."""
    values: dict[str, Any] = {key: float(keyed[key][0]) for key in single}
    return values | {key: _column(value) for key, value in keyed.items() if key not in values}


def _group(section: ScenarioSection, candidate: str, keyed: Mapping[str, Array],
           slow: list[str], rows: IntArray) -> DesignBatch:
    """One group: what is slow as single numbers, everything else as columns, built at once."""
    values = _values(keyed, slow)
    if not (slow and _no_map(section, candidate, {key: values[key] for key in slow})):
        with suppress(NotBuilt):
            return _built(section, candidate, values, rows)
    # the machine of the file in its place: nobody flies it
    return replace(_built(section, candidate, {}, rows), impossible=True)


def _built(section: ScenarioSection, candidate: str, values: Mapping[str, Any],
           rows: IntArray) -> DesignBatch:
    """Parts of some designs by the values of their keys; raises NotBuilt."""
    power = values.get("comparison.electrical_power")
    held = replaced(section, {key: value for key, value in values.items()
                              if key != "comparison.electrical_power"})
    reference = section.comparison.reference
    parts = build_parts(_only(held, dict.fromkeys(
        name for name in (candidate, reference) if name)))
    basis = parts["comparison"]
    if power is not None:
        basis = replace(basis, electrical_power=power)
    equal = basis.footing == EQUAL_POWER and basis.reference is not None
    return DesignBatch(rows=rows, candidate=parts["candidates"][candidate],
                       airframe=parts["airframe"], basis=basis,
                       pack_current_rating=parts["pack_current_rating"], wiring=parts["wiring"],
                       reference=parts["candidates"][reference] if equal else None)


def _no_map(section: ScenarioSection, candidate: str, values: Mapping[str, Any]) -> bool:
    """Whether the map or table of a candidate, or of the reference, contradicts itself or its
    rotor with these values."""
    changed = replaced(section, dict(values)).candidates
    return any((*path, *problem.path)[:1] in (("map",), ("table",))
               for name in {candidate, section.comparison.reference or candidate}
               for path, part in sections(changed[name]) for problem in part.check())


def _column(values: Array) -> Any:
    """Values as a column, or as a single number where they are all alike."""
    return float(values[0]) if np.all(values == values[0]) else values[:, None]


def _only(section: ScenarioSection, names: Mapping[str, None]) -> ScenarioSection:
    """The section with a few of its candidates."""
    return section.model_copy(update={"candidates": {name: section.candidates[name]
                                                     for name in names}})
