"""Sentences on the machines: nozzles, drive limits, footings, and notes on the numbers."""

from __future__ import annotations

import numpy as np

from thrustlapse.propulsor.operating_point import MEANING, Flag, OperatingPoint, select
from thrustlapse.report.comparison.ranking import changes_lead, runs, thrust_crossings
from thrustlapse.report.number_format import diameter, listed, newtons, percent, short_speed
from thrustlapse.study.comparison import INSTALLED, CandidateResult, Comparison
from thrustlapse.study.nozzle_size import NozzleStudy

NEGLIGIBLE = 0.01
"""Share of the best thrust below which a fixed nozzle counts as the best one."""

LIMITS = {
    "full voltage": "full voltage", "power": "the power cap",
    "motor current": "the motor-current cap", "supply current": "the supply-current cap",
    "speed": "the speed cap", "freewheeling": "freewheeling (the air drives it)",
    "motor rating": "the motor's rating", "regenerating": "braking (the air overspins it)",
}
"""Drive limits in words."""

INVALID_HAS_NO_NUMBER = (Flag.OUTSIDE_MAP, Flag.PACK_CANNOT_DELIVER, Flag.CANNOT_TURN,
                         Flag.NOT_CONVERGED, Flag.AIR_UNKNOWN, Flag.UNSTABLE, Flag.IMPOSSIBLE)


def nozzle_sentences(comparison: Comparison) -> list[str]:
    """Best exit diameter at rest and at the highest airspeed sized for; the fixed one's cost."""
    return [_nozzle(name, result.nozzle) for name, result in comparison.candidates.items()
            if result.nozzle is not None and np.isfinite(result.nozzle.best_diameter).any()]


def _nozzle(name: str, study: NozzleStudy) -> str:
    sized = np.flatnonzero(np.isfinite(study.best_diameter) & (study.best_thrust > 0.0))
    if sized.size == 0:
        return f"No nozzle exit gives {name} any thrust at the airspeeds sized for"
    first, last = int(sized[0]), int(sized[-1])
    places = [first] if first == last else [first, last]
    best = [f"{diameter(study.best_diameter[place])} {_at(study.airspeed[place])} "
            f"({newtons(study.best_thrust[place])})" for place in places]
    text = f"The nozzle exit that gives {name} most thrust is {listed(best)}"
    if study.at_edge[places].any():
        text += ", the widest that its duct allows: a wider duct might do more"
    costs = study.cost[places]
    if np.all(costs < NEGLIGIBLE):
        return f"{text}; its {diameter(study.fixed_diameter)} exit is within {percent(NEGLIGIBLE)}"
    given = [f"{percent(cost)} {_at(study.airspeed[place])}" if np.isfinite(cost) and cost < 1.0
             else f"all of it {_at(study.airspeed[place])}" if np.isfinite(cost)
             else f"an unknown share {_at(study.airspeed[place])}"
             for place, cost in zip(places, costs.tolist(), strict=True)]
    return f"{text}; its {diameter(study.fixed_diameter)} exit loses {listed(given)}"


def _at(airspeed: float) -> str:
    return "at rest" if airspeed == 0.0 else f"at {short_speed(airspeed)}"


def drive_sentences(comparison: Comparison) -> list[str]:
    """Which limit of the drive shapes each curve."""
    said: dict[str, list[str]] = {}
    for name, result in comparison.candidates.items():
        known = [run for run in runs(comparison.airspeed, result.curve.drive_limit.tolist())
                 if run[2] != "none"]
        if not known:
            continue
        text = LIMITS[known[0][2]]
        if len(known) == 1:
            text += " throughout"
        else:
            text += f" up to {short_speed(known[0][1])}, then " + ", then ".join(
                LIMITS[limit] + (f" up to {short_speed(stop)}" if place < len(known) - 2 else "")
                for place, (_, stop, limit) in enumerate(known[1:]))
        said.setdefault(text, []).append(name)
    if not said:
        return []
    return ["What limits the shaft speed: " + "; ".join(f"{listed(names)}: {text}"
                                                 for text, names in said.items())]


def footing_sentences(comparison: Comparison) -> list[str]:
    """Who falls short of an equal footing, and whether other footings change the order."""
    said = []
    for name, result in comparison.candidates.items():
        short = [run for run in runs(comparison.airspeed,
                                     [str(value) for value in result.short_of_reference.tolist()])
                 if run[2] == "1.0"]
        if short:
            parts = [f"from {short_speed(start)} to {short_speed(stop)}"
                     if stop > start else f"at {short_speed(start)}" for start, stop, _ in short]
            said.append(f"{name} cannot draw the reference power {listed(parts)}; there it is "
                        "not ranked, and its curve shows what it does draw")
    if len(comparison.candidates) > 1 and comparison.other_footings:
        others = [_other(comparison, footing, [one.airspeed for one in crossings
                                               if one.kind == INSTALLED and one.net_thrust > 0.0])
                  for footing, crossings in comparison.other_footings.items()]
        said.append("On another basis of comparison the lead is with: " + "; ".join(others))
    return said


def _other(comparison: Comparison, footing: str, crossings: list[float]) -> str:
    curves = comparison.footing_curves.get(footing, {})
    x = comparison.airspeed
    leaders = []
    for place in range(x.size):
        known = {name: float(values[place]) for name, values in curves.items()
                 if np.isfinite(values[place]) and values[place] > 0.0}
        leaders.append(max(known, key=lambda name: known[name]) if known else "")
    stretches = [run for run in runs(x, leaders) if run[2]]
    if not stretches:
        return f"nobody ({footing})"
    text = stretches[0][2]
    for start, _, name in stretches[1:]:
        near = min(crossings, key=lambda speed: abs(speed - start), default=start)
        step = float(np.max(np.diff(x))) if x.size > 1 else 0.0
        text += f", then {name} from {short_speed(near if abs(near - start) <= step else start)}"
    return f"{text} ({footing})"


def note_sentences(comparison: Comparison) -> list[str]:
    """Notes on the very points the verdict rests on: at rest, at top speed, at the crossovers."""
    said = []
    for name, result in comparison.candidates.items():
        notes: dict[str, list[str]] = {}
        for where, point in _decisive(comparison, name, result):
            for flag in Flag:
                if flag not in INVALID_HAS_NO_NUMBER and bool(np.any(point.flagged(flag))):
                    notes.setdefault(MEANING[flag], []).append(where)
        said += [f"Read {name} with care {listed(dict.fromkeys(where))}: {meaning}"
                 for meaning, where in notes.items()]
    return said


def _decisive(comparison: Comparison, name: str,
              result: CandidateResult) -> list[tuple[str, OperatingPoint]]:
    points = [("at rest", result.at_rest)]
    if result.at_top is not None:
        points.append(("at its top speed", result.at_top))
    for one in thrust_crossings(comparison):
        inside = comparison.airspeed[0] <= one.airspeed <= comparison.airspeed[-1]
        if name in one.between and one.net_thrust > 0.0 and inside \
                and changes_lead(comparison, one):
            place = int(np.argmin(np.abs(comparison.airspeed - one.airspeed)))
            points.append((f"at the crossover near {one.airspeed:.0f} m/s",
                           select(result.curve, place)))
    return points
