"""The tables of a comparison, as plain text cells: the page and the terminal draw them."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.glossary import quantity, shown
from thrustlapse.propulsor.basis import measure_unit
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.report.aircraft.tables import aircraft_tables
from thrustlapse.report.comparison.break_even import break_even_table
from thrustlapse.report.comparison.power_breakdown import USES, breakdowns
from thrustlapse.report.comparison.ranking import Top, airframe_crossings, in_words, pulls, tops
from thrustlapse.report.comparison.verdict import compared
from thrustlapse.report.flight.tables import flight_tables
from thrustlapse.report.flight.verdict import ITEMS
from thrustlapse.report.number_format import (
    GRAM_FORCE,
    amount,
    area,
    diameter,
    force,
    newtons,
    number,
    percent,
    short_speed,
    speed,
)
from thrustlapse.report.table import NONE, Table
from thrustlapse.report.uncertainty.tables import sure_tables
from thrustlapse.study.comparison import ON_AIRFRAME, CandidateResult, Comparison, Crossover


def all_tables(comparison: Comparison) -> dict[str, Table]:
    """Every table that has something to show, by name."""
    made = (at_a_glance(comparison), side_by_side(comparison), crossovers(comparison),
            other_footings(comparison), flip_items(comparison), break_even_table(comparison),
            nozzles(comparison),
            where_watts_go(comparison), axial_forces(comparison), *aircraft_tables(comparison),
            *flight_tables(comparison), *sure_tables(comparison))
    return {table.name: table for table in made if table.rows}


def at_a_glance(comparison: Comparison) -> Table:
    """A row a candidate: what it makes at rest, takes and weighs, and how fast it flies level."""
    flying = {top.name: top for top in tops(comparison)}
    flies = comparison.drag_area is not None
    rows = tuple((name, force(one.at_rest.installed_thrust.item()),
                  amount("electrical_power", one.at_rest.electrical_power.item()),
                  amount("installed_mass", one.installed_mass),
                  *((_top(flying.get(name)),) if flies else ()))
                 for name, one in comparison.candidates.items())
    return Table(name="glance", rows=rows, caption="At a glance, all units of each candidate.",
                 heads=("", "thrust at rest", "power", "mass",
                        *(("level top speed",) if flies else ())))


def side_by_side(comparison: Comparison) -> Table:
    """The candidates beside each other: at rest, at top speed, and what they weigh."""
    results = list(comparison.candidates.values())
    flying = {top.name: top for top in tops(comparison)}
    lines: list[tuple[str, Callable[[CandidateResult], str]]] = [
        ("kind", lambda one: one.kind),
        ("units", lambda one: str(one.count)),
        ("installed mass", lambda one: amount("installed_mass", one.installed_mass)),
        ("at rest: installed thrust", lambda one: force(one.at_rest.installed_thrust.item())),
        ("thrust per installed mass", lambda one: _per(
            one.at_rest.installed_thrust.item(), one.installed_mass, "N/kg")),
        ("thrust per electrical power", lambda one: _per(
            one.at_rest.installed_thrust.item() / GRAM_FORCE,
            one.at_rest.electrical_power.item(), "gf/W")),
        *[(_said(name), _read(name, lambda one: one.at_rest)) for name in shown("rest")],
        ("limited by", lambda one: _held(one.at_rest)),
        ("short of its ideal thrust by", lambda one: _short_of_ideal(one.at_rest)),
    ]
    if comparison.drag_area is not None:
        lines += [
            ("stall speed", lambda one: NONE if one.level is None
             else short_speed(one.level.stall_speed)),
            ("level top speed", lambda one: _top(flying.get(one.name))),
            ("at top speed: installed thrust", lambda one: NONE if one.at_top is None
             else force(one.at_top.installed_thrust.item())),
            *[(_said(name), _read(name, lambda one: one.at_top)) for name in shown("top")],
            ("limited by", lambda one: NONE if one.at_top is None else _held(one.at_top)),
        ]
    rows = tuple((head, *(tell(one) for one in results)) for head, tell in lines)
    return Table(name="side", caption="The candidates side by side; thrust, power and current of "
                 "all units, speeds and flow of one unit.",
                 heads=("", *(one.name for one in results)),
                 rows=tuple(row for row in rows if any(cell not in (NONE, "no value")
                                                       for cell in row[1:])))


def _said(name: str) -> str:
    symbol = quantity(name).symbol
    return f"{quantity(name).words} {symbol}" if symbol == "NPR" else quantity(name).words


def _read(name: str, where: Callable[[CandidateResult], OperatingPoint | None]
          ) -> Callable[[CandidateResult], str]:
    def tell(result: CandidateResult) -> str:
        point = where(result)
        value = float("nan") if point is None else getattr(point, name).item()
        return amount(name, value) if np.isfinite(value) else NONE

    return tell


def _per(value: float, by: float, unit: str) -> str:
    return f"{number(value / by)} {unit}" if by > 0.0 and np.isfinite(value) else NONE


def _held(point: OperatingPoint) -> str:
    word = str(point.drive_limit)
    return NONE if word == "none" else word


def _short_of_ideal(point: OperatingPoint) -> str:
    ideal, net = point.ideal_thrust.item(), point.net_thrust.item()
    return percent(1.0 - net / ideal) if ideal > 0.0 and np.isfinite(net) else NONE


def _top(top: Top | None) -> str:
    if top is None:
        return "does not fly level"
    return f"{'at least ' if top.least else ''}{speed(top.speed)}"


def crossovers(comparison: Comparison) -> Table:
    """Every crossover on the footing, and whether this airframe gets there."""
    flying = {top.name: top for top in tops(comparison)}
    own = {id(one) for one in comparison.crossovers}
    every = (*comparison.crossovers,
             *(one for one in airframe_crossings(comparison) if id(one) not in own))
    shown = [one for one in every if one.kind == ON_AIRFRAME or pulls(one)]
    with_air = comparison.drag_area is not None
    rows = []
    for one in shown:
        row = [in_words(one), one.kind if one.kind == ON_AIRFRAME else compared(comparison),
               speed(one.airspeed), _there(one, comparison.footing, force)]
        if with_air:
            row += [_threshold(one), _arrives(one, flying)]
        rows.append(tuple(row))
    heads = ["crossover", "compared", "airspeed", "thrust there"]
    if with_air:
        heads += ["drag-area threshold f*", "does it get there?"]
    caption = "Where one candidate overtakes another with thrust left."
    if comparison.drag_area is not None:
        caption += (" On this airframe: installed thrust less induced drag at each one's own mass; "
                    "the airframe's parasite drag does not enter. With a parasite drag area below "
                    f"f* it gets beyond the crossover; this one has {area(comparison.drag_area)}.")
    return Table(name="crossovers", heads=tuple(heads), rows=tuple(rows), caption=caption)


def _there(one: Crossover, footing: str, said: Callable[[float], str]) -> str:
    """Thrust at a crossover; where the footing lets the two thrusts differ, whose it is."""
    equal = one.kind == ON_AIRFRAME or measure_unit(footing) == "N"
    return said(one.net_thrust) + ("" if equal else f" ({one.between[0]})")


def _threshold(one: Crossover) -> str:
    if one.drag_area_threshold is None:
        return NONE
    if one.drag_area_threshold <= 0.0:
        return "no aircraft can, however clean"
    return area(one.drag_area_threshold)


def _arrives(one: Crossover, flying: dict[str, Top]) -> str:
    if not pulls(one):
        return "no: no thrust is left there"
    top = flying.get(one.winner_above)
    if top is None:
        return f"no: {one.winner_above} does not fly level"
    if top.speed >= one.airspeed:
        return f"yes: {one.winner_above} flies {short_speed(top.speed)}"
    if top.least:
        return f"not known: {one.winner_above} is known to {short_speed(top.speed)} only"
    return f"no: {one.winner_above} ends at {short_speed(top.speed)}"


def other_footings(comparison: Comparison) -> Table:
    """Crossovers on the other footings."""
    rows = [(footing, in_words(one), one.kind, speed(one.airspeed),
             _there(one, footing, newtons))
            for footing, crossings in comparison.other_footings.items() for one in crossings
            if one.kind == ON_AIRFRAME or pulls(one)]
    return Table(name="footings", caption="Crossovers on other bases of comparison; where the two "
                 "thrusts differ, the table says whose it gives. The footing used: "
                 f"{comparison.footing}.",
                 heads=("footing", "crossover", "compared", "airspeed", "thrust there"),
                 rows=tuple(rows))


def flip_items(comparison: Comparison) -> Table:
    """What each drag item of a slower candidate is, and what it would have to lose."""
    rows = [(f"{item.rival}: {ITEMS.get(item.item, item.item)}", area(item.drag_area),
             area(item.needed), "yes" if item.possible and item.needed > 0.0 else
             "not held back by drag" if item.needed <= 0.0 else "no")
            for item in comparison.flip_items if item.drag_area > 0.0]
    return Table(name="flip", heads=("drag item", "drag area now", "to be taken off it",
                                     "would that flip the order?"), rows=tuple(rows),
                 caption="Single drag items of the slower candidates, at the top speed of the "
                         "fastest: what would make that candidate as fast.")


def nozzles(comparison: Comparison) -> Table:
    """Best exit diameters and the cost of the fixed one."""
    rows = []
    for name, result in comparison.candidates.items():
        study = result.nozzle
        if study is None:
            continue
        for place in range(study.airspeed.size):
            best = study.best_thrust[place]
            cost = study.cost[place]
            given = (NONE if not np.isfinite(cost) else "all of it" if cost >= 1.0
                     else percent(cost))
            edge = " (the widest there is)" if study.at_edge[place] else ""
            rows.append((name, short_speed(study.airspeed[place]),
                         f"{diameter(study.best_diameter[place])}{edge}", newtons(best),
                         diameter(study.fixed_diameter), newtons(study.fixed_thrust[place]),
                         given))
    return Table(name="nozzle", rows=tuple(rows),
                 caption="Nozzle exit of most installed thrust, all units, and what the exit as "
                         "built loses.",
                 heads=("candidate", "airspeed", "best exit", "its thrust", "as built",
                        "its thrust", "lost"))


def where_watts_go(comparison: Comparison) -> Table:
    """Uses of the pack's power, in watts, in columns per candidate and state."""
    columns = [(name, one) for name in comparison.candidates
               for one in breakdowns(comparison, name)]
    rows = [(use.name, *(f"{one.parts[place]:.1f} W" for _, one in columns))
            for place, use in enumerate(USES)]
    rows.append(("electrical power, the sum", *(f"{one.power:.1f} W" for _, one in columns)))
    rows.append(("heat in the pack, on top", *(f"{one.pack_heat:.1f} W" for _, one in columns)))
    return Table(name="watts", rows=tuple(rows) if columns else (),
                 heads=("use", *(f"{name}, {one.when}" for name, one in columns)),
                 caption="Where the watts go, all units.")


def axial_forces(comparison: Comparison) -> Table:
    """Where the static thrust of one ducted unit acts."""
    rows = []
    for name, result in comparison.candidates.items():
        if result.nozzle is not None and np.isfinite(result.at_rest.net_thrust.item()):
            ledger = result.at_rest.ledger
            rows.append((name, *(newtons(force_at.item()) for force_at in (
                ledger.lip_force, ledger.machine_force, ledger.nozzle_force,
                result.at_rest.net_thrust))))
    return Table(name="forces", rows=tuple(rows),
                 heads=("candidate", "inlet lip", "throat to nozzle entry", "nozzle", "net thrust"),
                 caption="Where the static thrust of one unit acts, forward positive. A flared "
                         "inlet moves force to the lip; it adds only the loss that it saves.")
