"""Sentences on flight: top speeds, crossovers on the airframe, thresholds, what would flip them."""

from __future__ import annotations

import numpy as np

from thrustlapse.report.comparison.ranking import Top, airframe_crossings, grounded, pulls, tops
from thrustlapse.report.number_format import area, force, listed, number, short_speed, speed, times
from thrustlapse.study.comparison import Comparison, Crossover, FlipItem

ITEMS = {
    "pod": "pod and duct drag", "base": "base drag", "additive": "the drag of air it spills",
    "scrubbing": "scrubbing drag", "induced": "induced drag (by weighing less)",
}
"""Drag items in words."""

MOST_OTHERS = 4
"""Crossovers beside the decisive ones that are told; the table has all."""


def top_speed_sentences(comparison: Comparison) -> list[str]:
    """How fast each flies level, and who does not."""
    if comparison.drag_area is None:
        return ["No airframe is given, so no top speed is claimed"]
    flying, said = tops(comparison), []
    if flying:
        parts = [f"{top.name} at {'least ' if top.least else ''}{speed(top.speed)}"
                 for top in flying]
        said.append(f"Level top speed on this airframe: {listed(parts)}")
    said += [f"{top.name} still gains speed where its data ends, at {short_speed(top.speed)}: its "
             "top speed lies higher and is not known" for top in flying if top.least]
    for result in grounded(comparison):
        assert result.level is not None
        said.append(f"Level flight is impossible with {result.name}: {result.level.reason}")
    return said


def overtaken(comparison: Comparison, best: Top) -> Crossover | None:
    """The highest crossover on the airframe that the fastest candidate has left behind it."""
    behind = [one for one in airframe_crossings(comparison)
              if one.winner_above == best.name and one.airspeed < best.speed and pulls(one)]
    return max(behind, key=lambda one: one.airspeed, default=None)


def nearest_threat(comparison: Comparison, best: Top) -> Crossover | None:
    """The nearest crossover beyond the fastest candidate's top speed that an airframe could reach.

    One at which no thrust is left over for parasite drag is out of reach of every airframe.
    """
    ahead = [one for one in airframe_crossings(comparison)
             if one.winner_below == best.name and one.airspeed >= best.speed
             and (one.drag_area_threshold or 0.0) > 0.0]
    return min(ahead, key=lambda one: one.airspeed, default=None)


def crossing_sentences(comparison: Comparison) -> list[str]:
    """Where one overtakes another on this airframe, and whether this airframe gets there."""
    if comparison.drag_area is None or len(comparison.candidates) == 1:
        return []
    crossings, flying = airframe_crossings(comparison), tops(comparison)
    if not crossings:
        return ["On this airframe no candidate overtakes another above the stall: with induced "
                "drag at each one's own mass taken off, the order of thrust stays the same"]
    reachable = [one for one in crossings if (one.drag_area_threshold or 0.0) > 0.0]
    shown = reachable[:1]
    out_of_reach = [one for one in crossings if one not in reachable]
    if flying:
        decisive = overtaken(comparison, flying[0]), nearest_threat(comparison, flying[0])
        shown = [one for one in decisive if one is not None]
        out_of_reach = [one for one in out_of_reach if one.winner_below == flying[0].name]
    said = [sentence for one in shown for sentence in _crossing(comparison, one)]
    if not shown and out_of_reach:
        one = min(out_of_reach, key=lambda crossing: crossing.airspeed)
        said.append(f"{one.winner_above} would overtake {one.winner_below} only at "
                    f"{speed(one.airspeed)}, where no thrust is left over for parasite drag: no "
                    "airframe gets there, however clean")
    behind = [one for one in reachable if one not in shown]
    if not said and not behind:
        said.append("On this airframe candidates change places only where none of them has thrust "
                    "left for parasite drag: no usable crossover")
    if behind:
        said.append("Other crossovers, with the drag area each would need: " + "; ".join(
            f"{one.winner_above} overtakes {one.winner_below} at {short_speed(one.airspeed)} "
            f"({area(one.drag_area_threshold or 0.0)})" for one in behind[:MOST_OTHERS]))
    return said


def _crossing(comparison: Comparison, one: Crossover) -> list[str]:
    threshold, own = one.drag_area_threshold, comparison.drag_area
    assert threshold is not None
    assert own is not None
    flying = {top.name: top for top in tops(comparison)}
    reached = [name for name, top in flying.items() if top.speed >= one.airspeed]
    got = (f"{listed(reached)} {'gets' if len(reached) == 1 else 'get'} beyond it" if reached
           else "none of these is known to get there" if any(top.least for top in flying.values())
           else "none of these gets there")
    said = [f"On this airframe, with induced drag at each one's own mass taken off, "
            f"{one.winner_above} overtakes {one.winner_below} at {speed(one.airspeed)}, with "
            f"{force(one.net_thrust)} left for parasite drag; {got}"]
    ratio = own / threshold
    if own > threshold:
        said.append(f"Drag-area threshold f* of that crossover: {area(threshold)}. This airframe "
                    f"has {area(own)}, {times(ratio)} as much: it would have to lose "
                    f"{area(own - threshold)} before {one.winner_above} made the faster aircraft")
    else:
        said.append(f"Drag-area threshold f* of that crossover: {area(threshold)}. This airframe "
                    f"has {area(own)}, {number(100.0 * ratio, 2)} % of it: up to "
                    f"{area(threshold - own)} more drag and {one.winner_above} still makes the "
                    "faster aircraft")
    return said


def flip_sentences(comparison: Comparison) -> list[str]:
    """Which single drag item would change who is fastest."""
    flying = tops(comparison)
    if not comparison.flip_items or not flying:
        return []
    best, said = flying[0].name, []
    rivals = dict.fromkeys(item.rival for item in comparison.flip_items)
    spare = [rival for rival in rivals if _of(comparison, rival)[0].needed <= 0.0]
    said += [f"At the top speed of {best}, {rival} would have thrust to spare; what holds it back "
             f"is this: {_reason(comparison, rival)}" for rival in spare]
    able = [item for item in comparison.flip_items if item.possible and item.needed > 0.0]
    for item in sorted(able, key=lambda one: one.needed)[:2]:
        said.append(f"One change that would flip it: {area(item.needed)} off {item.rival}'s "
                    f"{ITEMS.get(item.item, item.item)} (now {area(item.drag_area)}) makes it as "
                    f"fast as {best}")
    short = [rival for rival in rivals if rival not in spare
             and not any(item.rival == rival for item in able)]
    if short:
        nearest = min(short, key=lambda rival: _of(comparison, rival)[0].needed)
        largest = max(_of(comparison, nearest), key=lambda item: item.drag_area)
        which = "No single drag item" if not able else f"For {listed(short)}, no single drag item"
        further = ", the others by more" if len(short) > 1 else ""
        said.append(f"{which} is large enough to flip the order: at the top speed of {best}, "
                    f"{nearest} is short by {area(largest.needed)} of drag area{further}; its "
                    f"largest item, {ITEMS.get(largest.item, largest.item)}, is "
                    f"{area(largest.drag_area)}")
    return said


def _of(comparison: Comparison, rival: str) -> list[FlipItem]:
    return [item for item in comparison.flip_items if item.rival == rival]


def _reason(comparison: Comparison, name: str) -> str:
    level = comparison.candidates[name].level
    if level is None:
        return "nothing is known of its flight"
    if np.isfinite(level.top_speed):
        return f"from the launch it settles at {short_speed(level.top_speed)}; {level.reason}"
    return level.reason
