"""True machines and what benches read of them, for the coverage of a bench fit's intervals.

Written before the method that is judged by it, and not changed with it: the widths of what is
drawn stand here as numbers, from the register and from the priors that a fit states. Truths inside
the model are the package's own machine with everything drawn; those outside have a map of a foreign
shape, constants fixed off, a stand that reads wrong, or are solved by other equations
(``foreign_blower.py``). A truth that no machine can be (more power in the air than on the shaft),
or that cannot be run in some state of the plan or in flight, is drawn again.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tests.tools.foreign_blower import foreign
from thrustlapse.arrays import Array
from thrustlapse.bench.default_uncertainty import with_default_uncertainty
from thrustlapse.bench.readings import BenchReadings, bench_readings
from thrustlapse.rotor.map_shape import CORRELATION, departed
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.bench_model import show
from thrustlapse.study.footing import Footing

NAME = "blower"
AIRSPEEDS = np.array([0.0, 30.0, 50.0])
SHOWN = ("thrust", "electrical_power", "shaft_speed", "static_pressure")

TEXT = """
title = "A blower on a bench"
invented = true
[site]
altitude = "0 m"
[supply]
voltage = "24 V"
resistance = "90 mohm"
mass = "0.5 kg"
[airspeed]
highest = "60 m/s"
[candidates.blower]
kind = "blower"
unit_mass = "280 g"
[candidates.blower.inlet]
throat_diameter = "23 mm"
lip = "rounded"
loss_coefficient = 0.3
[candidates.blower.rotor]
tip_diameter = "38 mm"
eye_diameter = "21 mm"
hub_diameter = "8 mm"
[candidates.blower.map]
source = "coefficients"
head_shutoff = 0.55
head_slope = 0.2
head_curvature = -22.0
work_shutoff = 0.8
work_slope = -1.4
shutoff_power = 0.012
highest_flow = 0.17
[candidates.blower.duct]
diameter = "26 mm"
length = "50 mm"
loss_coefficient = 0.2
[candidates.blower.nozzle]
exit_diameter = "16 mm"
[candidates.blower.motor]
model = "constants"
torque_constant = "1.909859 mN m/A"
resistance = "60 mohm"
no_load_current = "1 A"
[candidates.blower.drive]
power_limit = "400 W"
"""

HEAD, REACH, WORK = 0.55, 0.17, 0.8
FITTED = {
    "map.head_shutoff": 0.12, "map.work_shutoff": 0.12, "map.shutoff_power": 0.5,
    "motor.torque_constant": 0.08, "motor.resistance": 0.3, "motor.no_load_current": 0.4,
    "duct.loss_coefficient": 0.5}
"""Deviations of logarithms that a fit takes for its own unknowns."""

LINEAR = {"map.head_slope": 0.5 * HEAD / REACH, "map.head_curvature": 0.5 * HEAD / REACH**2,
          "map.work_slope": 0.3 * WORK / REACH}
SETTING = 0.2
"""Deviation of the logarithm of the bench's power cap; a fit allows 0.8, but a cap far above what
the voltage gives would be no setting."""

SHAPE = 0.03
GAINS = {"thrust": 0.010, "electrical_power": 0.015, "voltage": 0.005}
RULER = 0.3e-3
AGAINST = {"nozzle.velocity_coefficient": -1.0, "nozzle.discharge_coefficient": -1.0,
           "inlet.lip": 1.0, "drive.controller_efficiency": -1.0,
           "motor.no_load_current_slope": 1.0}
"""Constants off together, each to the side that costs thrust."""

PLANS = {
    12: {"nozzle_diameter": [16, 14, 18, 16, 12, 16, 20, 15, 16, 13, 16, 18],
         "voltage": [24, 24, 24, 24, 24, 18, 24, 18, 24, 20, 24, 20],
         "outlet_blocked": [0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 0, 0]},
    3: {"nozzle_diameter": [16, 14, 18], "voltage": [24, 24, 24], "outlet_blocked": [0, 0, 0]}}
"""Nozzles [mm], voltages and shut outlets; three readings have no static pressure."""

INSIDE = "as the register"
KINDS: dict[str, dict[str, Any]] = {
    INSIDE: {},
    "map's form off by 3 %": {"form": 0.03},
    "map's form off by 5 %": {"form": 0.05},
    "constants off by 1 deviation, either way": {"off": 1.0},
    "constants off by 1.5 deviations, either way": {"off": 1.5},
    "constants off by 1 deviation, all against it": {"against": 1.0},
    "constants off by 1.5 deviations, all against it": {"against": 1.5},
    "a stand that reads 1.5 % high": {"stand": 1.015},
    "other equations": {"foreign": True}}
"""Rows of the benchmark: what is special of their truths."""

MOST = 12


@dataclass(frozen=True, kw_only=True)
class Benches:
    """Benches of one kind: readings, and true installed thrust at :data:`AIRSPEEDS` [N]."""

    readings: tuple[BenchReadings, ...]
    thrust: Array
    drawn_again: int


def scenario() -> Scenario:
    """What the person with the bench believes of the machine."""
    return read_text(TEXT)


def benches(kind: str, readings: int, count: int, seed: int) -> Benches:
    """Benches of a kind with 12 or 3 readings each; ``seed`` decides all of them."""
    special = KINDS[kind]
    make = _foreign if special.get("foreign") else _own
    random = np.random.default_rng([seed, readings, list(KINDS).index(kind)])
    parts: list[tuple[dict[str, Array], Array, dict[str, Array]]] = []
    again = 0
    while sum(one[1].shape[0] for one in parts) < count:
        exact, thrust, told = make(random, 2 * count, readings, special)
        good = np.isfinite(thrust).all(axis=1)
        for name in SHOWN:
            good &= np.isfinite(exact[name]).all(axis=1)
        again += int(np.count_nonzero(~good))
        parts.append(({name: value[good] for name, value in exact.items()}, thrust[good],
                      {name: value[good] for name, value in told.items()}))
        if len(parts) > MOST:
            raise RuntimeError(f"{kind}: hardly any truth can be run")
    exact, told = ({name: np.concatenate([one[place][name] for one in parts])[:count]
                    for name in parts[0][place]} for place in (0, 2))
    thrust = np.concatenate([one[1] for one in parts])[:count]
    gains = _gains(random, count, special)
    return Benches(thrust=thrust, drawn_again=again, readings=tuple(
        _read(random, readings, {name: value[place] for name, value in exact.items()},
              {name: value[place] for name, value in told.items()},
              {name: float(value[place]) for name, value in gains.items()})
        for place in range(count)))


def _gains(random: np.random.Generator, count: int, special: dict[str, Any]) -> dict[str, Array]:
    gains = {name: 1.0 + width * random.standard_normal(count) for name, width in GAINS.items()}
    if "stand" in special:
        return {name: np.full(count, special["stand"] if name == "thrust" else 1.0)
                for name in gains}
    return gains


def _read(random: np.random.Generator, readings: int, exact: dict[str, Array],
          told: dict[str, Array], gains: dict[str, float]) -> BenchReadings:
    """One bench: instruments' gains, then the scatter of each reading."""
    names = SHOWN if readings == 12 else SHOWN[:3]
    shown = {name: exact[name] * gains.get(name, 1.0) for name in names}
    made = bench_readings(
        nozzle_diameter=told["nozzle_diameter"], voltage=told["voltage"] * gains["voltage"],
        outlet_blocked=np.array(PLANS[readings]["outlet_blocked"], dtype=bool),
        air_temperature=288.15, air_pressure=101325.0, **shown)
    spread = with_default_uncertainty(made).spread
    # conditions were set as told and scatter about that; what was shown scatters about the truth
    return replace(made, **{
        name: getattr(made, name) + spread[name] * random.standard_normal(readings)
        for name in (*names, "voltage")})


def _conditions(random: np.random.Generator, count: int, readings: int,
                special: dict[str, Any]) -> tuple[Array, Array]:
    """Nozzles as they are read and as they are [m], (count, readings)."""
    said = np.broadcast_to(1e-3 * np.array(PLANS[readings]["nozzle_diameter"], dtype=float),
                           (count, readings))
    ruler = np.zeros((count, 1)) if "stand" in special else RULER * random.standard_normal(
        (count, 1))
    return said, said - ruler - 1e-4 * random.standard_normal((count, readings))


def _constants(random: np.random.Generator, count: int, told: Scenario,
               special: dict[str, Any]) -> dict[str, Array]:
    """What is assumed of the machine, by key within the candidate: drawn, or fixed off."""
    from scipy.special import ndtr

    found = {}
    for one in told.assumed:
        key = one.spread.key.removeprefix(f"candidates.{NAME}.")
        if key == "map":
            continue
        away = random.standard_normal(count)
        if "off" in special:
            away = special["off"] * np.sign(away)
        elif "against" in special and key in AGAINST:
            away = np.full(count, special["against"] * AGAINST[key])
        found[key] = one.spread.quantile(ndtr(away))
    from thrustlapse.propulsor.nozzle import widest_discharge

    found["nozzle.discharge_coefficient"] = found["nozzle.discharge_coefficient"] * (
        widest_discharge(velocity_coefficient=found["nozzle.velocity_coefficient"]))
    return found


def _machine(random: np.random.Generator, count: int, told: Scenario) -> dict[str, Array]:
    """What a fit frees of itself, by key within the candidate."""
    unit: Any = told.candidates[NAME].unit
    nominal = {"map.head_shutoff": HEAD, "map.work_shutoff": WORK, "map.shutoff_power": 0.012,
               "map.head_slope": 0.2, "map.head_curvature": -22.0, "map.work_slope": -1.4,
               "motor.torque_constant": unit.drive.motor.torque_constant,
               "motor.resistance": 0.06, "motor.no_load_current": 1.0,
               "duct.loss_coefficient": 0.2}
    found = {key: nominal[key] * np.exp(width * random.standard_normal(count))
             for key, width in FITTED.items()}
    return found | {key: nominal[key] + width * random.standard_normal(count)
                    for key, width in LINEAR.items()}


def _possible(values: dict[str, Array]) -> Array:
    """Which maps take at least what they give, all along."""
    flow = np.linspace(0.0, REACH, 120)
    head, work = ((values[f"map.{first}"][:, None] + values[f"map.{second}"][:, None] * flow)
                  for first, second in (("head_shutoff", "head_slope"),
                                        ("work_shutoff", "work_slope")))
    head = head + values["map.head_curvature"][:, None] * flow**2
    return np.asarray(np.all(head * flow < values["map.shutoff_power"][:, None] + flow * work,
                             axis=1))


@dataclass(frozen=True, kw_only=True)
class _Wave:
    """A factor that waves over the flow: no cubic. ``size`` as a root mean square."""

    size: float
    waves: Array
    phase: Array

    def __call__(self, x: Array) -> Array:
        return np.asarray(1.0 + np.sqrt(2.0) * self.size * np.sin(
            2.0 * np.pi * self.waves * x + self.phase))


def _wave(random: np.random.Generator, count: int, size: float) -> _Wave:
    return _Wave(size=size, waves=random.uniform(0.4, 1.2, (count, 1)),
                 phase=random.uniform(0.0, 2.0 * np.pi, (count, 1)))


@dataclass(frozen=True, kw_only=True)
class _Waved:
    """A map times factors of a foreign form."""

    stage: Any
    on_head: _Wave
    on_power: _Wave

    band: Any
    lowest_flow: Any
    highest_flow: Any
    stall_flow: Any
    steep: bool | None = None

    def head(self, flow: Array) -> Array:
        """Head coefficient [-]."""
        return np.asarray(self.stage.head(flow) * self.on_head(flow / self.stage.highest_flow))

    def power(self, flow: Array) -> Array:
        """Power coefficient [-]."""
        return np.asarray(self.stage.power(flow) * self.on_power(flow / self.stage.highest_flow))

    def swirl(self, flow: Array) -> Array:
        """Swirl over tip speed [-]."""
        return np.asarray(self.stage.swirl(flow))


def _own(random: np.random.Generator, count: int, readings: int,
         special: dict[str, Any]) -> tuple[dict[str, Array], Array, dict[str, Array]]:
    told = scenario()
    values = _machine(random, 4 * count, told)
    places = np.flatnonzero(_possible(values))[:count]
    count = places.size
    values = {key: value[places] for key, value in values.items()} | _constants(
        random, count, told, special)
    many = told.drawn({f"candidates.{NAME}.{key}": value for key, value in values.items()})
    one = many.candidates[NAME]
    unit: Any = one.unit
    root = SHAPE * np.linalg.cholesky(CORRELATION)
    shapes = [tuple((random.standard_normal((count, 4)) @ root.T).T[..., None]) for _ in range(2)]
    stage: Any = departed(unit.rotor.stage, head_shape=shapes[0], power_shape=shapes[1])
    if "form" in special:
        plain = unit.rotor.stage
        stage = _Waved(stage=plain, on_head=_wave(random, count, special["form"]),
                       on_power=_wave(random, count, special["form"]), band=plain.band,
                       lowest_flow=plain.lowest_flow, highest_flow=plain.highest_flow,
                       stall_flow=plain.stall_flow)
    flows = np.linspace(0.0, REACH, 60)
    impossible = np.any(stage.head(flows) * flows >= stage.power(flows), axis=1)
    unit = replace(unit, rotor=replace(unit.rotor, stage=stage))
    cap = 400.0 * np.exp(SETTING * random.standard_normal((count, 1)))
    said, true = _conditions(random, count, readings, special)
    volts = np.broadcast_to(np.array(PLANS[readings]["voltage"], dtype=float), said.shape)
    asked = bench_readings(
        nozzle_diameter=said[0], voltage=volts[0], air_temperature=288.15, air_pressure=101325.0,
        outlet_blocked=np.array(PLANS[readings]["outlet_blocked"], dtype=bool), thrust=1.0)
    shown = show(replace(one, unit=replace(unit, drive=replace(unit.drive, power_limit=cap))),
                 asked, (), np.empty((count, 0)), shifted={"nozzle_diameter": true}).values
    flown = Footing(basis=told.comparison, candidates=many.candidates)
    thrust = flown.fly(replace(one, unit=unit), AIRSPEEDS).installed_thrust
    thrust = np.where(impossible[:, None], np.nan, thrust)
    return ({name: shown[name] for name in SHOWN}, thrust,
            {"nozzle_diameter": said, "voltage": volts})


def _foreign(random: np.random.Generator, count: int, readings: int,
             special: dict[str, Any]) -> tuple[dict[str, Array], Array, dict[str, Array]]:
    told = scenario()
    own, constants = _machine(random, count, told), _constants(random, count, told, special)
    c = {key: value[:, None] for key, value in (own | constants).items()}
    machine = {
        "head": c["map.head_shutoff"], "reach": REACH * np.exp(
            0.05 * random.standard_normal((count, 1))),
        "work": c["map.work_shutoff"], "disc": c["map.shutoff_power"], "tip": 0.038,
        "throat": 0.023, "bore": 0.026, "lip": c["inlet.lip"], "inlet": 0.3,
        "ram": c["inlet.ram_recovery"], "duct": c["duct.loss_coefficient"],
        "discharge": c["nozzle.discharge_coefficient"],
        "velocity": c["nozzle.velocity_coefficient"], "kt": c["motor.torque_constant"],
        "winding": c["motor.resistance"], "idle": c["motor.no_load_current"],
        "growth": random.uniform(0.0, 0.5, (count, 1)),
        "controller": c["drive.controller_efficiency"],
        "leads": c["drive.controller_lead_resistance"]}
    said, true = _conditions(random, count, readings, special)
    volts = np.broadcast_to(np.array(PLANS[readings]["voltage"], dtype=float), said.shape)
    cap = 400.0 * np.exp(SETTING * random.standard_normal((count, 1)))
    shut = np.broadcast_to(np.array(PLANS[readings]["outlet_blocked"], dtype=bool), said.shape)
    shown = foreign(machine, exit_diameter=true, voltage=volts, source=0.0, cap=cap,
                    airspeed=np.zeros(said.shape), shut=shut)
    flying = np.broadcast_to(AIRSPEEDS, (count, AIRSPEEDS.size))
    flown = foreign(machine, exit_diameter=np.full(flying.shape, 0.016),
                    voltage=np.full(flying.shape, 24.0), source=0.09,
                    cap=np.full((count, 1), 400.0), airspeed=flying,
                    shut=np.zeros(flying.shape, dtype=bool))
    # what hangs outside the stream tube: the same for all, and known
    placed = told.candidates[NAME].installation
    outside = 0.5 * 1.225 * flying**2 * (float(np.asarray(placed.pod_drag_area)) + float(
        np.asarray(placed.base_area)) * float(np.asarray(placed.base_drag_coefficient)))
    flows = np.linspace(1e-3, 1.0, 40) * machine["reach"]
    x = flows / machine["reach"]
    impossible = np.any(flows * machine["head"] * (1.0 + 0.06 * x) * (1.0 - x**2.1) >= machine[
        "disc"] + machine["work"] * flows * (1.0 - 0.28 * x**1.1), axis=1)
    thrust = np.where(impossible[:, None] | (shown["thrust"] < 0.0).any(axis=1)[:, None], np.nan,
                      flown["thrust"] - outside)
    return shown, thrust, {"nozzle_diameter": said, "voltage": volts}
