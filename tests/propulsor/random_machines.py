"""Random machines of every kind against an independent scan, and through the gate of bounds.

    python -m tests.propulsor.random_machines 10000 [seed] [write]

Draws blowers, fans and propellers with every kind of map, both kinds of motor, every limit of the
drive, driven, cut and braked, at airspeeds from 0 to 150 m/s. Counts

    gate      a valid balance that broke a bound of physics
    missing   no value although the scan finds a stable balance inside map, drive and pack
    wrong     a value that is not the scan's largest stable balance
    unfounded a value although the scan finds none, or Ohm's law a pack that cannot give it
    causeless no value and no cause, or only that the solver found none

``write`` keeps the counts in ``random_machines.csv`` beside this file.

The scan is ``brute_force``: scalars, the torque law and continuity alone. An element within
:data:`UNDECIDED` of an end of its map may fall on either side.
"""

from __future__ import annotations

import csv
import math
import sys
from collections import Counter
from functools import cache
from pathlib import Path
from typing import NamedTuple

import numpy as np
from scipy.optimize import brentq

from tests.machines import braked, circle, kt
from tests.propulsor.brute_force import Plain, capped, starved, torque
from tests.rotor import centrifugal_cases as centrifugal
from tests.rotor.axial_cases import free_vortex_fan
from thrustlapse import __version__
from thrustlapse.air.atmosphere import Air, standard_air
from thrustlapse.power.drive import Drive, cut
from thrustlapse.power.motor import ConstantsMotor, constant_efficiency_motor, efficiency_motor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.ideal import ideal_power_coefficient
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.propulsor.open_rotor import OpenRotor, operate_open_rotor, rotor_torque
from thrustlapse.propulsor.operating_point import INVALID, Flag, OperatingPoint
from thrustlapse.rotor.axial.stage import axial_stage
from thrustlapse.rotor.propeller.table import PropellerTable
from thrustlapse.rotor.stage_map import CoefficientMap, PointMap, StageMap, exceeds_unity

UNDECIDED = 2e-3
"""Relative distance from an end of a map within which in or out may differ."""

AGREES = 1e-5
"""Relative difference of two solutions that are one."""

Random = np.random.Generator
RESULT = Path(__file__).with_suffix(".csv")
FAULTS = ("gate", "missing", "wrong", "unfounded", "causeless")


def drive(random: Random, rated: float) -> Drive:
    """A drive whose active limit, motor kind and state are drawn; ``rated`` sets its watts."""
    leads = {"controller_lead_resistance": random.uniform(0.0, 0.01)}
    limits: dict[str, float] = {}
    kind = random.choice(["none", "power", "motor current", "supply current", "speed", "all"])
    if kind in ("power", "all"):
        limits["power_limit"] = rated * random.uniform(0.05, 2.0)
    if kind in ("supply current", "all"):
        limits["supply_current_limit"] = random.uniform(2.0, 80.0)
    if kind in ("speed", "all"):
        limits["speed_limit"] = random.uniform(300.0, 12e3)
    if random.random() < 0.25:
        motor = (constant_efficiency_motor(efficiency=random.uniform(0.4, 1.0))
                 if random.random() < 0.5 else
                 efficiency_motor(load=np.array([0.2, 1.0]), efficiency=np.array(
                     [random.uniform(0.4, 0.7), random.uniform(0.7, 0.9)]),
                     rated_shaft_power=rated * random.uniform(0.2, 3.0)))
        limits.setdefault("power_limit", rated * random.uniform(0.05, 2.0))
        made = Drive(motor=motor, **leads, **limits)
        return cut(made) if random.random() < 0.15 else made
    if kind in ("motor current", "all"):
        limits["motor_current_limit"] = random.uniform(2.0, 90.0)
    motor = ConstantsMotor(torque_constant=kt(10.0 ** random.uniform(2.6, 3.9)),
                           resistance=10.0 ** random.uniform(-2.5, -0.7),
                           no_load_current=random.choice([0.0, random.uniform(0.1, 2.5)]),
                           no_load_current_slope=random.choice([0.0, random.uniform(0.0, 4e-4)]))
    made = Drive(motor=motor, duty=random.choice([1.0, random.uniform(0.3, 1.0)]),
                 motor_lead_resistance=random.uniform(0.0, 0.005),
                 controller_efficiency=random.uniform(0.85, 1.0),
                 synchronous_rectification=bool(random.random() < 0.5), **leads, **limits)
    state = random.random()
    return cut(made) if state < 0.12 else braked(made) if state < 0.18 else made


def supply(random: Random) -> Supply:
    return Supply(voltage=random.uniform(7.0, 60.0), resistance=random.choice(
        [0.0, random.uniform(0.005, 0.12)]), units=float(random.integers(1, 5)))


def coefficient_map(random: Random) -> CoefficientMap:
    steep = random.random() < 0.25
    while True:
        stage = CoefficientMap(
            head_shutoff=random.uniform(0.05, 0.6),
            head_slope=random.uniform(-4.0, 3.2) if steep else random.uniform(-2.0, 0.6),
            head_curvature=random.uniform(5.0, 40.0) if steep else random.uniform(-30.0, -2.0),
            work_shutoff=random.uniform(0.3, 1.4), work_slope=random.uniform(-8.0, 1.0),
            shutoff_power=random.uniform(0.002, 0.04), highest_flow=random.uniform(0.06, 0.4),
            swirl_ratio=random.choice([0.0, random.uniform(0.0, 0.2)]))
        if not exceeds_unity(stage):
            return stage


def point_map(random: Random) -> PointMap:
    """Head that falls below zero or not, and power a loss above what the head takes."""
    while True:
        top = random.uniform(0.08, 0.5)
        flow = np.linspace(random.choice([0.0, 0.2 * top]), top, int(random.integers(5, 12)))
        share = flow / top
        head = random.uniform(0.15, 0.6) * (1.0 - random.uniform(0.4, 2.0) * share
                                            ** random.uniform(1.0, 3.0))
        head = head * (1.0 + random.uniform(-0.05, 0.05, flow.size))
        loss = random.uniform(0.002, 0.02) + random.uniform(0.0, 0.02) * (share - 0.6) ** 2
        stage = PointMap(flow=flow, head_points=head, power_points=head * flow + loss)
        if not exceeds_unity(stage):
            return stage


@cache
def wheels() -> tuple[StageMap, ...]:
    """Maps of impellers and fans from their dimensions."""
    return tuple(centrifugal.stage(centrifugal.wheel(outlet_width=width * 1e-3)).map
                 for width in (2.5, 3.5, 5.0)) + tuple(
        axial_stage(free_vortex_fan(with_vanes=vanes), shaft_speed=3000.0).map
        for vanes in (True, False))


def stage_map(random: Random) -> StageMap:
    kind = random.random()
    if kind < 0.45:
        return coefficient_map(random)
    return point_map(random) if kind < 0.85 else wheels()[random.integers(len(wheels()))]


def ducted(random: Random) -> Ducted:
    """A blower (small, fast) or a fan."""
    blower = random.random() < 0.5
    diameter = random.uniform(0.025, 0.07) if blower else random.uniform(0.04, 0.2)
    eye = diameter * (random.uniform(0.4, 0.65) if blower else random.uniform(0.85, 1.0))
    passage = diameter * random.uniform(0.5, 1.0)
    facing = random.choice([0.0, 0.0, 0.5, np.pi])
    friction = random.random() < 0.5
    return Ducted(
        inlet=Inlet(throat_area=circle(eye * random.uniform(0.6, 1.4)), facing=facing,
                    ram_recovery=random.uniform(0.7, 1.0) if facing == 0.0
                    else random.uniform(-0.2, 0.3),
                    lip_sharpness=random.choice([0.0, 1.0, random.uniform(0.0, 1.0)]),
                    loss_coefficient=random.uniform(0.0, 1.5)),
        rotor=Rotor(stage=stage_map(random), tip_diameter=diameter, eye_area=circle(eye)),
        duct=Duct(area=circle(passage), loss_coefficient=random.uniform(0.0, 0.6),
                  length=random.uniform(0.01, 0.2) if friction else 0.0,
                  hydraulic_diameter=passage, roughness=random.uniform(0.0, 1e-4),
                  heat_share=random.choice([0.0, random.uniform(0.0, 1.0)])),
        nozzle=Nozzle(exit_area=circle(passage * random.uniform(0.35, 1.0)),
                      discharge_coefficient=random.uniform(0.85, 0.94),
                      velocity_coefficient=random.uniform(0.95, 1.0)),
        drive=drive(random, 4e4 * diameter**2 * random.uniform(0.5, 8.0)), supply=supply(random))


def propeller(random: Random) -> OpenRotor:
    """A table that ends before, at or beyond windmilling, of one speed or several."""
    zero = random.uniform(0.4, 1.6)
    advance = np.linspace(0.0, zero * random.uniform(0.7, 2.2), int(random.integers(6, 16)))
    speeds = (np.array([800.0]) if random.random() < 0.5
              else np.sort(random.uniform(100.0, 3000.0, 3)))
    shroud = random.choice([0.0, 0.0, random.uniform(0.7, 1.1)])
    best, bend = random.uniform(0.05, 0.16), random.uniform(1.0, 2.0)
    rows = random.uniform(0.94, 1.06, speeds.size)[:, None]
    thrust = best * (1.0 - (advance / zero) ** bend) * rows
    profile = random.uniform(0.004, 0.02) * (1.0 + 0.5 * advance**2)
    driven = random.uniform(0.1, 0.5) * np.minimum(thrust, 0.0) * advance
    power = 1.05 * ideal_power_coefficient(advance_ratio=advance, thrust_coefficient=thrust,
                                           exit_area_ratio=shroud) + driven + profile
    return OpenRotor(
        table=PropellerTable(advance_ratio=advance, shaft_speed=speeds, thrust_points=thrust,
                             power_points=power),
        diameter=random.uniform(0.08, 0.5), exit_area_ratio=shroud,
        drive=drive(random, random.uniform(30.0, 3000.0)), supply=supply(random))


def propeller_scan(machine: OpenRotor, air: Air, airspeed: float) -> tuple[float, float, float]:
    """Fastest stable shaft speed on the table, its advance ratio, its power; or NaN."""
    edge = 2.0 * math.pi * airspeed / (machine.table.highest_advance_ratio * machine.diameter)
    density = float(air.density)

    grid = np.geomspace(max(edge, 1e-2), 1e5, 500)
    taken = rotor_torque(machine, density=density, airspeed=np.asarray(airspeed), shaft_speed=grid)

    def load(w: float) -> float:
        return float(rotor_torque(machine, density=density, airspeed=np.asarray(airspeed),
                                  shaft_speed=np.asarray(w)))

    def balanced(drive: Drive) -> float:
        values = [torque(drive, machine.supply, float(w)) - at
                  for w, at in zip(grid, taken, strict=True)]
        for k in reversed(range(grid.size - 1)):
            if values[k] > 0.0 >= values[k + 1]:
                return brentq(lambda w: torque(drive, machine.supply, w) - load(w), grid[k],
                              grid[k + 1], xtol=1e-13, rtol=1e-14)
        return math.nan

    w = capped(machine.drive, balanced)
    if not w >= edge:
        return math.nan, math.nan, math.nan
    return w, 2.0 * math.pi * airspeed / (w * machine.diameter), w * load(w)


class Judged(NamedTuple):
    """One machine: its kind, the fault found ('' where there is none), and what became of it."""

    kind: str
    fault: str
    outcome: str
    airspeed: float


def judged(random: Random) -> Judged:
    """A machine drawn, matched, scanned and compared."""
    air = standard_air(altitude=random.choice([0.0, random.uniform(0.0, 5000.0)]))
    airspeed = float(random.choice([0.0, random.uniform(0.0, 150.0), random.uniform(0.0, 150.0)]))
    if random.random() < 0.35:
        kind, machine = "propeller", propeller(random)
        point = operate_open_rotor(machine, air=air, airspeed=airspeed)
        speed, advance, power = propeller_scan(machine, air, airspeed)
        near = abs(advance / machine.table.highest_advance_ratio - 1.0) < UNDECIDED
        fault = _fault(point, speed, math.nan, near=near,
                       short=starved(machine.drive, machine.supply, speed, power))
    else:
        unit = ducted(random)
        kind = type(unit.rotor.stage).__name__
        point = operate_ducted(unit, air=air, airspeed=airspeed)
        scan = Plain(unit, air=air, airspeed=airspeed).scan()
        ends = [float(unit.rotor.stage.highest_flow), float(unit.rotor.stage.lowest_flow)]
        flows = [*scan.flows[-1:], float(point.flow_coefficient)]
        near = any(abs(flow / end - 1.0) < UNDECIDED for flow in flows for end in ends if end > 0.0)
        if scan.blocked:
            fault = _void(point) or ("" if point.flagged(Flag.NO_THROUGH_FLOW) or near
                                     or not point.valid else "unfounded")
        else:
            fault = _fault(point, scan.shaft_speed, scan.net_thrust, near=near, short=starved(
                unit.drive, unit.supply, scan.shaft_speed, scan.shaft_power))
    return Judged(kind, fault, _outcome(point), airspeed)


def _outcome(point: OperatingPoint) -> str:
    """Valid, with or without flow, or the first cause why not."""
    causes = [flag for flag in Flag if point.flagged(flag)]
    if point.valid:
        return "valid, no through-flow" if Flag.NO_THROUGH_FLOW in causes else "valid"
    return next((flag.words for flag in causes if flag & INVALID), "no cause")


def _void(point: OperatingPoint) -> str:
    if point.flagged(Flag.IMPOSSIBLE):
        return "gate"
    founded = int(INVALID & ~Flag.NOT_CONVERGED)
    if not np.isfinite(point.net_thrust) and not int(point.flag_bits) & founded:
        return "causeless"
    return ""


def _fault(point: OperatingPoint, speed: float, thrust: float, *, near: bool, short: bool) -> str:
    if found := _void(point):
        return found
    if near:
        return ""
    if math.isnan(speed):
        # flow coefficients below what the scan looks at are no through-flow to it
        return "unfounded" if point.valid and not point.flagged(Flag.NO_THROUGH_FLOW) else ""
    if short:
        return "" if point.flagged(Flag.PACK_CANNOT_DELIVER) else "unfounded"
    if not point.valid:
        return "missing"
    same = abs(float(point.shaft_speed) / speed - 1.0) < AGREES and (
        math.isnan(thrust) or abs(float(point.net_thrust) - thrust)
        < AGREES * (abs(thrust) + float(point.ram_drag)))
    return "" if same else "wrong"


def trial(count: int, seed: int, *, show: int = 0) -> dict[str, Counter[str]]:
    """Machines by kind, outcome and fault; ``show`` of each fault are printed."""
    found: dict[str, Counter[str]] = {"kind": Counter(), "outcome": Counter(), "fault": Counter()}
    for number in range(count):
        one = judged(np.random.default_rng([seed, number]))
        found["kind"][one.kind] += 1
        found["outcome"][one.outcome] += 1
        if one.fault:
            found["fault"][one.fault] += 1
            if found["fault"][one.fault] <= show:
                print(f"{one.fault}: {one.kind}, {one.outcome}, seed [{seed}, {number}], "
                      f"{one.airspeed:.1f} m/s", flush=True)
    return found


def main(words: list[str]) -> None:
    """Run the trial, print the counts, keep them."""
    numbers = [int(word) for word in words if word.isdigit()]
    count, seed = (*numbers, 10_000, 0)[:2] if len(numbers) != 1 else (numbers[0], 0)
    found = trial(count, seed, show=3)
    found["fault"] = Counter({name: found["fault"][name] for name in FAULTS})
    rows = [(subject, name, number) for subject, names in found.items()
            for name, number in sorted(names.items())]
    print(f"{count} machines, seed {seed}")
    for row in rows:
        print("{:8} {:32} {:6}".format(*row))
    if "write" in words:
        with RESULT.open("w", encoding="utf-8", newline="") as file:
            file.write(f"# {count} machines, seed {seed}, thrustlapse {__version__}, "
                       "made by python -m tests.propulsor.random_machines\n")
            writer = csv.writer(file, lineterminator="\n")
            writer.writerows([("subject", "class", "machines"), *rows])


if __name__ == "__main__":
    main(sys.argv[1:])
