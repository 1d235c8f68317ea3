"""Each measured blade design predicted by constants that never saw it.

    python -m tests.rotor.left_out_propellers

The constants of the sections are fitted to the Clark Y polars and to all measured designs but one,
with priors and with a free angle for each design; the one left out is predicted at its stated
angle. Printed are its rms errors over the peaks, the share of its points inside the stated bands,
and both again once its highest static reading anchors it.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cache

import numpy as np

from tests.authority import rows
from tests.rotor.loading_band import coefficient_band
from tests.rotor.measured_propellers import SUSPECT, Tested, measured_propellers
from thrustlapse.rotor.propeller import section as sections
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads, table_band
from thrustlapse.rotor.propeller.error import ANCHORED_BAND
from thrustlapse.rotor.propeller.loading import ideal_power
from thrustlapse.rotor.stage_map import Band

PRIORS = {
    "lift_slope": (5.88, 0.3), "friction_drag": (0.0173, 0.002), "bubble_drag": (0.032, 0.010),
    "recovery_width": (0.65, 0.3), "ln_tunnel": (np.log(6.25e4), 0.1),
    "ln_blade": (np.log(4.8e4), 0.3), "thin_held": (0.3, 0.3), "thin_stall": (11.75, 2.0),
    "thin_drag": (0.02, 0.01), "thin_least": (0.5, 0.15), "clark_stall": (14.8, 1.0),
    "clark_drag": (0.0064, 0.003), "clark y": (-3.3, 0.2), "thin moderate": (-4.2, 1.5),
    "thin cambered": (-6.0, 2.0)}
"""Mean and standard deviation of what is fitted; angles in degrees."""

ANGLE_DEVIATION = 0.8
"""Standard deviation of a design's angle about its stated one [degrees]; judgement."""

MODEL = 0.04
"""Standard deviation of a coefficient over its peak that the fit expects [-]; judgement."""

POINTS = 12
"""Effective number of points of a design, and of polars: points of one blade err together."""

RADII = 10
"""Elements along a blade in the fit."""


@dataclass(frozen=True, kw_only=True)
class LeftOut:
    """Prediction of one propeller: per point, error over the peak and deviations from the band."""

    name: str
    design: str
    tested: Tested
    thrust: np.ndarray
    power: np.ndarray


def design(one: Tested) -> str:
    """Propellers of one blade share their name but for the count."""
    return one.name.split(" ")[0]


def _sections(values: dict[str, float]) -> dict[str, sections.LowReynoldsSection]:
    shared = {key: values[key] for key in ("lift_slope", "friction_drag", "bubble_drag",
                                           "recovery_width")}
    found = {}
    for name, base in sections.SECTIONS.items():
        assert isinstance(base, sections.LowReynoldsSection)
        own = ({"stall_angle": np.deg2rad(values["clark_stall"]), "lift_drag": values["clark_drag"]}
               if name == "clark y" else
               {"stall_angle": np.deg2rad(values["thin_stall"]), "lift_drag": values["thin_drag"],
                "least_drag_lift": values["thin_least"], "held_camber": values["thin_held"]})
        found[name] = replace(base, camber_angle=np.deg2rad(values[name]),
                              recovery_reynolds=float(np.exp(values["ln_blade"])), **shared, **own)
    return found


def _predict(one: Tested, found: dict[str, sections.LowReynoldsSection], shift: float,
             radii: int) -> tuple[np.ndarray, np.ndarray]:
    blade = one.geometry
    loads = blade_loads(
        replace(blade, section=found[str(blade.section)],
                angle=np.asarray(blade.angle) + blade.angle_shift + np.deg2rad(shift), pitch=None),
        air=SEA_LEVEL, shaft_speed=one.shaft_speed, advance_ratio=one.advance_ratio, radii=radii)
    return loads.thrust, loads.power


def fitted(known: list[Tested]) -> dict[str, sections.LowReynoldsSection]:
    """Sections fitted to the polars and to these propellers."""
    from scipy.optimize import least_squares

    names, designs = list(PRIORS), sorted({design(one) for one in known})
    mean = np.array([*(PRIORS[name][0] for name in names), *np.zeros(len(designs))])
    width = np.array([*(PRIORS[name][1] for name in names),
                      *np.full(len(designs), ANGLE_DEVIATION)])
    polars = [row for row in rows("section_polars") if row["alpha_deg"] < 11.5]
    reynolds, alpha, lift, drag = (np.array([row[key] for row in polars])
                                   for key in ("reynolds", "alpha_deg", "cl", "cd"))

    def residual(z: np.ndarray) -> np.ndarray:
        x = mean + width * z
        values, shifts = dict(zip(names, x, strict=False)), x[len(names):]
        found = _sections(values)
        tunnel = replace(found["clark y"], recovery_reynolds=float(np.exp(values["ln_tunnel"])))
        cl, cd = tunnel.coefficients(angle=np.deg2rad(alpha), reynolds=reynolds, mach=0.0)
        weight = np.sqrt(20.0 / alpha.size)
        parts = [z, (cl - lift) / 0.06 * weight, np.log(cd / drag) / 0.2 * weight]
        for one in known:
            sisters = sum(design(other) == design(one) for other in known)
            weight = np.sqrt(POINTS / one.thrust.size / sisters) / MODEL
            for ours, theirs in zip(_predict(one, found, shifts[designs.index(design(one))],
                                             RADII), (one.thrust, one.power), strict=True):
                parts.append(weight * (ours - theirs) / theirs.max())
        return np.concatenate(parts)

    best = least_squares(residual, np.zeros(mean.size), diff_step=2e-3, xtol=1e-3, ftol=1e-3,
                         max_nfev=8)
    return _sections(dict(zip(names, mean + width * best.x, strict=False)))


@cache
def fitted_without(name: str) -> dict[str, sections.LowReynoldsSection]:
    """Sections fitted to the polars and to all propellers but those of one blade design."""
    return fitted([one for one in measured_propellers()
                   if one.name not in SUSPECT and design(one) != name])


@cache
def left_out(only: str = "") -> tuple[LeftOut, ...]:
    """Every design (or one) predicted by constants fitted to the others."""
    trusted = [one for one in measured_propellers() if one.name not in SUSPECT]
    answer = []
    for name in sorted({design(one) for one in trusted}):
        if only in ("", name):
            found = fitted_without(name)
            for one in trusted:
                if design(one) == name:
                    thrust, power = _predict(one, found, 0.0, 20)
                    answer.append(LeftOut(name=one.name, design=name, tested=one, thrust=thrust,
                                          power=power))
    return tuple(answer)


def highest_static(one: Tested) -> int:
    """Place of the static reading at the highest shaft speed."""
    return int(np.argmax(np.where(one.advance_ratio == 0.0, one.shaft_speed, -1.0)))


def anchored_prediction(one: LeftOut) -> LeftOut:
    """The same, with the factors on CT and CP that its highest static reading asks for."""
    place = highest_static(one.tested)
    return replace(one, thrust=one.thrust * one.tested.thrust[place] / one.thrust[place],
                   power=one.power * one.tested.power[place] / one.power[place])


def rest_thrust(one: LeftOut) -> np.ndarray:
    """Predicted CT at rest for each point: of the static point nearest in shaft speed."""
    rest = np.flatnonzero(one.tested.advance_ratio == 0.0)
    nearest = np.abs(np.log(one.tested.shaft_speed[:, None] / one.tested.shaft_speed[rest])
                     ).argmin(axis=1)
    return np.asarray(one.thrust[rest[nearest]])


def inside(one: LeftOut, band: Band, deviations: float) -> tuple[np.ndarray, np.ndarray]:
    """Whether measured CT and CP lie inside the band at the advance ratio flown."""
    at = coefficient_band(thrust=one.thrust, power=one.power, rest_thrust=rest_thrust(one),
                          advance_ratio=one.tested.advance_ratio, band=band,
                          deviations=deviations)
    return tuple((low <= measured) & (measured <= high) for (low, high), measured in zip(
        (at.thrust, at.power), (one.tested.thrust, one.tested.power), strict=True))


def rms(one: LeftOut) -> tuple[float, float]:
    """Rms errors of CT and CP over their measured peaks [-]."""
    return tuple(float(np.sqrt(np.mean(np.square((ours - theirs) / theirs.max()))))
                 for ours, theirs in ((one.thrust, one.tested.thrust),
                                      (one.power, one.tested.power)))


def by_design(found: tuple[LeftOut, ...]) -> np.ndarray:
    """Mean over designs of the rms errors; the propellers of a design count as one."""
    names = sorted({one.design for one in found})
    return np.mean([np.mean([rms(one) for one in found if one.design == name], axis=0)
                    for name in names], axis=0)


def pooled(found: tuple[LeftOut, ...], deviations: float, *, anchored: bool) -> np.ndarray:
    """Share of all points inside the bands, CT and CP [-]."""
    held = [inside(one, ANCHORED_BAND if anchored else table_band(one.tested.geometry), deviations)
            for one in found]
    return np.array([np.concatenate([pair[k] for pair in held]).mean() for k in (0, 1)])


def _errors(one: LeftOut) -> tuple[np.ndarray, np.ndarray]:
    """Errors of the loading, and of the logarithm of power above momentum theory [-]."""
    excess = one.tested.power - ideal_power(thrust=one.tested.thrust,
                                            advance_ratio=one.tested.advance_ratio)
    own = one.power - ideal_power(thrust=one.thrust, advance_ratio=one.tested.advance_ratio)
    both = (excess > 0.0) & (own > 0.0)
    return (one.tested.thrust - one.thrust) / rest_thrust(one), np.log(excess[both] / own[both])


def deviations(one: LeftOut) -> tuple[float, float]:
    """Root mean squares of the two errors [-]."""
    load, above = (float(np.sqrt(np.mean(error**2))) for error in _errors(one))
    return load, above


def biases(one: LeftOut) -> tuple[float, float]:
    """Means of the two errors [-]."""
    load, above = (float(np.mean(error)) for error in _errors(one))
    return load, above


def lines() -> Iterator[str]:
    """What the command prints."""
    found = left_out()
    for title, chosen, anchored in (("from its blades", found, False),
                                    ("anchored", tuple(map(anchored_prediction, found)), True)):
        yield f"{title}: rms CT, CP [%]; share of points inside 68 % and 95 % (CT, CP)"
        for one in chosen:
            band = ANCHORED_BAND if anchored else table_band(one.tested.geometry)
            shares = [part.mean() for z in (1.0, 1.96) for part in inside(one, band, z)]
            load, above = _errors(one)
            yield (f"  {one.name:16s} {100 * rms(one)[0]:5.1f} {100 * rms(one)[1]:5.1f}   "
                   + " ".join(f"{100 * share:4.0f}" for share in shares)
                   + f"   loading {100 * load.mean():+5.1f} rms "
                   f"{100 * np.sqrt(np.mean(load**2)):4.1f}   ln excess {above.mean():+.2f} rms "
                   f"{np.sqrt(np.mean(above**2)):.2f}")
        yield "  mean over designs {:.1f} {:.1f}".format(*100 * by_design(chosen))
        for name, z in (("68 %", 1.0), ("95 %", 1.96)):
            yield f"  pooled inside {name}: " + " ".join(
                f"{100 * share:.0f}" for share in pooled(chosen, z, anchored=anchored))


if __name__ == "__main__":
    print("\n".join(lines()))
