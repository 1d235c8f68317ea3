"""Drag from flight without thrust: a glide ratio, pairs of airspeed and sink, a coasting run.

Weighted least squares of the polar CD = CDmin + k (CL - CL0)^2. What the data cannot tell apart
is said: ``weakest`` is the combination of CDmin and k that they hold least. The machine stands
still or is folded away; whatever drag it leaves is in the answer.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, Values

WORST_CONDITION = 30.0
"""Condition number of the scaled Jacobian above which CDmin and k are called inseparable."""

SINGULAR = 1e-12
"""Ratio of singular values, all columns of one size, below which nothing can be told apart."""

INVERSION_STEPS = 4
"""Newton steps from a reading to the airspeed predicted at its time."""

NODES, WEIGHTS = np.polynomial.legendre.leggauss(8)
"""Gauss-Legendre rule for the time between two airspeeds of a coasting run."""


@dataclass(frozen=True, kw_only=True)
class GlidePoints:
    """Steady glides: lift and drag coefficients [-] and the deviations of the drag coefficient."""

    lift_coefficient: Array
    drag_coefficient: Array
    deviation: Array


@dataclass(frozen=True, kw_only=True)
class PolarFit:
    """Polar that best explains flights without thrust.

    ``minimum_drag_coefficient`` and ``induced_factor`` with ``covariance`` in that order;
    ``scatter`` is the root of the mean squared residual over the stated deviation (near 1 where
    the stated deviations are honest). ``condition`` of the scaled Jacobian; ``separable`` where
    it is small enough for the two to be known apart; ``weakest`` says what is known least.
    ``residual`` is in units of the stated deviation, one per reading. Where k was held, its
    deviation is zero.
    """

    minimum_drag_coefficient: float
    induced_factor: float
    lift_of_least_drag: float
    covariance: Array
    scatter: float
    residual: Array
    condition: float
    separable: bool
    weakest: str

    @property
    def deviations(self) -> Array:
        """Standard deviations of CDmin and k."""
        return np.sqrt(np.diag(self.covariance))

    def airframe(self, airframe: Airframe) -> Airframe:
        """Same airframe with this polar."""
        return replace(airframe, minimum_drag_coefficient=self.minimum_drag_coefficient,
                       induced_factor=self.induced_factor,
                       lift_of_least_drag=self.lift_of_least_drag)


def drag_from_glide_ratio(*, glide_ratio: Values, airspeed: Values, mass: Values, density: Values,
                          wing_area: Values, induced_factor: Values,
                          lift_of_least_drag: Values = 0.0) -> Array:
    """CDmin from one glide ratio at one airspeed, induced factor known [-].

    Parameters
    ----------
    glide_ratio : array_like
        Distance over height lost in still air [-]
    airspeed : array_like
        Along the path [m/s]
    mass, density, wing_area : array_like
        kg, kg/m^3, m^2
    induced_factor, lift_of_least_drag : array_like
        k and CL0 [-]
    """
    slope = np.arctan(1.0 / np.asarray(glide_ratio, dtype=float))
    force = 0.5 * np.asarray(density) * np.square(airspeed) * wing_area
    lift = mass * GRAVITY * np.cos(slope) / force
    return np.asarray(lift / glide_ratio
                      - induced_factor * np.square(lift - lift_of_least_drag))


def drag_from_best_glide(*, glide_ratio: Values, airspeed: Values, mass: Values, density: Values,
                         wing_area: Values,
                         lift_of_least_drag: Values = 0.0) -> tuple[Array, Array]:
    """CDmin and k from the best glide ratio and its airspeed [-].

    There CL^2 = CL0^2 + CDmin / k, and the ratio is 1 / (2 k (CL - CL0)). The speed of best glide
    is flat and hard to find in flight: 10 % in it is 20 % in CDmin. NaN where the lift there is
    not above CL0, which no parabola allows.
    """
    ratio = np.asarray(glide_ratio, dtype=float)
    force = 0.5 * np.asarray(density) * np.square(airspeed) * wing_area
    lift = mass * GRAVITY * np.cos(np.arctan(1.0 / ratio)) / force
    above = lift - lift_of_least_drag
    factor = 0.5 / (ratio * np.where(above > 0.0, above, np.nan))
    return np.asarray(factor * (lift**2 - np.square(lift_of_least_drag))), np.asarray(factor)


def glide_points(*, airspeed: Array, sink: Array, mass: Values, density: Values,
                 wing_area: Values, airspeed_deviation: Values = 0.0,
                 sink_deviation: Values = 0.0, slope: Values = 0.0) -> GlidePoints:
    """Coefficients of steady glides, exact at any path angle.

    Parameters
    ----------
    airspeed, sink : array
        Along the path, and rate of height lost in still air [m/s]
    airspeed_deviation, sink_deviation : array_like
        Standard deviations of the readings [m/s]
    slope : array_like
        dCD/dCL of the polar [-]: an error of airspeed moves the point along both axes, and what
        counts is its distance from the polar. 0 treats CL as known.
    """
    v, w = np.asarray(airspeed, dtype=float), np.asarray(sink, dtype=float)
    force = 0.5 * np.asarray(density) * v * v * wing_area
    weight = np.asarray(mass) * GRAVITY
    sine = w / v
    lift, drag = weight * np.sqrt(1.0 - sine * sine) / force, weight * sine / force
    by_speed = -3.0 * drag / v + slope * 2.0 * lift / v
    by_sink = drag / w
    deviation = np.hypot(by_speed * airspeed_deviation, by_sink * sink_deviation)
    return GlidePoints(lift_coefficient=lift, drag_coefficient=drag,
                       deviation=np.broadcast_to(deviation, v.shape))


def fit_glides(*, airspeed: Array, sink: Array, mass: Values, density: Values, wing_area: Values,
               airspeed_deviation: Values, sink_deviation: Values,
               lift_of_least_drag: float = 0.0, induced_factor: float | None = None) -> PolarFit:
    """CDmin and k from pairs of airspeed and sink [m/s]; see :func:`glide_points`.

    Two rounds: the second weighs each reading by its distance from the polar of the first. Where
    ``induced_factor`` is given, k is held there and CDmin alone is sought.

    Raises
    ------
    ValueError
        With fewer than two different airspeeds for two unknowns, or deviations that are not above
        zero.
    """
    if induced_factor is None:
        _enough(airspeed)
    slope: Values = 0.0
    for _ in range(2):
        points = glide_points(airspeed=airspeed, sink=sink, mass=mass, density=density,
                              wing_area=wing_area, airspeed_deviation=airspeed_deviation,
                              sink_deviation=sink_deviation, slope=slope)
        if not np.all(points.deviation > 0.0):
            raise ValueError("airspeed_deviation or sink_deviation must be above zero")
        offset = points.lift_coefficient - lift_of_least_drag
        matrix = np.stack([np.ones_like(offset), offset**2], axis=1) / points.deviation[:, None]
        measured = points.drag_coefficient / points.deviation
        if induced_factor is None:
            found, *_ = np.linalg.lstsq(matrix, measured)
        else:
            known = matrix[:, 0]
            rest = measured - induced_factor * matrix[:, 1]
            found = np.array([known @ rest / (known @ known), induced_factor])
        slope = 2.0 * found[1] * offset
    residual = measured - matrix @ found
    if induced_factor is not None:
        return _held(np.asarray(found, dtype=float), 1.0 / float(matrix[:, 0] @ matrix[:, 0]),
                     residual, lift_of_least_drag, unknowns=1)
    return _polar(np.asarray(found, dtype=float), matrix, residual, lift_of_least_drag)


@np.errstate(all="ignore")  # what is lost on the way is refused at the end
def fit_coasting(*, time: Array, airspeed: Array, mass: float, density: float, wing_area: float,
                 airspeed_deviation: float, lift_of_least_drag: float = 0.0,
                 induced_factor: float | None = None) -> PolarFit:
    """CDmin and k from a level run with the motor cut: airspeed [m/s] against time [s].

    The time to slow down from V0 to V is the integral of m dV / D(V); turned round by Newton's
    steps it predicts the airspeed at each time, and the misfit of airspeed is made least. V0 is an
    unknown too. A short run, or one in a narrow range of airspeed, leaves k nearly unknown: read
    ``deviations``, or hold k at an ``induced_factor``.

    Raises
    ------
    ValueError
        With fewer than four readings, or if no falling airspeed explains them.
    """
    t, v = np.asarray(time, dtype=float), np.asarray(airspeed, dtype=float)
    if v.size < 4:
        raise ValueError("a coasting run needs four readings or more")
    if not (v[-1] < v[0] and v.min() > 0.0):
        raise ValueError("the airspeed of a coasting run must fall, and stay above zero")
    from scipy.optimize import least_squares

    half = 0.5 * density * wing_area
    lift = mass * GRAVITY / half
    ends = np.array([v.max(), v.min()])
    # unknowns are ln CD at the fastest and the slowest reading: drag is positive between them
    to_ends = np.stack([np.ones(2), (lift / ends**2 - lift_of_least_drag)**2], axis=1)
    # singular where both ends lie as far from the lift of least drag: told below
    to_polar = np.linalg.pinv(to_ends)

    def deceleration(speed: Array, polar: Array) -> Array:
        square = speed * speed
        return np.asarray(half / mass * square * (
            polar[0] + polar[1] * (lift / square - lift_of_least_drag) ** 2))

    def polar_of(logs: Array) -> Array:
        if induced_factor is None:
            return np.asarray(to_polar @ np.exp(logs))
        return np.array([np.exp(logs[0]), induced_factor])

    def misfit(unknown: Array) -> Array:
        start, polar = unknown[-1], polar_of(unknown[:-1])
        predicted = v
        for _ in range(INVERSION_STEPS):
            middle, reach = 0.5 * (start + predicted), 0.5 * (start - predicted)
            speed = middle[:, None] + reach[:, None] * NODES
            late = reach * np.sum(WEIGHTS / deceleration(speed, polar), axis=1)
            predicted = predicted + (late - (t - t[0])) * deceleration(predicted, polar)
        return np.asarray((predicted - v) / airspeed_deviation)

    mean = 0.5 * (v[0] + v[-1])
    guess = np.log((v[0] - v[-1]) / (t[-1] - t[0]) * mass / (half * mean**2))
    begin = [guess, guess, v[0]] if induced_factor is None else [guess - np.log(2.0), v[0]]
    try:
        answer = least_squares(misfit, np.array(begin), method="lm", xtol=1e-12, ftol=1e-12,
                               gtol=1e-12)
    except ValueError:  # readings so far from any run that the prediction is lost
        raise ValueError(NO_RUN) from None
    polar = polar_of(answer.x[:-1])
    # how the misfit goes with the drag at the ends, with the airspeed of the start left free
    of_start = answer.jac[:, -1:]
    of_drag = (answer.jac[:, :-1] - of_start @ (of_start.T @ answer.jac[:, :-1])
               / np.sum(of_start**2)) / np.exp(answer.x[:-1])
    told = np.sum(of_drag**2)
    if not (answer.success and 0.0 < told < np.inf):
        raise ValueError(NO_RUN)
    if induced_factor is not None:
        return _held(polar, 1.0 / float(told), answer.fun, lift_of_least_drag, unknowns=2)
    return _polar(polar, of_drag @ to_ends, answer.fun, lift_of_least_drag, unknowns=3)


NOT_TOLD = ("cannot tell CDmin from the induced factor: give two or more, well apart, or the "
            "induced factor")
NO_RUN = "no polar explains the readings: are they from level flight with the motor cut?"


def _held(found: Array, variance: float, residual: Array, lift_of_least_drag: float, *,
          unknowns: int) -> PolarFit:
    """Fit of CDmin alone."""
    freedom = residual.size - unknowns
    scatter = float(np.sqrt(np.sum(residual**2) / freedom)) if freedom > 0 else float("nan")
    return PolarFit(
        minimum_drag_coefficient=float(found[0]), induced_factor=float(found[1]),
        lift_of_least_drag=lift_of_least_drag, covariance=np.diag([variance, 0.0]),
        scatter=scatter, residual=residual, condition=1.0, separable=True,
        weakest="k was held, CDmin alone was sought")


def _enough(airspeed: Array) -> None:
    if np.unique(airspeed).size < 2:
        raise ValueError(f"one airspeed {NOT_TOLD}")


def _polar(found: Array, matrix: Array, residual: Array, lift_of_least_drag: float,
           unknowns: int = 2) -> PolarFit:
    apart = np.linalg.svd(matrix / np.sqrt(np.sum(matrix**2, axis=0)), compute_uv=False)
    if not apart[-1] > SINGULAR * apart[0]:
        raise ValueError(f"the readings {NOT_TOLD}")
    _, singular, combos = np.linalg.svd(matrix * found)
    condition = float(singular[0] / singular[-1])
    freedom = residual.size - unknowns
    scatter = float(np.sqrt(np.sum(residual**2) / freedom)) if freedom > 0 else float("nan")
    share = 100.0 / singular[-1]
    one, two = combos[-1]
    sense = "together" if one * two > 0.0 else "against each other"
    covariance = np.asarray(np.linalg.inv(matrix.T @ matrix), dtype=float)
    return PolarFit(
        minimum_drag_coefficient=float(found[0]), induced_factor=float(found[1]),
        lift_of_least_drag=lift_of_least_drag, covariance=covariance, scatter=scatter,
        residual=residual, condition=condition, separable=condition < WORST_CONDITION,
        weakest=f"CDmin and k moving {sense}, CDmin by {abs(one) * share:.1f} % while k moves by "
                f"{abs(two) * share:.1f} %, change the readings by one deviation in all")
