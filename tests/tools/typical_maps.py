"""How far the typical maps of machines known by readings are off: left-out errors, by machine.

    python -m tests.tools.typical_maps [--keep]

No machine here informs the typical maps of ``thrustlapse/rotor/typical.py`` but by the spreads of
the register that this table justifies. Of each line a reading is taken where people take one: at
the lowest, middle and highest of the flows whose thrust at rest, ``phi psi^(1/2) / Pi^(2/3)`` at
one power, is at least :data:`NEAR_BEST` of the greatest (at one speed where no power was read) that
an exit no wider than :data:`WIDEST` gives (half of the greatest head where the wheel is unknown).
Head and power at :data:`TIMES` that flow, over those at it, are then held against the 95 % of the
draws of a machine that is known by thrust, watts and exit alone. A row is a machine and a multiple:
the median error of the nominal map, in per cent of the value at the reading, and the share held.

Measured lines are published ones of ``tests/authorities``; computed ones are drawn from a seed of
their own, with proportions as in ``tests.tools.benchmarks.readings_population``, and are the
package's own models. ``--keep`` writes the table beside this file.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

from tests.authority import rows
from tests.rotor.measured_stages import MACHINES
from tests.rotor.small_machine import compared, fitted
from tests.tools.benchmarks.readings_population import candidate_text
from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.sampling import drawables, shares, with_draws

KEPT = Path(__file__).with_name("typical_maps.csv")
COLUMNS = ("kind", "machine", "origin", "quantity", "times_the_flow", "readings",
           "median_error_percent", "rms_error_percent", "band_percent", "held_percent")

TIMES = (0.0, 0.5, 0.75, 1.25, 1.5, 2.0)
"""Flows over that of the reading at which a map is judged [-]."""

NEAR_BEST = 0.85
"""Thrust over the greatest of all exits from which on an exit is one that somebody flies [-]."""

WIDEST = {"blower": 0.8, "axial fan": 1.0}
"""Exit over rotor diameter that a machine has room for [-] (judgement)."""

LOSSES = 0.4
"""Losses from rotor to jet on the jet's dynamic pressure [-], between those of typical kinds."""

SEED, COMPUTED, DRAWS = 20261201, 40, 1024

READINGS = {"blower": ("2.1 N", "24 mm"), "axial fan": ("4.5 N", "50 mm")}
"""Thrust and exit of a reading of 250 W; the form of the draws hardly depends on it."""


@dataclass(frozen=True, kw_only=True)
class Line:
    """A line of a machine by rising flow; ``power`` may be unknown, and unless ``scaled`` flow,
    head and power are in any unit, not coefficients on tip speed and diameter."""

    kind: str
    machine: str
    flow: Array
    head: Array
    power: Array | None
    origin: str = "measured"
    scaled: bool = True

    def at(self, flow: Array) -> tuple[Array, Array]:
        """Head and power; NaN beyond what was read."""
        if self.power is None:
            return _curve(self.flow, self.head)(flow), np.full(np.shape(flow), np.nan)
        return _curve(self.flow, self.head)(flow), _curve(self.flow, self.power)(flow)

    def flown(self) -> Array:
        """Three flows at which a reading would be taken."""
        flow = np.linspace(self.flow[0], self.flow[-1], 401)[1:]
        head, power = self.at(flow)
        with np.errstate(invalid="ignore"):
            thrust = flow * np.sqrt(head) / (1.0 if self.power is None else power ** (2.0 / 3.0))
            exit_ratio = np.sqrt(4.0 * flow / (np.pi * np.sqrt(2.0 * head / (1.0 + LOSSES))))
        room = exit_ratio <= WIDEST[self.kind] if self.scaled else head >= 0.5 * np.nanmax(head)
        thrust = np.where(room, thrust, np.nan)
        near = flow[np.nan_to_num(thrust) >= NEAR_BEST * np.nanmax(thrust)]
        return np.array([near[0], np.median(near), near[-1]])


def _curve(flow: Array, values: Array) -> Callable[[Array], Array]:
    order = np.unique(flow, return_index=True)[1]
    made: Callable[[Array], Array] = PchipInterpolator(flow[order], values[order],
                                                       extrapolate=False)
    return made


def _column(table: list[dict[str, float]], name: str) -> Array:
    return np.array([float(row[name]) for row in table])


def measured() -> Iterator[Line]:
    """Published lines."""
    table = rows("fan_36in_600rpm")
    tip, diameter, density = 600.0 * np.pi / 30.0 * 0.4572, 0.9144, 0.075 * 16.0185
    yield Line(kind="blower", machine="36 inch fan",
               flow=_column(table, "flow_m3_s") / (tip * diameter**2),
               head=_column(table, "pressure_Pa") / (density * tip**2),
               power=_column(table, "shaft_power_W") / (density * tip**3 * diameter**2))
    table = rows("fan_duct_match")
    yield Line(kind="blower", machine="duct fan", flow=_column(table, "flow_cfm"),
               head=_column(table, "fan_head_in_water"), power=None, scaled=False)
    for speed in (21818, 24000):
        table = [row for row in rows("centrifugal_blower_7040") if row["speed_rpm"] == speed]
        yield Line(kind="blower", machine="70 mm blower", flow=_column(table, "flow_L_min"),
                   head=_column(table, "outlet_static_kPa"), power=None, scaled=False)
    lines = [("56 mm compressor", one.line) for one in compared(fitted())]
    for name in ("O", "432 mm"):
        lines += [(f"stage {name}", one) for one in MACHINES[name]()]
    for name, one in lines:
        yield Line(kind="blower", machine=name, flow=one.flow, head=one.work * one.efficiency,
                   power=one.work * one.flow)


def computed() -> Iterator[Line]:
    """Lines from dimensions, by the package's own models, of a seed that nothing else uses."""
    random = np.random.default_rng(SEED)
    for kind, family in (("blower", "blower from dimensions"),
                         ("axial fan", "axial from dimensions")):
        found = 0
        while found < COMPUTED:
            try:
                made = read_text(candidate_text(random, family)[0]).candidates["m"]
            except ScenarioError:
                continue
            stage = made.unit.rotor.stage
            flow = np.linspace(float(stage.lowest_flow), float(stage.highest_flow), 81)
            line = Line(kind=kind, machine=family, flow=flow, head=stage.head(flow),
                        power=stage.power(flow), origin="computed")
            if np.nanmax(line.head) > 0.0:
                found += 1
                yield line


def drawn_forms(kind: str) -> tuple[Array, Array]:
    """Head and power over those at the reading, (1 + draws, times, 2); the nominal's first."""
    thrust, bore = READINGS[kind]
    scenario = read_text(f"""title = "x"
[candidates.m]
kind = "{kind}"
[candidates.m.readings]
thrust = "{thrust}"
electrical_power = "250 W"
exit_diameter = "{bore}"
""")
    inputs = drawables(scenario)
    many = with_draws(scenario, inputs, shares(DRAWS, len(inputs), seed=1))
    both = []
    for one in (scenario, many):
        candidate = one.candidates["m"]
        point = operate(candidate, airspeed=np.array([0.0]))
        flow = np.where(point.valid, point.flow_coefficient, np.nan).reshape(-1, 1)
        stage = candidate.unit.rotor.stage
        both.append(np.stack([side(flow * np.array(TIMES)) / side(flow)
                              for side in (stage.head, stage.power)], axis=-1))
    return both[0][0], both[1]


def table(lines: Iterable[Line]) -> list[dict[str, str]]:
    """Rows of :data:`COLUMNS`."""
    forms = {kind: drawn_forms(kind) for kind in READINGS}
    gathered: dict[tuple[str, str, str], list[Array]] = {}
    for line in lines:
        for flow in line.flown():
            here = np.array(line.at(np.asarray(flow)))
            ratio = np.stack(line.at(flow * np.array(TIMES)), axis=-1) / here
            gathered.setdefault((line.kind, line.machine, line.origin), []).append(ratio)
    made = []
    for (kind, machine, origin), ratios in gathered.items():
        nominal, draws = forms[kind]
        low, high = np.nanquantile(draws, [0.025, 0.975], axis=0)
        every = np.array(ratios)
        for side, quantity in enumerate(("head", "power")):
            for place, times in enumerate(TIMES):
                known = every[:, place, side][np.isfinite(every[:, place, side])]
                if known.size == 0:
                    continue
                off = 100.0 * (nominal[place, side] - known)
                held = (low[place, side] <= known) & (known <= high[place, side])
                made.append(dict(zip(COLUMNS, (
                    kind, machine, origin, quantity, f"{times:g}", str(known.size),
                    f"{np.median(off):.1f}", f"{np.sqrt(np.mean(off**2)):.1f}",
                    f"{100.0 * (high - low)[place, side]:.0f}", f"{100.0 * held.mean():.0f}"),
                    strict=True)))
    return made


def main() -> None:
    """Print the table; ``--keep`` writes it too."""
    made = table((*measured(), *computed()))
    out = KEPT.open("w", newline="", encoding="utf-8") if "--keep" in sys.argv else None
    for stream in filter(None, (sys.stdout, out)):
        writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
        writer.writeheader()
        writer.writerows(made)
    if out is not None:
        out.close()


if __name__ == "__main__":
    main()
