"""Curves of a fitted machine with their bands: over the nozzle's diameter, and its map."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.bench.air_density import air_of
from thrustlapse.bench.readings import bench_readings
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.stage_map import StageMap
from thrustlapse.study.bench_fit import STEP, FittedMachine, fitted_candidate
from thrustlapse.study.bench_model import OBSERVED, show
from thrustlapse.study.experiment_design import nearby

POINTS = 31


@dataclass(frozen=True, kw_only=True)
class SettingCurve:
    """What one drive setting shows over the nozzle's diameter [m]; deviations beside values."""

    setting: str
    voltage: float
    diameter: Array
    values: dict[str, Array]
    deviations: dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class MapCurve:
    """Fitted map over the flow coefficient, with deviations, and the map as it was given."""

    flow: Array
    values: dict[str, Array]
    deviations: dict[str, Array]
    given: dict[str, Array]
    lowest_read: float
    highest_read: float


def _with_deviation(fit: FittedMachine, many: Array) -> tuple[Array, Array]:
    """Value and deviation of something known at the fit and with each unknown moved."""
    slopes = (many[1:] - many[0]) / STEP
    variance = np.einsum("ik,ij,jk->k", slopes, fit.scaled_covariance, slopes)
    return many[0], np.sqrt(np.maximum(variance, 0.0))


def setting_curves(fit: FittedMachine) -> tuple[SettingCurve, ...]:
    """A curve for every drive setting that was run with an open outlet."""
    readings = fit.readings
    unit = fit.given.unit
    assert isinstance(unit, Ducted)
    own = float(np.sqrt(4.0 / np.pi * np.asarray(unit.nozzle.exit_area)))
    bores = np.where(np.isfinite(readings.nozzle_diameter), readings.nozzle_diameter, own)
    widest = float(np.sqrt(4.0 / np.pi * np.asarray(unit.duct.area)))
    grid = np.linspace(0.9 * bores.min(), min(1.1 * float(bores.max()), widest), POINTS)
    air = air_of(readings)[0]
    curves = []
    for word in dict.fromkeys(readings.setting):
        rows = np.array([setting == word for setting in readings.setting])
        rows &= ~(readings.inlet_blocked | readings.outlet_blocked)
        if not rows.any():
            continue
        volts = readings.voltage[rows]
        volt = float(np.nanmedian(volts)) if np.isfinite(volts).any() else np.nan
        asked = bench_readings(
            nozzle_diameter=grid, voltage=volt, duty=np.nanmedian(readings.duty[rows])
            if np.isfinite(readings.duty[rows]).any() else np.nan,
            air_temperature=float(np.mean(np.asarray(air.temperature))),
            air_pressure=float(np.mean(np.asarray(air.pressure))), setting=[word] * POINTS)
        shown = show(fit.given, asked, fit.unknowns, nearby(fit))
        both = {name: _with_deviation(fit, shown.values[name]) for name in OBSERVED}
        curves.append(SettingCurve(
            setting=word, voltage=volt, diameter=grid,
            values={name: pair[0] for name, pair in both.items()},
            deviations={name: pair[1] for name, pair in both.items()}))
    return tuple(curves)


def map_curve(fit: FittedMachine) -> MapCurve:
    """The fitted map with its band, and where it was read."""
    given = fit.given.unit
    many = fitted_candidate(fit.given, fit.unknowns, nearby(fit)).unit
    assert isinstance(given, Ducted)
    assert isinstance(many, Ducted)
    flow = np.linspace(0.0, float(np.asarray(given.rotor.stage.highest_flow)), 2 * POINTS)
    values, deviations = {}, {}
    for name, read in _sides(many.rotor.stage, flow).items():
        values[name], deviations[name] = _with_deviation(
            fit, np.broadcast_to(read, (len(fit.unknowns) + 1, flow.size)))
    phi = show(fit.given, fit.readings, fit.unknowns, fit.values[None]).flow[0]
    running = phi[phi > 0.0]
    return MapCurve(flow=flow, values=values, deviations=deviations,
                    given=_sides(given.rotor.stage, flow),
                    lowest_read=float(running.min()) if running.size else np.nan,
                    highest_read=float(running.max()) if running.size else np.nan)


def _sides(stage: StageMap, flow: Array) -> dict[str, Array]:
    head, power = stage.head(flow), stage.power(flow)
    return {"head": head, "power": power,
            "efficiency": np.where(power > 0.0, head * flow / np.where(power > 0.0, power, 1.0),
                                   np.nan)}
