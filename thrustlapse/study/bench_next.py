"""What the fit says of the answer asked for, and which further reading would sharpen it most.

Everything is linear about the fit: the answer's slopes against the unknowns carry their covariance
to the answer's deviation, and a reading not yet taken shrinks that covariance by what its own
slopes would add.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np

from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.drag import Airframe, level_drag
from thrustlapse.aircraft.performance import level_flight
from thrustlapse.arrays import Array
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import BenchReadings, bench_readings
from thrustlapse.bench.usual_spread import USUAL
from thrustlapse.elementwise import crossings
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.bench_fit import STEP, FitError, FittedMachine, fitted_candidate
from thrustlapse.study.bench_model import OBSERVED, show, taken
from thrustlapse.study.crossover import total_mass
from thrustlapse.study.footing import Footing

ALL = "all instruments used so far"

Slope = Callable[[Callable[[float], float], float], float]

STATIC, AT_SPEED, TOP, CROSSOVER = "static thrust", "thrust at", "top speed", "crossover with"


class Asked(Protocol):
    """What an answer needs of a scenario."""

    @property
    def site(self) -> Site: ...
    @property
    def candidates(self) -> Mapping[str, Candidate]: ...
    @property
    def airframe(self) -> Airframe | None: ...
    @property
    def comparison(self) -> Basis: ...
    @property
    def airspeeds(self) -> Array: ...


@dataclass(frozen=True, kw_only=True)
class Answer:
    """An answer with its deviation after the fit, and before it (from the priors alone), in
    ``unit``; ``slopes`` against the scaled unknowns of the fit."""

    words: str
    value: float
    unit: str
    deviation: float
    before: float
    slopes: Array


@dataclass(frozen=True, kw_only=True)
class NextReading:
    """A reading not yet taken and the answer's deviation with it."""

    state: str
    instruments: str
    deviation: float
    shrink: float


def answer(scenario: Asked, name: str, fit: FittedMachine, asked: str, *,
           airspeed: float = 0.0, rival: str = "") -> Answer:
    """The answer asked for, with the fitted machine in the scenario's place of it.

    Parameters
    ----------
    asked : str
        :data:`STATIC`, :data:`AT_SPEED` (with ``airspeed`` [m/s]), :data:`TOP` or
        :data:`CROSSOVER` (with ``rival``)

    Raises
    ------
    FitError
        Where the scenario has no such answer.
    """
    candidates = {**scenario.candidates, name: fit.candidate}
    footing = Footing(basis=scenario.comparison, candidates=candidates)
    air = scenario.site.air()

    def thrust(candidate: Candidate, speed: float) -> Array:
        return footing.fly(candidate, np.array([speed])).installed_thrust[..., 0]

    def slope(measure: Callable[[float], float], speed: float) -> float:
        step = max(0.02, 1e-3 * speed)
        return ((measure(speed + step) - measure(speed - step)) / (2.0 * step))

    many = _varied(fit)
    if asked in (STATIC, AT_SPEED):
        speed = airspeed if asked == AT_SPEED else 0.0
        value, scale, unit = float(thrust(fit.candidate, speed)), 1.0, "N"
        words = STATIC if asked == STATIC else f"installed thrust at {speed:g} m/s"
    elif asked == TOP:
        if scenario.airframe is None:
            raise FitError("top speed: the scenario has no [airframe]")
        frame, mass = scenario.airframe, total_mass(fit.candidate, scenario.airframe)
        level = level_flight(lambda v: footing.fly(fit.candidate, v), frame, mass=mass, air=air)
        speed = value = level.top_speed
        if not np.isfinite(speed):
            raise FitError(f"top speed: there is none, {level.reason}")

        def spare(v: float) -> float:
            drag = level_drag(frame, mass=mass, density=air.density, airspeed=np.array([v]),
                              speed_of_sound=air.speed_of_sound)
            return float(thrust(fit.candidate, v) - drag.total[0])

        scale, unit, words = -1.0 / slope(spare, speed), "m/s", TOP
    elif asked == CROSSOVER:
        speed, scale = _crossing(footing, scenario, name, rival, slope)
        value, unit, words = speed, "m/s", f"crossover with {rival} in installed thrust"
    else:
        raise FitError(f"no answer is called {asked!r}: {STATIC}, {AT_SPEED} SPEED, {TOP}, "
                       f"{CROSSOVER} NAME")
    found = thrust(many, speed)
    slopes = scale * (found[1:] - found[0]) / STEP
    if not np.all(np.isfinite(slopes)):
        raise FitError(f"{words}: the machine's map does not reach there")
    return Answer(words=words, value=value, unit=unit, slopes=slopes,
                  deviation=_deviation(slopes, fit.scaled_covariance),
                  before=float(np.sqrt(np.sum(slopes**2))))


def _crossing(footing: Footing, scenario: Asked, name: str, rival: str,
              slope: Slope) -> tuple[float, float]:
    if rival not in footing.candidates or rival == name:
        raise FitError(f"crossover with {rival!r}: the scenario has "
                       f"{', '.join(key for key in footing.candidates if key != name)}")

    def lead(v: Array) -> Array:
        return np.asarray(footing.fly(footing.candidates[name], v).installed_thrust
                          - footing.fly(footing.candidates[rival], v).installed_thrust)

    last = float(scenario.airspeeds[-1])
    speeds, _ = crossings(lead, np.linspace(0.0, last, 121)) if last > 0.0 else (np.empty(0), None)
    if speeds.size == 0:
        raise FitError(f"crossover with {rival}: neither overtakes the other up to {last:g} m/s")
    return float(speeds[0]), -1.0 / slope(lambda v: float(lead(np.array([v]))[0]),
                                          float(speeds[0]))


def _deviation(slopes: Array, covariance: Array) -> float:
    return float(np.sqrt(max(float(slopes @ covariance @ slopes), 0.0)))


def _sets(fit: FittedMachine) -> Array:
    """Values of the unknowns at the fit, and with each moved by a small step: (1 + unknowns,)."""
    scaled = fit.scaled + np.concatenate([np.zeros((1, fit.scaled.size)),
                                          STEP * np.eye(fit.scaled.size)])
    return np.stack([one.to_value(scaled[:, place]) for place, one in enumerate(fit.unknowns)],
                    axis=1)


def _varied(fit: FittedMachine) -> Candidate:
    return fitted_candidate(fit.given, fit.unknowns, _sets(fit))


def next_readings(fit: FittedMachine, wanted: Answer) -> tuple[NextReading, ...]:
    """Readings still possible, the one that sharpens the answer most first."""
    possible, words = _possible(fit)
    shown = show(fit.given, possible, fit.unknowns, _sets(fit))
    values = np.stack([shown.values[name] for name in OBSERVED], axis=2)
    slopes = (values[1:] - values[0]) / STEP
    usual = np.stack([np.hypot(USUAL[name].fixed, USUAL[name].share * np.abs(values[0, :, place]))
                      for place, name in enumerate(OBSERVED)], axis=1)
    read = taken(fit.readings)
    watts, amps = OBSERVED.index("electrical_power"), OBSERVED.index("current")
    used = {watts if place == amps else place  # at a known voltage they say the same
            for place in range(len(OBSERVED)) if read[:, place].any()}
    sensible = taken(possible)
    found = []
    for row, state in enumerate(words):
        single = [(place,) for place in range(len(OBSERVED)) if sensible[row, place]]
        together = tuple(place for place in sorted(used) if sensible[row, place])
        for places in [*single, *([together] if len(together) > 1 else [])]:
            rows = slopes[:, row, list(places)].T / usual[row, list(places), None]
            if not np.all(np.isfinite(rows)):
                continue
            covariance = fit.scaled_covariance
            gain = covariance @ rows.T
            inner = np.eye(len(places)) + rows @ gain
            after = _deviation(wanted.slopes, covariance - gain @ np.linalg.solve(inner, gain.T))
            names = [OBSERVED[place].replace("_", " ") for place in places]
            found.append(NextReading(state=state, instruments=" and ".join(names) if len(names) == 1
                                     else ALL, deviation=after,
                                     shrink=1.0 - after / wanted.deviation))
    found.sort(key=lambda one: one.deviation)
    # a single instrument is told once, where it does most; all together for every state
    first = {one.instruments: one for one in reversed(found)}
    return tuple(one for one in found if one.instruments == ALL or first[one.instruments] is one)


def _possible(fit: FittedMachine) -> tuple[BenchReadings, list[str]]:
    """States a person could still set up, on the drive setting used most."""
    unit = fit.given.unit
    assert isinstance(unit, Ducted)
    setting = max(set(fit.readings.setting), key=fit.readings.setting.count)
    own = float(np.sqrt(4.0 / np.pi * np.asarray(unit.nozzle.exit_area)))
    widest = float(np.sqrt(4.0 / np.pi * np.asarray(unit.duct.area)))
    volts = fit.readings.voltage
    usual = float(np.nanmedian(volts)) if np.isfinite(volts).any() else float(
        np.asarray(unit.supply.voltage))
    throat = float(np.sqrt(4.0 / np.pi * np.asarray(unit.inlet.throat_area)))
    rows: list[tuple[str, dict[str, float | bool]]] = [("nozzle as it is, once more", {})]
    rows += [(f"nozzle of {1e3 * share * own:.3g} mm", {"nozzle_diameter": share * own})
             for share in (0.7, 0.8, 0.9, 1.1, 1.2, 1.35) if share * own <= widest]
    rows += [("outlet blocked", {"outlet_blocked": True}),
             ("inlet blocked", {"inlet_blocked": True}),
             *((f"{100 * share:.0f} % of the voltage", {"voltage": share * usual})
               for share in (0.85, 0.6)),
             *((f"a plate with a hole of {1e3 * share * throat:.3g} mm before the inlet",
                {"orifice_diameter": share * throat}) for share in (0.5, 0.75))]
    columns: dict[str, Any] = {
        name: [row.get(name, default) for _, row in rows] for name, default in (
            ("nozzle_diameter", own), ("outlet_blocked", False), ("inlet_blocked", False),
            ("voltage", usual), ("orifice_diameter", np.nan))}
    count = len(rows)
    air = air_of(fit.readings)[0]
    columns["air_temperature"] = float(np.mean(np.asarray(air.temperature)))
    columns["air_pressure"] = float(np.mean(np.asarray(air.pressure)))
    columns |= {name: np.ones(count) for name in OBSERVED if name != "current"}
    readings = bench_readings(setting=[setting] * count, **columns)
    return readings, [state for state, _ in rows]
