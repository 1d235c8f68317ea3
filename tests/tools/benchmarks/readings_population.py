"""Machines of other shapes than the typical one, known by their readings: do the intervals hold?

    python -m tests.tools.benchmarks.readings_population [machines] [--short] [--keep]

A population fixed beforehand: 300 truths from one seed, a third blowers from dimensions, others by
a published fan's readings carried to their size, axial fans from dimensions and by points that are
stretched. Each has a motor, losses, a lip and a law of its watts of its own, and an exit among
those of at least 85 % of the best thrust. What a scale, a wattmeter and a ruler then read of it,
with their errors, is all that is told; the 95 % intervals of net thrust at 20, 40 and 60 m/s and of
the top speed on an airframe that is known are held against the truth; ``--short`` ends there.
Beside them stand the widths with shaft speed, suction and the law of the watts known as well.
``--keep`` writes the table beside this file.
"""

from __future__ import annotations

import csv
import sys
import time
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from thrustlapse import __version__
from thrustlapse.air.atmosphere import standard_air
from thrustlapse.arrays import Array
from thrustlapse.propulsor.blocked import operate_blocked
from thrustlapse.propulsor.candidate import Candidate, operate
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.sampling import drawables, shares, with_draws

SEED, MACHINES, DRAWS = 20261129, 300, 128

KEPT = Path(__file__).with_name("readings_population.csv")
COLUMNS = ("known_by", "family", "machines", "refused", *(
    f"{what}_{where}" for what in ("held_percent", "width_percent")
    for where in ("20_m_per_s", "40_m_per_s", "60_m_per_s", "top_speed")), "seed", "version")

TRIES = 100
"""Draws of one machine, for one that can be built and runs."""

SPEEDS = (20.0, 40.0, 60.0)
GRID = np.array([0.0, 10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 75.0, 95.0, 120.0])
"""Airspeeds of the answers, and those between which top speeds are read [m/s]."""

DRAG_LOADING = (0.05, 0.35)
"""Drag area over exit area that the known airframes have, as powers of ten above 1 [-]: top speeds
then lie anywhere between a fifth of the jet's and nearly the whole of it."""

FOX = """source = "readings"
measured_diameter = "36 in"
shaft_speed = "600 rpm"
used_at = "{speed} rpm"
volume_flow = ["0 cfm", "10000 cfm", "20000 cfm", "30000 cfm", "40000 cfm", "50000 cfm", "60000 cfm"]
pressure_rise = ["3.68 inH2O", "3.75 inH2O", "3.50 inH2O", "2.96 inH2O", "2.12 inH2O", "1.02 inH2O", "0 inH2O"]
shaft_power = ["11.1 hp", "15.1 hp", "18.6 hp", "21.4 hp", "23.1 hp", "23.1 hp", "21.0 hp"]
inlet_temperature = "21 degC"
inlet_pressure = "101.325 kPa"
"""  # noqa: E501
"""Fox and McDonald, Introduction to Fluid Mechanics 5th ed., example 10.11."""


@dataclass(frozen=True, kw_only=True)
class Truth:
    """A machine, its watts [W] and volts [V] at rest, and its exit [m]."""

    family: str
    candidate: Candidate
    exit_diameter: float
    full: bool
    text: str


EXIT = 'exit_diameter = "{} mm"'


def _blower(random: np.random.Generator, tip: float, speed: float) -> str:
    width = random.uniform(0.055, 0.11) * tip
    return f"""source = "geometry"
shaft_speed = "{speed} rpm"
blades = {random.integers(6, 14)}
outlet_width = "{width} mm"
exit_angle = "{random.uniform(0, 60)} deg"
inlet_angle = "{random.uniform(52, 66)} deg"
blade_thickness = "{0.02 * tip} mm"
tip_clearance = "{random.uniform(0.004, 0.012) * tip} mm"
finish = "moulded plastic"
disc_gap = "{0.016 * tip} mm"
diffuser_diameter = "{random.uniform(1.06, 1.25) * tip} mm"
diffuser_width = "{1.12 * width} mm"
scroll_throat_area = "{random.uniform(1.2, 2.4) * width * tip} mm^2"
scroll_exit_area = "{random.uniform(2.6, 4.0) * width * tip} mm^2"
"""


def _fan(random: np.random.Generator, tip: float, speed: float) -> str:
    radius = np.linspace(0.22, 0.485, 4) * tip
    turn = np.tan(np.deg2rad(random.uniform(62, 71))) * radius / radius[-1]
    lag = random.uniform(0.55, 0.8)
    return f"""source = "geometry"
shaft_speed = "{speed} rpm"
blades = {random.integers(5, 9)}
radius = {[f"{one} mm" for one in radius]}
chord = {[f"{random.uniform(0.22, 0.3) * tip} mm"] * 4}
inlet_angle = {[f"{np.rad2deg(np.arctan(one))} deg" for one in turn]}
outlet_angle = {[f"{np.rad2deg(np.arctan(lag * one))} deg" for one in turn]}
tip_clearance = "{random.uniform(0.004, 0.012) * tip} mm"
"""


def _points(random: np.random.Generator, tip: float, speed: float) -> str:
    flow, head, cost = (random.uniform(*ends) for ends in ((0.8, 1.25), (0.75, 1.3), (0.9, 1.2)))
    shape = 1.0 + random.normal(0.0, 0.08) * np.linspace(-1.0, 1.0, 8)
    heads = np.array([0.150, 0.178, 0.180, 0.165, 0.138, 0.100, 0.052, -0.004]) * head * shape
    costs = np.array([0.0430, 0.0470, 0.0505, 0.0535, 0.0545, 0.0520, 0.0455, 0.0350])
    flows = np.array([0.10, 0.14, 0.18, 0.22, 0.26, 0.30, 0.34, 0.38]) * flow
    return f"""source = "points"
convention = "tip speed and diameter"
flow = {flows.tolist()}
head = {heads.tolist()}
power = {(costs * flow * head * cost).tolist()}
"""


def _fox(random: np.random.Generator, tip: float, speed: float) -> str:
    return FOX.format(speed=speed)


FAMILIES = {"blower from dimensions": ("blower", _blower, 100),
            "published fan": ("blower", _fox, 60), "axial from dimensions": ("axial fan", _fan, 70),
            "axial by points": ("axial fan", _points, 70)}


def candidate_text(random: np.random.Generator, family: str) -> tuple[str, bool, float, float]:
    """A file with a machine, whether full voltage holds its watts, its duct and its tip [mm]."""
    kind, make, _ = FAMILIES[family]
    tip = random.uniform(30.0, 90.0)
    eye = random.uniform(0.5, 0.68) if kind == "blower" else 1.0
    if family == "published fan":
        eye = random.uniform(0.75, 0.85)
    hub = random.uniform(0.15, 0.25) if kind == "blower" else 0.42
    blade = random.uniform(70.0, 170.0)
    speed = blade / (0.5e-3 * tip) * 30.0 / np.pi
    watts = random.uniform(0.03, 0.08) * 1.2 * blade**3 * (1e-3 * tip) ** 2 * (
        1.0 if kind == "blower" else 0.6)
    full, volts, loss = bool(random.random() < 0.5), 22.0, random.uniform(0.08, 0.18)
    amps = watts / volts
    motor = f"""model = "constants"
speed_constant = "{speed / (1.0 - loss) / volts * (1.0 if full else 1.6)} rpm/V"
resistance = "{loss * volts / amps / (1.0 if full else 2.5)} ohm"
no_load_current = "{random.uniform(0.03, 0.09) * amps} A"
"""
    cap = "" if full else f'power_limit = "{watts} W"\n'
    wide = 1.0 if kind == "axial fan" else random.uniform(0.65, 0.8)
    return f"""title = "truth"
[supply]
voltage = "{volts} V"
resistance = "0 ohm"
mass = "0 g"
[candidates.m]
kind = "{kind}"
unit_mass = "200 g"
[candidates.m.inlet]
throat_diameter = "{eye * tip} mm"
lip = {random.uniform(0.1, 0.8)}
ram_recovery = {random.uniform(0.92, 1.0)}
loss_coefficient = {random.uniform(0.03, 0.3)}
[candidates.m.rotor]
tip_diameter = "{tip} mm"
eye_diameter = "{eye * tip} mm"
hub_diameter = "{hub * tip} mm"
[candidates.m.map]
{make(random, tip, speed)}
[candidates.m.duct]
diameter = "{wide * tip} mm"
length = "{random.uniform(0.5, 3.0) * tip} mm"
loss_coefficient = {random.uniform(0.05, 0.4)}
[candidates.m.nozzle]
{EXIT.format(0.5 * tip)}
velocity_coefficient = {random.uniform(0.965, 0.992)}
[candidates.m.motor]
{motor}
[candidates.m.drive]
controller_efficiency = {random.uniform(0.92, 0.98)}
{cap}""", full, tip * wide, tip


def truth(random: np.random.Generator, family: str) -> Truth:
    """The next machine of a family that can be built and runs at rest."""
    for _ in range(TRIES):
        text, full, duct, tip = candidate_text(random, family)
        pick = random.random()
        try:
            scenario = read_text(text)
            exits = np.linspace(0.25, 0.98, 25) * 1e-3 * duct
            many = scenario.drawn({"candidates.m.nozzle.exit_diameter": exits})
        except ScenarioError:
            continue
        point = operate(many.candidates["m"], airspeed=np.array([0.0]))
        thrust = np.where(point.valid[:, 0] & (point.net_thrust[:, 0] > 0.0),
                          point.net_thrust[:, 0], 0.0)
        good = np.flatnonzero(thrust >= 0.85 * thrust.max())
        if thrust.max() <= 0.0:
            continue
        bore = float(exits[good[int(pick * good.size)]])
        candidate = scenario.drawn({"candidates.m.nozzle.exit_diameter": bore}).candidates["m"]
        flown = operate(candidate, airspeed=np.array([0.0, *SPEEDS]))
        if np.all(flown.valid[:2]):
            return Truth(family=family, candidate=candidate, exit_diameter=bore, full=full,
                         text=text.replace(EXIT.format(0.5 * tip), EXIT.format(1e3 * bore)))
    raise RuntimeError(f"no {family} in {TRIES} tries")


def population(count: int = MACHINES, *, seed: int = SEED) -> list[Truth]:
    """The truths, the same for the same count and seed."""
    random = np.random.default_rng(seed)
    return [truth(random, family) for family, (_, _, share) in FAMILIES.items()
            for _ in range(round(count * share / MACHINES))]


def known_by(one: Truth, random: np.random.Generator, *, more: bool) -> str:
    """The file of a person who has read this machine; ``more`` with every reading there is."""
    rest = operate(one.candidate, airspeed=0.0)
    thrust, watts = float(rest.net_thrust), float(rest.electrical_power)
    errors = np.exp(random.normal(0.0, [0.01, 0.015, 0.0125, 0.005, 0.02, 0.01, 0.0125]))
    lines = [f'title = "x"\n[candidates.m]\nkind = "{one.candidate.kind}"',
             "[candidates.m.readings]", f'thrust = "{thrust * errors[0]} N"',
             f'electrical_power = "{watts * errors[1]} W"',
             f'exit_diameter = "{1e3 * one.exit_diameter * errors[2]} mm"', 'voltage = "22 V"']
    if more:
        air = standard_air(altitude=0.0)
        shut = operate_blocked(one.candidate.unit, pressure=air.pressure,
                               temperature=air.temperature, inlet=np.array(True))
        lines += [f'supply = "{"full voltage" if one.full else "regulated cap"}"',
                  f'shaft_speed = "{float(rest.shaft_speed) * errors[3] * 30 / np.pi} rpm"',
                  f'shut_pressure = "{float(shut.suction) * errors[4]} Pa"']
    return "\n".join(lines) + "\n"


def _answers(thrust: Array, drag_area: float) -> Array:
    """Thrusts at the speeds and the top speed; thrust over GRID in the last axis."""
    at = [np.apply_along_axis(lambda row, v=v: np.interp(v, GRID, row), -1, thrust)
          for v in SPEEDS]
    spare = thrust - 0.5 * 1.225 * drag_area * GRID**2

    def top(row: Array) -> float:
        below = np.flatnonzero(~(row > 0.0))
        if below.size == 0 or below[0] == 0 or not np.isfinite(row[below[0]]):
            return np.nan
        j = int(below[0])
        return float(GRID[j - 1] + (GRID[j] - GRID[j - 1]) * row[j - 1] / (row[j - 1] - row[j]))
    return np.stack([*at, np.apply_along_axis(top, -1, spare)], axis=-1)


def judged(one: Truth, text: str, drag_area: float) -> tuple[Array, Array] | None:
    """Whether the intervals hold the truth, and their widths over it; None where refused."""
    try:
        scenario: Scenario = read_text(text)
        inputs = drawables(scenario)
        many = with_draws(scenario, inputs, shares(DRAWS, len(inputs), seed=1))
    except ScenarioError:
        return None
    there = operate(one.candidate, airspeed=GRID)
    right = _answers(np.where(there.valid, there.net_thrust, np.nan), drag_area)
    point = operate(many.candidates["m"], airspeed=GRID)
    found = _answers(np.where(point.valid, point.net_thrust, np.nan), drag_area)
    with np.errstate(all="ignore"):
        low, high = np.nanquantile(found, [0.025, 0.975], axis=0)
    known = np.isfinite(right)
    scale = np.where(np.arange(right.size) < len(SPEEDS), float(operate(
        one.candidate, airspeed=0.0).net_thrust), right)
    return (np.where(known, (low <= right) & (right <= high), np.nan),
            np.where(known, (high - low) / scale, np.nan))


def main() -> None:
    """Print shares held and widths, altogether and by family."""
    words = [word for word in sys.argv[1:] if not word.startswith("-")]
    count = int(words[0]) if words else MACHINES
    started = time.perf_counter()
    truths = population(count)
    random = np.random.default_rng(SEED + 1)
    table = []
    for more in (False, True)[:1 if "--short" in sys.argv else 2]:
        known = "with speed, suction and law" if more else "thrust, watts and exit"
        held: dict[str, list[Array]] = {name: [] for name in FAMILIES}
        wide: dict[str, list[Array]] = {name: [] for name in FAMILIES}
        refused = dict.fromkeys(FAMILIES, 0)
        for one in truths:
            area = float(np.pi / 4.0 * one.exit_diameter**2 * 10 ** random.uniform(*DRAG_LOADING))
            found = judged(one, known_by(one, random, more=more), area)
            if found is None:
                refused[one.family] += 1
                continue
            held[one.family].append(found[0])
            wide[one.family].append(found[1])
        print(f"{known}: held of 95 % intervals at 20, 40, 60 m/s, top speed; median widths "
              "(thrusts over that at rest)")
        for name in (*FAMILIES, "all"):
            rows, widths = ([row for key in FAMILIES if name in (key, "all") for row in side[key]]
                            for side in (held, wide))
            if not rows:
                continue
            shown = [*100.0 * np.nanmean(rows, axis=0), *100.0 * np.nanmedian(widths, axis=0)]
            lost = refused.get(name, sum(refused.values()))
            print(f"  {name:24s} " + " ".join(f"{value:5.1f}" for value in shown)
                  + f"   of {len(rows)}, refused {lost}", flush=True)
            table.append((known, name, len(rows), lost, *(f"{value:.1f}" for value in shown), SEED,
                          __version__))
    print(f"{time.perf_counter() - started:.0f} s")
    if "--keep" in sys.argv:
        with KEPT.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file, lineterminator="\n").writerows([COLUMNS, *table])


if __name__ == "__main__":
    main()
