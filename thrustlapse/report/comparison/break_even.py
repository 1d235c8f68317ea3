"""What the weaker would need to tie with the stronger, in sentences and as a table.

At one airspeed: that of the sentence to remember. On an airframe the tie is in installed thrust
less induced drag, without one in installed thrust.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.report.comparison.remembered import counted, moment
from thrustlapse.report.number_format import (
    amount,
    area,
    diameter,
    listed,
    newtons,
    number,
    short_speed,
)
from thrustlapse.report.table import Table
from thrustlapse.study.comparison import (
    AS_BUILT,
    BEST_EXIT,
    INSTALLED,
    ON_AIRFRAME,
    BreakEven,
    Comparison,
)

MOST_PANELS = 4
"""Candidates whose need is drawn and described; the results have all."""

MOST_TOLD = 3
"""Candidates whose need is told in a sentence; the table and the results have all."""

WORTH = 0.02
"""Gain of thrust by the best exit, as a share, from which it is told (judgement)."""


def ties(comparison: Comparison) -> tuple[BreakEven, ...]:
    """The break-evens that the page shows: on the airframe where one is given."""
    kind = INSTALLED if comparison.drag_area is None else ON_AIRFRAME
    return tuple(one for one in comparison.break_even if one.kind == kind
                 and {one.candidate, one.rival} <= {*comparison.candidates})


def against_leader(comparison: Comparison, place: int) -> tuple[BreakEven, ...]:
    """What everyone else would need, as built, to tie with the strongest at a place."""
    there = {name: float(result.curve.installed_thrust[place])
             for name, result in comparison.candidates.items() if counted(comparison, name)[place]}
    leader = max(there, key=lambda name: there[name], default="")
    return tuple(one for one in ties(comparison) if one.rival == leader and one.exit == AS_BUILT
                 and np.isfinite(one.needed_chain_efficiency_jet_held[place]))


def break_even_sentences(comparison: Comparison) -> list[str]:
    """What it would take, where nobody could do it, and what the nozzle alone would buy."""
    about = moment(comparison)
    if about is None or about.place is None or not comparison.break_even:
        return []
    told = against_leader(comparison, about.place)[:MOST_TOLD]
    return [*_needs(comparison, told, about.place),
            *(text for one in told for text in _nobody(comparison, one)),
            *_nozzle(comparison, about.place)]


def _needs(comparison: Comparison, told: tuple[BreakEven, ...], place: int) -> list[str]:
    if not told:
        return []
    needs = [f"{one.candidate} would need a chain efficiency of "
             f"{_share(one.needed_chain_efficiency_jet_held, place)} at its jet speed or "
             f"{_share(one.needed_chain_efficiency_exit_held, place)} at its exit, and has "
             f"{_share(one.own_chain_efficiency, place)}" for one in told]
    return [f"To tie with {told[0].rival} at {short_speed(float(comparison.airspeed[place]))}, "
            + "; ".join(needs)]


def _nobody(comparison: Comparison, one: BreakEven) -> list[str]:
    """Where the jet alone would carry away more than the power, whoever builds the machine."""
    x, needed = comparison.airspeed, one.needed_chain_efficiency_jet_held
    first = float(x[np.isfinite(needed)][0])
    parts = [f"at {short_speed(start)}" if start == stop else
             f"up to {short_speed(stop)}" if start == first else
             f"from {short_speed(start)} to {short_speed(stop)}"
             for start, stop in stretches(x, needed > 1.0)]
    if not parts:
        return []
    return [f"With the jet speed and the external drag of {one.candidate} no machine can tie with "
            f"{one.rival} {listed(parts)} at the power it draws, whoever builds it: jet and thrust "
            "would take more than all of it"]


def _share(values: Array, place: int) -> str:
    return f"{number(100.0 * float(values[place]))} %"


def stretches(x: Array, holds: BoolArray) -> list[tuple[float, float]]:
    """First and last airspeed of every stretch over which something holds [m/s]."""
    found = []
    edges = np.flatnonzero(np.diff(np.concatenate([[False], holds, [False]]).astype(int)))
    for start, stop in edges.reshape(-1, 2).tolist():
        found.append((float(x[start]), float(x[stop - 1])))
    return found


def _nozzle(comparison: Comparison, place: int) -> list[str]:
    gains = []
    for name, best in comparison.best_nozzles.items():
        if name not in comparison.candidates:
            continue
        built = float(comparison.candidates[name].curve.installed_thrust[place])
        thrust = float(best.best_thrust[place])
        if thrust > max(built, 0.0) + WORTH * abs(built):
            nozzle = comparison.candidates[name].nozzle
            assert nozzle is not None
            gains.append(f"{name} {newtons(thrust)} with {diameter(best.best_diameter[place])}, in "
                         f"place of {newtons(built)} with {diameter(nozzle.fixed_diameter)}")
    at = short_speed(float(comparison.airspeed[place]))
    return [f"The best nozzle exit alone would give, at {at}, {'; '.join(gains)}"] if gains else []


def break_even_table(comparison: Comparison) -> Table:
    """Every pair, the weaker against the stronger, at one airspeed: has, and would need."""
    about = moment(comparison)
    place = None if about is None else about.place
    rows = [] if place is None else [
        _row(comparison, one, place) for one in ties(comparison)
        if one.needed_chain_efficiency_jet_held[place] > one.own_chain_efficiency[place]]
    where = "" if place is None else f" at {short_speed(float(comparison.airspeed[place]))}"
    kind = ("installed thrust" if comparison.drag_area is None
            else "installed thrust less induced drag")
    heads = ["candidate", "ties with", "chain efficiency", "needed, jet speed held",
             "needed, exit held", "jet speed, needed", "power, needed", "own drag area, at most"]
    if comparison.drag_area is not None:
        heads.append("installed mass, at most")
    return Table(
        name="break_even", heads=tuple(heads), rows=tuple(rows),
        caption=f"What the weaker of each pair has, and what alone would let it tie in {kind}"
                f"{where}. Chain efficiency: thrust times the mean of jet speed and airspeed, over "
                "the power at the pack; above 100 % nobody can build it. Each other change at "
                "its own chain efficiency; an arrow leads from what it has.")


def _row(comparison: Comparison, one: BreakEven, place: int) -> tuple[str, ...]:
    result, best = comparison.candidates[one.candidate], one.exit == BEST_EXIT
    name = f"{one.candidate}, best exit" if best else one.candidate
    drawn = (comparison.best_nozzles[one.candidate].electrical_power if best
             else result.curve.electrical_power)
    jet, area_now = float(one.needed_jet_speed[place]), float(one.allowed_drag_area[place])
    has_jet = "" if best else f"{number(float(result.curve.jet_speed[place]))} → "
    row = [name, one.rival, *(_share(values, place) for values in (
        one.own_chain_efficiency, one.needed_chain_efficiency_jet_held,
        one.needed_chain_efficiency_exit_held)),
        f"{has_jet}{short_speed(jet)}" if np.isfinite(jet) else "none would do",
        f"{number(float(drawn[place]))} → {number(float(one.needed_power[place]))} W",
        area(area_now) if area_now > 0.0 else "none would do"]
    if one.allowed_mass is not None:
        mass = float(one.allowed_mass[place])
        row.append(amount("installed_mass", mass) if np.isfinite(mass) else "none would do")
    return tuple(row)
