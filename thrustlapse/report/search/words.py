"""A search in words: what was asked, who wins where, and the best designs."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import Axis
from thrustlapse.glossary import quantity
from thrustlapse.report.number_format import amount, listed, number, short_speed
from thrustlapse.report.table import Table
from thrustlapse.study.search.bits import ALWAYS, CAUSES
from thrustlapse.study.search.summary import Found, SearchResult
from thrustlapse.study.search.winners import NOBODY, PULLS, Stretch

MOST_CELLS = 12
"""Combinations of shared axes that words and tables tell; the files have all."""

MOST_ROWS = 12
"""Designs of one front that the page tells."""


def axis_value(axis: Axis, value: float) -> str:
    """A value of an axis as people read it."""
    if not np.isfinite(value):
        return "none"
    if axis.counted:
        return f"{round(value)}"
    text = number(float(axis.display(np.asarray(value))), 3)
    unit = "times the file's" if axis.relative else axis.display_unit
    return f"{text} {unit}".strip()


def cell_places(result: SearchResult) -> list[int]:
    """Cells that are told, evenly picked where there are many."""
    count = next(iter(result.found.values())).best.shape[0]
    if count <= MOST_CELLS:
        return list(range(count))
    return sorted(set(np.linspace(0, count - 1, MOST_CELLS).round().astype(int).tolist()))


def cell_words(result: SearchResult, cell: int) -> str:
    """The shared axes' values in a cell; empty where there are none."""
    shared = result.spec.shared
    if not shared:
        return ""
    places = np.unravel_index(cell, result.spec.cells)
    return ", ".join(f"{axis.name} {axis_value(axis, float(axis.values[place]))}"
                     for axis, place in zip(shared, places, strict=True))


def ends_and_middle(count: int) -> list[int]:
    """The first, the middle and the last of a number of cells."""
    return sorted({0, count // 2, count - 1})


def answer_words(name: str) -> str:
    """An answer as people read it."""
    return quantity(name).words


NO_DESIGN = "No design counts: every one breaks a limit or has no value."


def headline(result: SearchResult) -> str:
    """The search's answer in one sentence."""
    won = result.winners
    best = answer_words(result.spec.best)
    if not any(one.left for one in result.found.values()):
        return NO_DESIGN
    if won is None or not won.stretches:
        name, one = max(result.found.items(), key=lambda item: _peak(item[1], result))
        if not np.isfinite(_peak(one, result)):
            return NO_DESIGN
        return f"Best {best}: {amount(result.spec.best, _extreme(one, result))}, by {name}."
    pulled = won.winner[won.winner != NOBODY]
    if not pulled.size:
        return "No kind of machine makes thrust anywhere in this search."
    counts = {kind: int(np.sum(pulled == place)) for place, kind in enumerate(won.kinds)}
    first, *others = sorted((kind for kind in counts if counts[kind]), key=lambda k: -counts[k])
    never = [f"the {kind}" for kind in won.kinds if not counts[kind]]
    nowhere = f"; {listed(never)} {'lead' if len(never) > 1 else 'leads'} nowhere" if never else ""
    if not others:
        return (f"Each at its own best, the {first} has the most to show in {best} wherever "
                f"anything makes thrust{nowhere}.")
    rest = [f"the {kind} at {_share(counts[kind], pulled.size)}" for kind in others]
    tied = int(np.sum(won.tie))
    close = f"; at {_share(tied, pulled.size)} the lead is too close to call" if tied else ""
    return (f"Each at its own best, the {first} leads in {best} at "
            f"{_share(counts[first], pulled.size)} of the {pulled.size} grid points where "
            f"anything makes thrust, {listed(rest)}{nowhere}{close}.")


def _share(count: int, of: int) -> str:
    return f"{number(100.0 * count / of, 2)} %"


def _peak(one: Found, result: SearchResult) -> float:
    sign = 1.0 if ANSWERS[result.spec.best].more_is_better else -1.0
    known = sign * one.best[np.isfinite(one.best)]
    return float(known.max()) if known.size else -np.inf


def _extreme(one: Found, result: SearchResult) -> float:
    return _peak(one, result) * (1.0 if ANSWERS[result.spec.best].more_is_better else -1.0)


def sentences(result: SearchResult) -> list[str]:
    """Who leads where, cell by cell, and how sure that is."""
    lines = []
    won = result.winners
    if won is not None and won.stretches:
        for cell in cell_places(result):
            where = cell_words(result, cell)
            told = "; ".join(_stretch_words(stretch) for stretch in won.stretches[cell])
            share = float(np.mean(won.tie[cell]))
            close = (f" Too close to call at {100 * share:.0f} % of these airspeeds." if share
                     else "")
            lines.append(f"{where[:1].upper()}{where[1:]}: {told}.{close}" if where
                         else f"{told[:1].upper()}{told[1:]}.{close}")
    for name, one in result.found.items():
        lines.append(f"{name}: {one.designs:,} design{'s' if one.designs != 1 else ''}, "
                     f"{one.counted:,} operating points, of which {one.left:,} count."
                     + _causes(one, result))
        lines += _doubts(one, result)
    return lines


def _doubts(one: Found, result: SearchResult) -> list[str]:
    """Where best designs draw less than the power all are held to, or end an axis.

    An end counts only where something pulls, and never that of one unit: nobody carries fewer.
    """
    known, said = np.isfinite(one.best), []
    if short := int(np.count_nonzero(one.short & known)):
        said.append(f"{one.name}: {short} of its {int(known.sum())} best designs draw less than "
                    "the power all are held to; candidates are compared there at unequal watts")
    if result.spec.best in PULLS:
        known &= np.nan_to_num(one.best) > 0.0
    for axis in result.spec.axes:
        if axis.owner != one.name and not (axis.sampled and axis.owner is None):
            continue
        for end, word in ((axis.values[0], "lowest"), (axis.values[-1], "highest")):
            count = int(np.count_nonzero(known & np.isclose(one.settings[axis.name], end,
                                                            rtol=1e-9)))
            if count and axis.values.size > 1 and not (axis.counted and end == 1.0):
                said.append(f"{one.name}: {count} of its {int(known.sum())} best designs lie at "
                            f"the {word} {axis.name}, {axis_value(axis, float(end))}: a wider "
                            "range may hold better ones")
    return said


def _stretch_words(stretch: Stretch) -> str:
    span = f"from {short_speed(stretch.start)} to {short_speed(stretch.stop)}"
    if stretch.kind is None:
        return f"no design that counts makes thrust {span}"
    return f"{stretch.kind} leads {span}"


def _causes(one: Found, result: SearchResult) -> str:
    masked = {*ALWAYS, *result.spec.leave_out}
    told = [f"{name} {count:,}" for name, count in sorted(
        one.causes.items(), key=lambda item: -item[1]) if name in masked]
    return f" Left out (several may hold at once): {listed(told)}." if told else ""


def conditions(result: SearchResult) -> list[str]:
    """What was searched, under which conditions, a line each."""
    spec = result.spec
    x = spec.airspeed
    lines = [f"Footing: {result.footing}.",
             f"Airspeeds: {x.size} from {short_speed(float(x[0]))} to {short_speed(float(x[-1]))}.",
             f"A design is the best by its {answer_words(spec.best)}."]
    if spec.installed_mass is not None:
        lines.append(f"Every design is flown at an installed mass of "
                     f"{amount('installed_mass', spec.installed_mass)}: lighter ones are topped "
                     "up, heavier ones left out.")
    if spec.samples:
        lines.append(f"{spec.samples:,} designs drawn along the sampled axes (scrambled Sobol "
                     f"sequence, seed {spec.seed}).")
    if spec.leave_out:
        lines.append(f"Left out: designs with {listed(list(spec.leave_out))}.")
    lines += [f"Bound: {answer_words(bound.answer)}"
              + (f", at least {amount(bound.answer, bound.at_least)}"
                 if np.isfinite(bound.at_least) else "")
              + (f", at most {amount(bound.answer, bound.at_most)}"
                 if np.isfinite(bound.at_most) else "") + "." for bound in spec.bounds]
    return lines


def all_tables(result: SearchResult) -> dict[str, Table]:
    """Every table of a search that has something to show."""
    made = [axes_table(result), *(best_table(result, name) for name in result.found),
            *(front_table(result, name) for name in result.found), causes_table(result)]
    return {table.name: table for table in made if table.rows}


def axes_table(result: SearchResult) -> Table:
    """What varies."""
    rows = []
    for axis in result.spec.axes:
        values = axis.values
        span = (", ".join(axis_value(axis, float(v)) for v in values) if values.size <= 4
                and not axis.sampled else f"{axis_value(axis, float(values[0]))} to "
                f"{axis_value(axis, float(values[-1]))}")
        rows.append((axis.name, axis.owner or "all alike", span,
                     "drawn" if axis.sampled else str(values.size),
                     ", ".join([*axis.keys, *(f"{key} follows (power {power:g})"
                                              for key, power in axis.follow)])))
    return Table(name="axes", caption="What varies.",
                 heads=("quantity", "of", "values", "how many", "keys"), rows=tuple(rows))


def _told_columns(result: SearchResult) -> list[int]:
    count = next(iter(result.found.values())).best.shape[1]
    return sorted(set(np.linspace(0, count - 1, min(count, 6)).round().astype(int).tolist()))


def best_table(result: SearchResult, name: str) -> Table:
    """The best designs of a candidate at a few airspeeds, in every told cell."""
    one, spec = result.found[name], result.spec
    own = [axis for axis in spec.axes if axis.owner == name or (axis.sampled and not axis.owner)]
    by_speed, won = ANSWERS[spec.best].at_airspeed, result.winners
    others = [name for name in one.answers if by_speed or not ANSWERS[name].at_airspeed]
    columns: dict[str, Callable[[tuple[int, int]], str]] = {answer_words(spec.best): lambda at: (
        f"{amount(spec.best, float(one.best[at]))} "
        f"± {_two_digits(spec.best, float(one.deviation[at]))}")}
    if won is not None:
        chance = won.chance[won.kinds.index(one.kind)]
        columns[f"chance that the {one.kind} is best"] = lambda at: _percent(float(chance[at]))
    rows = []
    for cell in ends_and_middle(one.best.shape[0]):
        for column in _told_columns(result):
            there, value = (cell, column), one.best[cell, column]
            if not np.isfinite(value) or (spec.best in PULLS and value <= 0.0):
                continue  # the files have these too
            where = cell_words(result, cell)
            at = short_speed(float(spec.airspeed[column])) if by_speed else ""
            rows.append((", ".join(part for part in (where, at) if part) or name,
                         *(cell_of(there) for cell_of in columns.values()),
                         *(axis_value(axis, float(one.settings[axis.name][there]))
                           for axis in own),
                         *(amount(other, float(one.answers[other][there])) for other in others)))
    return Table(name=f"best-{name}", caption=f"{name}: the best design at some airspeeds, with "
                 "one standard deviation from all that is not known of it; best.csv has all."
                 if by_speed else f"{name}: the best design.",
                 heads=("where", *columns, *(axis.name for axis in own),
                        *map(answer_words, others)), rows=tuple(rows))


def _two_digits(name: str, deviation: float) -> str:
    return number(_shown(name, deviation), 2) if np.isfinite(deviation) else "an unknown amount"


def _percent(chance: float) -> str:
    return f"{100.0 * chance:.0f} %" if np.isfinite(chance) else "not known"


def _shown(name: str, difference: float) -> float:
    return difference * quantity(name).factor


def front_table(result: SearchResult, name: str) -> Table:
    """The front of a candidate, thinned to what a page can hold."""
    one, spec = result.found[name], result.spec
    rows: list[tuple[str, ...]] = []
    axes = [axis for axis in spec.axes if one.front and axis.name in one.front.settings]
    if one.front is not None and one.front.row.size:
        count = one.front.row.size
        picks = sorted(set(np.linspace(0, count - 1, min(count, MOST_ROWS)).round()
                           .astype(int).tolist()))
        rows = [(*(amount(answer, float(one.front.answers[answer][place]))
                   for answer in spec.front),
                 *(axis_value(axis, float(one.front.settings[axis.name][place])) for axis in axes))
                for place in picks]
    return Table(name=f"front-{name}", caption=f"{name}: designs that no other of it beats in all "
                 "of these at once.", heads=(*(answer_words(answer) for answer in spec.front),
                                             *(axis.name for axis in axes)), rows=tuple(rows))


def causes_table(result: SearchResult) -> Table:
    """How often each cause held, and which of them leave a design out."""
    masked = {*ALWAYS, *result.spec.leave_out}
    names = [cause for cause in CAUSES if any(one.causes.get(cause) for one in
                                              result.found.values())]
    rows = tuple((cause, "left out" if cause in masked else "kept",
                  *(f"{one.causes.get(cause, 0):,}" for one in result.found.values()),
                  CAUSES[cause]) for cause in names)
    return Table(name="causes", caption="Operating points by what was noted there; several may "
                 "hold at once.", heads=("cause", "", *result.found, "meaning"), rows=rows)


def terminal_lines(result: SearchResult) -> list[str]:
    """What the command prints: who wins, the best designs, the front."""
    lines = [headline(result), ""]
    lines += [f"  - {line}" for line in sentences(result)]
    for name, one in result.found.items():
        place = _best_place(one, result)
        if place is None:
            lines.append(f"\n{name}: no design counts.")
            continue
        at = (f" at {short_speed(float(result.spec.airspeed[place[1]]))}"
              if ANSWERS[result.spec.best].at_airspeed else "")
        where = cell_words(result, place[0])
        told = [f"{axis.name} {axis_value(axis, float(one.settings[axis.name][place]))}"
                for axis in result.spec.axes if axis.name in one.settings
                and axis not in result.spec.shared]
        lines.append(f"\n{name}, best {answer_words(result.spec.best)}"
                     f"{at}{', ' + where if where else ''}: "
                     f"{amount(result.spec.best, float(one.best[place]))}"
                     + (f" with {listed(told)}" if told else ""))
        table = front_table(result, name)
        if table.rows:
            lines.append(f"  front ({' against '.join(table.heads[:len(result.spec.front)])}):")
            for row in table.rows:
                cells = [f"{head} {cell}" for head, cell in zip(table.heads, row, strict=True)]
                lines.append(f"    {'; '.join(cells)}")
    return lines


def _best_place(one: Found, result: SearchResult) -> tuple[int, int] | None:
    sign = 1.0 if ANSWERS[result.spec.best].more_is_better else -1.0
    table = np.where(np.isfinite(one.best), sign * one.best, -np.inf)
    if not np.isfinite(table).any():
        return None
    cell, column = np.unravel_index(int(np.argmax(table)), table.shape)
    return int(cell), int(column)
