"""Where an airframe's drag comes from: given, built up from parts, or told by unpowered flight.

Each function takes what is known and gives the airframe's polar with what it rests on and how far
it may be off, as one :class:`DragBasis`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.build_up import Body, BuildUp, Part, build_up
from thrustlapse.aircraft.drag import Airframe, induced_factor
from thrustlapse.aircraft.glide import (
    PolarFit,
    drag_from_best_glide,
    drag_from_glide_ratio,
)
from thrustlapse.aircraft.span_efficiency import MODEL_SCATTER, model_scale
from thrustlapse.arrays import Array, Values, plain

SOURCES = ("given", "parts", "glide ratio", "sink and speed", "coasting run")
"""Where drag may come from, by word."""

DEFAULT_GLIDE_DEVIATION, DEFAULT_AIRSPEED_SHARE = 0.10, 0.05
"""Relative standard deviations of a glide ratio and of its airspeed, where none is stated;
judgement: air is seldom still, and airspeed indicators of models are seldom calibrated."""

PARTS_OVER_MEASURED = 0.15
"""Relative standard deviation of a whole build-up, for those who need one number: its band is
wider, and its one check against a measured aircraft erred by 7 to 12 %. Judgement."""


@dataclass(frozen=True, kw_only=True)
class Recipe:
    """What a build-up is made of, so that it can be made at another airspeed."""

    parts: tuple[Part, ...]
    form_factors: str
    friction: str
    allowance: float

    def at(self, airspeed: Values, air: Air) -> BuildUp:
        """The build-up at airspeeds [m/s] in still air."""
        return build_up(self.parts, air=air, airspeed=airspeed, source=self.form_factors,
                        turbulent=self.friction, allowance=self.allowance)


@dataclass(frozen=True, kw_only=True)
class DragBasis:
    """What a polar rests on.

    ``source`` is a word of :data:`SOURCES`. ``low`` and ``high`` bound CDmin (a build-up's band;
    one standard deviation to each side else); ``deviation`` and ``induced_deviation`` are standard
    deviations of CDmin and k, and ``correlation`` theirs [-]. NaN where nothing is stated.
    ``span_efficiency`` NaN where no aspect ratio is known. ``scatter`` of readings over their
    stated deviation; ``separable`` whether CDmin and k are known apart. ``recipe`` for parts,
    worked out at ``reference_speed`` [m/s]. ``told`` are sentences about what was assumed and
    found.
    """

    source: str
    low: float = float("nan")
    high: float = float("nan")
    deviation: float = float("nan")
    induced_deviation: float = float("nan")
    correlation: float = 0.0
    span_efficiency: float = float("nan")
    scatter: float = float("nan")
    separable: bool = True
    reference_speed: float = float("nan")
    recipe: Recipe | None = None
    told: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Lift:
    """What is said of lift-dependent drag: any of it, or nothing.

    ``aspect_ratio`` and ``span_efficiency``, or ``induced_factor`` [-]; ``span`` [m].
    """

    aspect_ratio: float | None = None
    span_efficiency: float | None = None
    induced_factor: float | None = None
    span: float | None = None

    @property
    def known(self) -> float | None:
        """Induced factor as given, or of aspect ratio and efficiency as given; else None."""
        if self.induced_factor is not None:
            return self.induced_factor
        if self.aspect_ratio is None or self.span_efficiency is None:
            return None
        found: float = plain(induced_factor(aspect_ratio=self.aspect_ratio,
                                            span_efficiency=self.span_efficiency))
        return found


def given_drag(blank: Airframe, lift: Lift, *, minimum_drag_coefficient: float,
               body_width: float = 0.0) -> tuple[Airframe, DragBasis]:
    """Polar as given; the span efficiency is estimated where it is not.

    Parameters
    ----------
    blank : Airframe
        The aircraft; its CDmin and induced factor are replaced
    body_width : float
        Of the widest body, for the estimate [m]
    """
    factor, spread, told = _induced(lift, minimum_drag_coefficient, body_width)
    made = replace(blank, minimum_drag_coefficient=minimum_drag_coefficient, induced_factor=factor)
    return made, DragBasis(source="given", induced_deviation=spread, told=told,
                           span_efficiency=_efficiency(lift, factor))


def drag_of_parts(blank: Airframe, lift: Lift, recipe: Recipe, *, air: Air,
                  airspeed: float) -> tuple[Airframe, DragBasis]:
    """Polar of a build-up at an airspeed [m/s]."""
    built = recipe.at(airspeed, air)
    area = float(np.asarray(blank.wing_area))
    least = float(built.drag_area) / area
    width = max((float(np.asarray(part.width)) for part in recipe.parts
                 if isinstance(part, Body) and not part.pod), default=0.0)
    made, basis = given_drag(blank, lift, minimum_drag_coefficient=least, body_width=width)
    return made, replace(
        basis, source="parts", low=float(built.low) / area, high=float(built.high) / area,
        deviation=PARTS_OVER_MEASURED * least, reference_speed=airspeed, recipe=recipe)


def drag_of_glide_ratio(blank: Airframe, lift: Lift, *, glide_ratio: float, airspeed: float,
                        mass: float, density: float, best: bool, glide_deviation: float,
                        airspeed_deviation: float,
                        machine_drag_area: float = 0.0) -> tuple[Airframe, DragBasis]:
    """Polar of one glide ratio at one airspeed.

    Parameters
    ----------
    best : bool
        It is the best the aircraft has: then CDmin and k both follow; else k must be known or is
        estimated
    glide_deviation, airspeed_deviation : float
        Standard deviations [-], [m/s]
    machine_drag_area : float
        Drag area of what flew along of the propulsion, taken off [m^2]

    Raises
    ------
    ValueError
        Where no parabola has that glide.
    """
    area, offset = float(np.asarray(blank.wing_area)), float(np.asarray(blank.lift_of_least_drag))
    flown = {"mass": mass, "density": density, "wing_area": area, "lift_of_least_drag": offset}

    def polar(ratio: float, speed: float, factor: float) -> Array:
        if best:
            least, factor = map(float, drag_from_best_glide(glide_ratio=ratio, airspeed=speed,
                                                            **flown))
        else:
            least = float(drag_from_glide_ratio(glide_ratio=ratio, airspeed=speed,
                                                induced_factor=factor, **flown))
        return np.array([least - machine_drag_area / area, factor])

    told: tuple[str, ...] = ()
    spread, factor = 0.0, lift.known
    estimated = factor is None and not best
    if factor is None:
        factor = _induced(lift, FIRST_GUESS, 0.0)[0] if estimated else 0.0
    found = polar(glide_ratio, airspeed, factor)
    for _ in range(ROUNDS if estimated and found[0] > 0.0 else 0):
        factor, spread, told = _induced(lift, float(found[0]), 0.0)
        found = polar(glide_ratio, airspeed, factor)
    least, factor = found.tolist()
    if not (least > 0.0 and factor > 0.0):
        raise ValueError(NO_POLAR)
    causes = ((glide_ratio, glide_deviation), (airspeed, airspeed_deviation), (factor, spread))
    turns = []
    for place, (value, deviation) in enumerate(causes):
        above, below = ([cause * (1.0 + sign * STEP * (place == which))
                         for which, (cause, _) in enumerate(causes)] for sign in (1.0, -1.0))
        turns.append((polar(*above) - polar(*below)) / (2.0 * STEP * value) * deviation)
    jacobian = np.stack(turns, axis=1)
    made = replace(blank, minimum_drag_coefficient=least, induced_factor=factor)
    return made, _measured("glide ratio", jacobian @ jacobian.T, least=least, factor=factor,
                           lift=lift, told=told)


FIRST_GUESS, ROUNDS = 0.03, 8
"""CDmin with which an estimated span efficiency begins, on which it depends weakly, and rounds."""

STEP = 1e-4
"""Relative step of the derivatives of a glide."""


def drag_of_fit(blank: Airframe, lift: Lift, fit: PolarFit, *, source: str,
                machine_drag_area: float = 0.0,
                told: tuple[str, ...] = ()) -> tuple[Airframe, DragBasis]:
    """Polar of sinks or of a coasting run.

    Deviations are widened by the scatter where readings scatter more than they say.

    Raises
    ------
    ValueError
        Where the fit is no polar: CDmin or k at or below zero.
    """
    least = fit.minimum_drag_coefficient - machine_drag_area / float(np.asarray(blank.wing_area))
    factor = fit.induced_factor
    if not (least > 0.0 and factor > 0.0):
        raise ValueError(f"{NO_POLAR}: CDmin {least:.4g}, induced factor {factor:.4g}")
    wider = max(1.0, fit.scatter) if np.isfinite(fit.scatter) else 1.0
    made = replace(blank, minimum_drag_coefficient=least, induced_factor=factor)
    basis = _measured(source, fit.covariance * wider**2, least=least, factor=factor, lift=lift,
                      told=told)
    if fit.separable and np.any(fit.covariance[1] != 0.0):
        basis = replace(basis, told=(*basis.told, f"least certain: {fit.weakest}"))
    return made, replace(basis, scatter=fit.scatter, separable=fit.separable)


NO_POLAR = "no polar explains it, with drag and induced drag above zero"


def _measured(source: str, covariance: Array, least: float, factor: float, lift: Lift,
              told: tuple[str, ...]) -> DragBasis:
    one, two = np.sqrt(np.diag(covariance)).tolist()
    joint = float(covariance[0, 1]) / (one * two) if one > 0.0 and two > 0.0 else 0.0
    return DragBasis(source=source, low=least - one, high=least + one, deviation=one,
                     induced_deviation=two, correlation=joint, told=told,
                     span_efficiency=_efficiency(lift, factor))


def _efficiency(lift: Lift, factor: float) -> float:
    if lift.aspect_ratio is None:
        return float("nan")
    return float(np.median(1.0 / (np.pi * lift.aspect_ratio * factor)))


def _induced(lift: Lift, least: float,
             body_width: float) -> tuple[float, float, tuple[str, ...]]:
    """Induced factor, its deviation where it is estimated (NaN else), and the sentence."""
    known = lift.known
    if known is not None:
        return known, float("nan"), ()
    if lift.aspect_ratio is None:
        raise ValueError("the lift-dependent drag is not given")
    share = body_width / lift.span if lift.span else 0.0
    efficiency = plain(model_scale(aspect_ratio=lift.aspect_ratio, minimum_drag_coefficient=least,
                                   body_width_ratio=share))
    factor = plain(induced_factor(aspect_ratio=lift.aspect_ratio, span_efficiency=efficiency))
    return factor, MODEL_SCATTER * factor, (
        f"span efficiency {np.median(efficiency):.2f}, estimated from aspect ratio and least drag; "
        f"three measured small aircraft scatter by {100 * MODEL_SCATTER:.0f} % about it",)
