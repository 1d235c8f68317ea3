"""The dimensionless map of a ducted rotor, its sources, its limits, and the fan laws.

One map type serves every ducted machine, centrifugal or axial. With the total state at the
rotor face (station 2), tip speed ``U`` and tip diameter ``D``:

    flow coefficient    phi = mdot / (rhot2 U D^2)
    head coefficient    psi = dh_s / U^2                 isentropic, total to total
    power coefficient   Pi  = P_shaft / (rhot2 U^3 D^2)

``psi phi / Pi`` is the isentropic efficiency. A map is a function of ``phi`` alone: that is what
the fan laws mean at low pressure.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np

from thrustlapse.air.gas import GAMMA, SPECIFIC_HEAT
from thrustlapse.arrays import FIXED, Array, BoolArray, Values, batch_shape


@dataclass(frozen=True, kw_only=True)
class Band:
    """How far a map may be trusted: relative standard deviations, and where they come from.

    With ``loading`` (a propeller computed from its blades) ``head`` is of the thrust at rest,
    added at every advance ratio, and ``power`` of what is above momentum theory.
    """

    flow: float = 0.0
    head: float = 0.0
    power: float = 0.0
    basis: str = "not stated"
    loading: bool = False


NOT_STATED = Band()
"""Band of a map that says nothing about itself."""


class NoMap(ValueError):
    """Dimensions that are possible one by one, and from which no map follows; says why."""


class StageMap(Protocol):
    """What the matching asks of a map. All functions are elementwise."""

    @property
    def band(self) -> Band: ...

    @property
    def lowest_flow(self) -> Array:
        """Smallest flow coefficient the map knows [-]."""
        ...

    @property
    def highest_flow(self) -> Values:
        """Largest flow coefficient the map knows [-]."""
        ...

    @property
    def stall_flow(self) -> Array:
        """Flow coefficient below which the head falls as flow falls [-]; the lowest where none."""
        ...

    def head(self, flow: Values) -> Array:
        """Head coefficient at a flow coefficient [-]; straight continuation outside the map."""
        ...

    def power(self, flow: Values) -> Array:
        """Power coefficient at a flow coefficient [-]; straight continuation outside the map."""
        ...

    def swirl(self, flow: Values) -> Array:
        """Swirl left in the stream behind the stage, over tip speed [-].

        Its energy is part of the head (total to total), and gives no thrust.
        """
        ...


@dataclass(frozen=True, kw_only=True)
class PointMap:
    """Map through points, by shape-preserving interpolation.

    ``flow`` must rise; ``head_points`` and ``power_points`` belong to it. The three scales carry
    the map to another machine or stretch it by its own uncertainty; they may be arrays and
    broadcast against the operating points.

    References
    ----------
    Fritsch and Carlson, SIAM J. Numer. Anal. 17 (1980): monotone piecewise cubics, as SciPy's
    ``PchipInterpolator`` has them.
    """

    flow: Array = field(metadata=FIXED)
    head_points: Array = field(metadata=FIXED)
    power_points: Array = field(metadata=FIXED)
    swirl_points: Array | None = field(default=None, metadata=FIXED)
    flow_scale: Values = 1.0
    head_scale: Values = 1.0
    power_scale: Values = 1.0
    band: Band = NOT_STATED
    source: str = ""
    curves: Any = field(default=None, repr=False, compare=False, metadata=FIXED)

    def __post_init__(self) -> None:
        points = (self.flow, self.head_points, self.power_points, self.swirl_points)
        if self.curves is None or not same_objects(self.curves[3], points):
            # handed on by dataclasses.replace, so that chunks share them
            curves = (straight_ended(self.flow, self.head_points),
                      straight_ended(self.flow, self.power_points),
                      None if self.swirl_points is None
                      else straight_ended(self.flow, self.swirl_points), points)
            object.__setattr__(self, "curves", curves)

    @property
    def lowest_flow(self) -> Array:
        return np.asarray(self.flow[0] * np.asarray(self.flow_scale))

    @property
    def highest_flow(self) -> Array:
        return np.asarray(self.flow[-1] * np.asarray(self.flow_scale))

    @property
    def stall_flow(self) -> Array:
        # a shape-preserving curve has its peak at one of its points
        return np.asarray(self.flow[int(np.argmax(self.head_points))] * np.asarray(self.flow_scale))

    def head(self, flow: Values) -> Array:
        return np.asarray(self.curves[0](flow / np.asarray(self.flow_scale)) * self.head_scale)

    def power(self, flow: Values) -> Array:
        return np.asarray(self.curves[1](flow / np.asarray(self.flow_scale)) * self.power_scale)

    def swirl(self, flow: Values) -> Array:
        phi = np.asarray(flow / np.asarray(self.flow_scale))
        return np.asarray(np.zeros(phi.shape) if self.curves[2] is None else self.curves[2](phi))


@dataclass(frozen=True, kw_only=True)
class CoefficientMap:
    """Map from a handful of coefficients, each of which may be an array.

        psi = head_shutoff + head_slope phi + head_curvature phi^2
        Pi  = phi (work_shutoff + work_slope phi) + shutoff_power

    ``shutoff_power`` (kappa) collects disc friction, leakage and recirculation, so that a blocked
    machine still draws power; ``work_shutoff`` and ``work_slope`` are the Euler work over U^2.
    """

    head_shutoff: Values
    head_slope: Values = 0.0
    head_curvature: Values = 0.0
    work_shutoff: Values
    work_slope: Values = 0.0
    shutoff_power: Values
    highest_flow: Values
    swirl_ratio: Values = 0.0
    band: Band = NOT_STATED
    source: str = ""

    @property
    def lowest_flow(self) -> Array:
        return np.asarray(0.0 * np.asarray(self.highest_flow))

    @property
    def stall_flow(self) -> Array:
        bend, slope = np.asarray(self.head_curvature), np.asarray(self.head_slope)
        with np.errstate(divide="ignore", invalid="ignore"):
            peak = np.where((bend < 0.0) & (slope > 0.0), -slope / (2.0 * bend), 0.0)
        return np.where((bend >= 0.0) & (slope > 0.0), self.highest_flow, peak)

    def head(self, flow: Values) -> Array:
        phi = np.asarray(flow)
        return np.asarray(self.head_shutoff + phi * (self.head_slope + self.head_curvature * phi))

    def power(self, flow: Values) -> Array:
        phi = np.asarray(flow)
        return np.asarray(self.shutoff_power + phi * (self.work_shutoff + self.work_slope * phi))

    def swirl(self, flow: Values) -> Array:  # the same at every flow
        return np.asarray(np.zeros(np.shape(flow)) + self.swirl_ratio)


def straight_ended(x: Array, y: Array) -> Callable[[Array], Array]:
    """Shape-preserving curve through points, continued as a straight line at both ends.

    The continuation is for the root finder only: a root out there is reported as outside the map.
    """
    from scipy.interpolate import PchipInterpolator, PPoly

    inner = PchipInterpolator(x, y)
    first, last = inner.derivative()(x[[0, -1]])
    span = x[-1] - x[0]
    zero = np.zeros_like(first)
    left = np.stack([zero, zero, first, y[0] - first * span])[:, None]
    right = np.stack([zero, zero, last, y[-1]])[:, None]
    knots = np.concatenate([[x[0] - span], x, [x[-1] + span]])
    curve: Callable[[Array], Array] = PPoly(np.concatenate([left, inner.c, right], axis=1), knots)
    return curve


def same_objects(some: tuple[object, ...], others: tuple[object, ...]) -> bool:
    """Whether two tuples hold the very same objects."""
    return all(a is b for a, b in zip(some, others, strict=True))


def efficiency(stage: StageMap, flow: Values) -> Array:
    """Isentropic total-to-total efficiency at a flow coefficient [-]; NaN without power."""
    phi = np.asarray(flow)
    cost = stage.power(phi)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.asarray(np.where(cost > 0.0, stage.head(phi) * phi / cost, np.nan))


def exceeds_unity(stage: StageMap, *, points: int = 401) -> BoolArray:
    """Whether the shaft power is less than the isentropic power anywhere inside the map.

    Checked at ``points`` flow coefficients from the lowest to the highest; broadcast shape of the
    map's own parameters.
    """
    low, high = stage.lowest_flow, stage.highest_flow
    dimensions = len(np.broadcast_shapes(batch_shape(stage), np.shape(low), np.shape(high)))
    share = np.linspace(0.0, 1.0, points).reshape(points, *(1,) * dimensions)
    phi = low + share * (high - low)
    gain, cost = stage.head(phi) * phi, stage.power(phi)
    return np.asarray(np.any(cost < gain * (1.0 - 1e-12), axis=0))


def drives(stage: StageMap) -> BoolArray:
    """Whether the power of a map falls to zero anywhere inside it, by each of its elements."""
    low, high = stage.lowest_flow, np.asarray(stage.highest_flow)
    dimensions = len(np.broadcast_shapes(batch_shape(stage), np.shape(low), np.shape(high)))
    share = np.linspace(0.0, 1.0, 65).reshape(65, *(1,) * dimensions)
    return np.asarray(np.any(stage.power(low + share * (high - low)) <= 0.0, axis=0))


STEEP = 1.5
"""Rise of ln psi with ln phi above which a second balance cannot be ruled out (2 is certain)."""


def rises_steeply(stage: StageMap) -> bool | BoolArray:
    """Whether the head rises so steeply with flow, anywhere, that the balance may hold twice.

    Scales do not matter: they shift ln psi and ln phi and leave the slope as it is. Of a batch of
    maps each operating point's own counts.
    """
    if isinstance(stage, CoefficientMap):
        # ln psi rises by less than STEEP wherever 3 a + b phi - c phi^2 > 0
        if np.all(np.asarray(stage.head_shutoff) >= 0.0) and np.all(
                np.asarray(stage.head_slope) >= 0.0) and np.all(
                np.asarray(stage.head_curvature) <= 0.0):
            return False
    elif isinstance(stage, PointMap):
        stage = replace(stage, flow_scale=1.0, head_scale=1.0, power_scale=1.0)
    known = getattr(stage, "steep", None)
    return (bool(np.any(steepest_rise(stage) >= STEEP)) if known is None
            else np.asarray(known, dtype=bool))


def steepest_rise(stage: StageMap) -> Array:
    """Largest d ln psi / d ln phi inside a map [-], at 200 flows from near nothing to the end."""
    low, high = np.broadcast_arrays(stage.lowest_flow, stage.highest_flow)
    dimensions = len(np.broadcast_shapes(low.shape, batch_shape(stage)))
    share = np.geomspace(1e-3, 1.0, 200).reshape(200, *(1,) * dimensions)
    flow = np.maximum(low, high * 1e-6) + share * (high - low)
    head = stage.head(flow)
    with np.errstate(invalid="ignore", divide="ignore"):
        slope = np.diff(np.log(head), axis=0) / np.diff(np.log(flow), axis=0)
    return np.asarray(np.max(np.where(np.isfinite(slope), slope, np.inf), axis=0,
                             initial=0.0, where=head[1:] > head[:-1]))


# Conventions ---------------------------------------------------------------------------------

CONVENTIONS = ("tip speed and diameter", "fan engineering", "annulus", "mean radius")
"""Words a scenario may use for the definition of its coefficients; see :func:`from_convention`."""


def from_convention(*, convention: str, flow: Values, head: Values, power: Values,
                    hub_ratio: Values = 0.0) -> tuple[Array, Array, Array]:
    """Flow, head and power coefficients of this package from those of another convention.

    Parameters
    ----------
    convention : str
        ``tip speed and diameter``: as here. ``fan engineering``: phi = Q / (U pi D^2 / 4),
        psi = dp / (rho U^2 / 2), lambda = P / (rho U^3 pi D^2 / 8). ``annulus``:
        phi = Vx / U with Vx through the annulus, psi = dp / (rho U^2 / 2), and power on the
        annulus area, P / (rho U^3 A / 2). ``mean radius``: as ``annulus`` with the blade speed at
        the mean radius (half of hub plus tip), head as dh / Um^2 and power as P / (rho Um^3 A).
    flow, head, power : array_like
        Coefficients in that convention [-]
    hub_ratio : array_like
        Hub over tip diameter [-]; used by ``annulus`` and ``mean radius``

    Returns
    -------
    tuple of array
        phi, psi, Pi as defined at the top of this file [-]

    Raises
    ------
    ValueError
        For an unknown convention.

    Notes
    -----
    Pressure coefficients are read as head: dp / rho = dh holds at low pressure. Give a pressure
    measured at high pressure as a dimensioned point instead.

    References
    ----------
    Eck, Fans (1973), for the fan-engineering form; propeller and axial-fan practice for the rest.
    """
    phi, psi, cost = np.asarray(flow), np.asarray(head), np.asarray(power)
    annulus = np.pi / 4.0 * (1.0 - np.square(hub_ratio))
    mean = 0.5 * (1.0 + np.asarray(hub_ratio))
    if convention == "tip speed and diameter":
        return phi, psi, cost
    if convention == "fan engineering":
        return phi * np.pi / 4.0, psi / 2.0, cost * np.pi / 8.0
    if convention == "annulus":
        return np.asarray(phi * annulus), psi / 2.0, np.asarray(cost * annulus / 2.0)
    if convention == "mean radius":
        return (np.asarray(phi * annulus * mean), np.asarray(psi * mean**2),
                np.asarray(cost * annulus * mean**3))
    raise ValueError(f"unknown convention {convention!r}: expected one of {', '.join(CONVENTIONS)}")


def coefficients_from_readings(*, volume_flow: Values, pressure_rise: Values, shaft_power: Values,
                               shaft_speed: Values, diameter: Values, density: Values,
                               inlet_pressure: Values,
                               inlet_temperature: Values) -> tuple[Array, Array, Array]:
    """Coefficients from dimensioned readings at the rotor face.

    Parameters
    ----------
    volume_flow : array_like
        Volume flow at inlet total density [m^3/s]
    pressure_rise : array_like
        Rise of total pressure [Pa]
    shaft_power : array_like
        Shaft power [W]
    shaft_speed : array_like
        Shaft speed [rad/s]
    diameter : array_like
        Rotor tip diameter [m]
    density, inlet_pressure, inlet_temperature : array_like
        Total density [kg/m^3], pressure [Pa] and temperature [K] at the rotor face

    Returns
    -------
    tuple of array
        phi, psi, Pi [-]. The head is isentropic, so no compressibility correction is left to make.
    """
    tip_speed = 0.5 * np.asarray(shaft_speed) * diameter
    exponent = (GAMMA - 1.0) / GAMMA
    rise = np.expm1(exponent * np.log1p(np.asarray(pressure_rise) / inlet_pressure))
    head = SPECIFIC_HEAT * np.asarray(inlet_temperature) * rise
    flow = np.asarray(volume_flow) / (tip_speed * np.square(diameter))
    cost = np.asarray(shaft_power) / (density * tip_speed**3 * np.square(diameter))
    return np.asarray(flow), np.asarray(head / tip_speed**2), np.asarray(cost)


# Fan laws ------------------------------------------------------------------------------------


def compressibility_coefficient(*, pressure_rise: Values, inlet_pressure: Values,
                                shaft_power: Values, volume_flow: Values,
                                gamma: Values = GAMMA) -> Array:
    """Compressibility coefficient kp of a fan [-].

    The polytropic work of the path from inlet to outlet, divided by pressure rise over inlet
    density, when all shaft power heats the air. NaN at zero flow, where that heat has no limit.

    References
    ----------
    ISO 5801 / AMCA 210 carry this coefficient (attribution from memory); derived independently
    and checked against the integral of v dp in the tests.
    """
    x, z = _pressure_and_power_ratio(pressure_rise, inlet_pressure, shaft_power=shaft_power,
                                     volume_flow=volume_flow, gamma=gamma)
    return _logarithm_share(x) / _logarithm_share(z)


def carry_compressible(*, volume_flow: Values, pressure_rise: Values, shaft_power: Values,
                       inlet_pressure: Values, speed_ratio: Values, density_ratio: Values = 1.0,
                       gamma: Values = GAMMA) -> tuple[Array, Array, Array]:
    """Flow, pressure rise and power of the same fan at another speed, compressibility kept.

    The ISO 5801 / AMCA 210 route: same gas and same inlet temperature. Returns volume flow
    [m^3/s], pressure rise [Pa] and shaft power [W]; NaN at zero flow.

    References
    ----------
    ISO 5801 / AMCA 210 (conversion rules from memory, checked for consistency in the tests).
    """
    x, z = _pressure_and_power_ratio(pressure_rise, inlet_pressure, shaft_power=shaft_power,
                                     volume_flow=volume_flow, gamma=gamma)
    ratio = np.asarray(speed_ratio)
    z_new = z * ratio**2
    x_new = np.expm1(np.log1p(x) * ratio**2 * _logarithm_share(z_new) / _logarithm_share(z))
    change = (_logarithm_share(x) / _logarithm_share(z)
              / (_logarithm_share(x_new) / _logarithm_share(z_new)))
    return (np.asarray(volume_flow * ratio * change),
            np.asarray(pressure_rise * ratio**2 * density_ratio * change),
            np.asarray(shaft_power * ratio**3 * density_ratio * change))


def carry_constant_head(*, volume_flow: Values, pressure_rise: Values, shaft_power: Values,
                        inlet_pressure: Values, speed_ratio: Values, density_ratio: Values = 1.0,
                        gamma: Values = GAMMA) -> tuple[Array, Array, Array]:
    """Flow, pressure rise and power at another speed, at constant isentropic head coefficient.

    This package's default route: what a :class:`StageMap` does. Same inlet temperature; inlet
    pressure in proportion to ``density_ratio``. Returns volume flow [m^3/s], pressure rise [Pa]
    and shaft power [W]. The spread against :func:`carry_compressible` is part of the uncertainty.
    """
    g, ratio = np.asarray(gamma), np.asarray(speed_ratio)
    exponent = (g - 1.0) / g
    head = np.expm1(exponent * np.log1p(np.asarray(pressure_rise) / inlet_pressure))
    risen = np.expm1(np.log1p(head * ratio**2) / exponent)
    return (np.asarray(volume_flow * ratio),
            np.asarray(np.asarray(inlet_pressure) * density_ratio * risen),
            np.asarray(shaft_power * ratio**3 * density_ratio))


def _pressure_and_power_ratio(pressure_rise: Values, inlet_pressure: Values, shaft_power: Values,
                              volume_flow: Values, gamma: Values) -> tuple[Array, Array]:
    g = np.asarray(gamma)
    x = np.asarray(pressure_rise) / inlet_pressure
    flow = np.asarray(volume_flow, dtype=float)
    flow = np.where(flow == 0.0, np.nan, flow)
    z = (g - 1.0) / g * np.asarray(shaft_power) / (flow * inlet_pressure)
    return np.asarray(x), np.asarray(z)


def _logarithm_share(x: Array) -> Array:
    """ln(1 + x) / x, which is 1 at zero: a fan at free delivery has no pressure rise."""
    safe = np.where(x == 0.0, 1.0, x)
    return np.where(x == 0.0, 1.0, np.log1p(safe) / safe)
