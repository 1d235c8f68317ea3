"""The mean-line solution of a centrifugal stage, point by point.

:func:`centrifugal_points` is elementwise: geometry, shaft speed, inlet state and flow coefficient
broadcast, and no axis means anything. :mod:`thrustlapse.rotor.centrifugal.stage` makes a map of it.

Total pressure falls by the entropy each loss produces at the temperature where it arises: the
trade's bookkeeping inside an impeller, loss off head as it stands, misses 9 % of the loss at
210 m/s of tip speed and a quarter at 470 m/s. Parasitic work (disc friction, recirculation,
leakage) costs power and raises no pressure; its heat is left out of the density at the rim (under
1 % at the design flow), because per mass it has no bound at shutoff. The inflow has no swirl.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.air.gas import (
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    mach_from_mass_flow_function,
    temperature_ratio,
)
from thrustlapse.arrays import Array, IntArray, Values
from thrustlapse.rotor.centrifugal import losses as loss
from thrustlapse.rotor.centrifugal import scroll
from thrustlapse.rotor.centrifugal.disc_friction import disc_power, enclosed_moment_coefficient
from thrustlapse.rotor.centrifugal.euler import head_of_pressure_ratio, pressure_ratio_of_head
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry, is_sound
from thrustlapse.rotor.centrifugal.impeller import (
    Rim,
    Setting,
    rim_state,
    set_up,
    shock_free_flow,
)
from thrustlapse.rotor.centrifugal.vaneless import VanelessExit, vaneless_space
from thrustlapse.rotor.wall_friction import skin_friction_coefficient

LIMITS = ("within", "bad geometry", "flow is negative or not a number", "eye chokes",
          "inducer chokes", "impeller exit chokes or loses all pressure",
          "vaneless space chokes", "scroll throat chokes")
"""What may end a machine's flow, in the order of :attr:`CentrifugalPoints.limit`."""

INTERNAL = ("incidence", "blade loading", "skin friction", "clearance", "mixing",
            "vaneless space", "scroll", "exit cone")
"""Losses that lower the head, in the order the air meets them."""

PARASITIC = ("disc friction", "leakage", "recirculation", "part-load exchange")
"""Work that heats the air and raises no pressure."""


@dataclass(frozen=True, kw_only=True)
class CentrifugalPoints:
    """What the mean-line model says at each flow; NaN where ``limit`` is not zero.

    Parameters
    ----------
    flow, head, power : array
        phi, psi, Pi as in :mod:`thrustlapse.rotor.stage_map` [-]
    work : array
        Euler work over U^2 [-]
    internal : mapping
        Head lost by each of :data:`INTERNAL`, over U^2 [-]
    parasitic : mapping
        Power coefficient of each of :data:`PARASITIC` [-]
    exit_flow : array
        Meridional speed between the blades at the rim, over U [-]
    eye_mach, exit_mach : array
        Absolute Mach number in the eye and at the rim [-]
    exit_density_ratio : array
        Static density at the rim over total density before the eye [-]
    exit_flow_angle, scroll_flow_angle : array
        Of the absolute flow from radial, at the rim and at the base of the scroll [rad]
    diffusion_factor : array
        Of the impeller [-]
    scroll_swirl, scroll_density : array
        At the base of the scroll [m/s], [kg/m^3]
    limit : array of int
        Index into :data:`LIMITS`
    """

    flow: Array
    head: Array
    power: Array
    work: Array
    internal: Mapping[str, Array]
    parasitic: Mapping[str, Array]
    exit_flow: Array
    eye_mach: Array
    exit_mach: Array
    exit_density_ratio: Array
    exit_flow_angle: Array
    scroll_flow_angle: Array
    diffusion_factor: Array
    scroll_swirl: Array
    scroll_density: Array
    limit: IntArray

    @property
    def efficiency(self) -> Array:
        """Isentropic efficiency of wheel, diffuser, scroll and cone, total to total [-].

        All parasitic work is counted; motor and controller are not.
        """
        return np.asarray(self.head * self.flow / self.power)

    def power_terms(self) -> dict[str, Array]:
        """Where the shaft power goes, as power coefficients that add up to ``power`` [-]."""
        terms = {"head delivered": np.asarray(self.flow * self.head)}
        terms |= {name: np.asarray(self.flow * lost) for name, lost in self.internal.items()}
        return terms | dict(self.parasitic)


def centrifugal_points(geometry: CentrifugalGeometry, *, shaft_speed: Values,
                       total_pressure: Values, total_temperature: Values,
                       flow: Values) -> CentrifugalPoints:
    """Head, power and every loss of a centrifugal stage at flow coefficients.

    Parameters
    ----------
    geometry : CentrifugalGeometry
        Elements that fail :func:`thrustlapse.rotor.centrifugal.geometry.is_sound` come out NaN
    shaft_speed : array_like
        [rad/s]
    total_pressure, total_temperature : array_like
        In front of the eye [Pa], [K]
    flow : array_like
        phi = mdot / (rhot2 U D^2), zero or more [-]

    Returns
    -------
    CentrifugalPoints
        Arrays of the broadcast shape of everything above.

    Notes
    -----
    Valid for: subsonic flow in every passage, no inlet swirl. Near shutoff see
    :func:`thrustlapse.rotor.centrifugal.losses.exchange_flow`; beyond free delivery the incidence
    loss is an extrapolation of its correlation.
    """
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        setting = set_up(geometry, np.asarray(shaft_speed, float),
                         total_pressure=np.asarray(total_pressure, float),
                         total_temperature=np.asarray(total_temperature, float),
                         flow=np.asarray(flow, float))
        return _behind_impeller(setting, rim_state(setting))


def _parasitic(s: Setting, rim: Rim, exchange: Array) -> dict[str, Array]:
    """Power coefficients of the work that raises no pressure."""
    g, eye = s.geometry, s.eye
    radius = 0.5 * np.asarray(g.outlet_diameter)
    density = rim.density * s.total_density
    reynolds = s.tip_speed * radius * density / sutherland_viscosity(temperature=rim.temperature)
    disc = disc_power(
        moment_coefficient=enclosed_moment_coefficient(reynolds=reynolds,
                                                       gap_ratio=g.disc_gap / radius),
        density=0.5 * (density + eye.density), tip_speed=s.tip_speed, radius=radius,
        faces=2.0 if g.shrouded else 1.0)
    back = loss.recirculation_loss(diffusion_factor=rim.diffusion_factor, tip_speed=1.0,
                                   swirl_over_meridional=rim.swirl / rim.meridional)
    rim_share = np.pi * np.asarray(g.outlet_width) / g.outlet_diameter
    return {
        "disc friction": disc / s.unit_power,
        "leakage": _leakage(s, rim, density) / s.unit_power,
        # grows as 1/sqrt(phi) per mass, so its power vanishes at shutoff
        "recirculation": np.where(s.flow > 0.0, s.flow * back, 0.0),
        "part-load exchange": exchange * rim_share * rim.density * np.maximum(rim.swirl, 0.0),
    }


def _leakage(s: Setting, rim: Rim, density: Array) -> Array:
    g = s.geometry
    if g.shrouded:
        return loss.seal_leakage_power(
            static_rise=rim.pressure - s.eye.pressure, work=rim.work * s.square,
            seal_gap=g.tip_clearance, eye_diameter=g.eye_diameter, density=density)
    return loss.tip_leakage_power(
        mass_flow=s.mass_flow, exit_swirl=rim.swirl * s.tip_speed, clearance=g.tip_clearance,
        blades=g.effective_blades, exit_density=density, tip_speed=s.tip_speed,
        outlet_radius=0.5 * np.asarray(g.outlet_diameter),
        mean_inlet_radius=0.5 * g.mean_inlet_diameter, outlet_width=g.outlet_width,
        inlet_height=0.5 * (np.asarray(g.eye_diameter) - g.hub_diameter), flow_length=s.length)


def _behind_impeller(s: Setting, rim: Rim) -> CentrifugalPoints:
    """Vaneless space, scroll and cone, and the books of the whole stage."""
    g = s.geometry
    inner, outer = 0.5 * np.asarray(g.outlet_diameter), 0.5 * np.asarray(g.diffuser_diameter)
    density = rim.density * s.total_density
    exchange = loss.exchange_flow(flow=s.flow, shock_free_flow=shock_free_flow(g))
    exchanged = exchange * s.tip_speed * density * np.pi * g.outlet_diameter * g.outlet_width
    rubbing = np.hypot(rim.swirl, rim.meridional) * s.tip_speed
    viscosity = sutherland_viscosity(temperature=rim.temperature)
    space_depth = 2.0 * np.asarray(g.diffuser_width)
    friction = skin_friction_coefficient(reynolds=rubbing * space_depth * density / viscosity,
                                         relative_roughness=g.wall_roughness / space_depth)
    total_temperature = s.total_temperature + rim.work * s.square / SPECIFIC_HEAT
    pressure = s.total_pressure * pressure_ratio_of_head(
        head=rim.head * s.square, inlet_temperature=s.total_temperature)
    space = vaneless_space(
        mass_flow=s.mass_flow + exchanged, angular_momentum=inner * rim.swirl * s.tip_speed,
        total_pressure=pressure, total_temperature=total_temperature, inner_radius=inner,
        outer_radius=outer, width=g.diffuser_width, end_width=g.space_end_width,
        skin_friction=friction)
    through = s.mass_flow / (s.mass_flow + exchanged)
    swirl = space.angular_momentum / outer
    lost, throat_mach, after = _scroll(s, space.total_pressure, total_temperature=total_temperature,
                                       swirl=swirl, radial=space.meridional_speed * through,
                                       viscosity=viscosity)
    head_space = _head(s, space.total_pressure)
    head = _head(s, after)
    fall, energy = head_space - head, sum(lost.values())
    internal = rim.losses | {"vaneless space": rim.head - head_space} | {
        name: np.where(energy > 0.0, fall * each / energy, 0.0) for name, each in lost.items()}
    parasitic = _parasitic(s, rim, exchange)
    limit = _limit(s, rim, space.meridional_speed, throat_mach)
    return _report(s, rim, internal=internal, parasitic=parasitic, head=head, limit=limit,
                   swirl=swirl, scroll_angle=np.arctan2(swirl, space.meridional_speed),
                   scroll_density=_density(space, total_temperature))


def _scroll(s: Setting, pressure: Array, total_temperature: Array, swirl: Array, radial: Array,
            viscosity: Array) -> tuple[dict[str, Array], Array, Array]:
    """Energy lost in scroll and cone [J/kg], Mach number in the throat, total pressure [Pa]."""
    g = s.geometry
    flow_function = s.mass_flow * np.sqrt(GAS_CONSTANT * total_temperature / GAMMA) / pressure
    mach = mach_from_mass_flow_function(flow_function=flow_function / g.throat_area)
    temperature = total_temperature * temperature_ratio(mach=mach)
    speed = mach * np.sqrt(GAMMA * GAS_CONSTANT * temperature)
    base = 0.5 * np.asarray(g.diffuser_diameter)
    middle = scroll.throat_radius(base_radius=base, throat_area=g.throat_area)
    depth = np.sqrt(4.0 / np.pi * np.asarray(g.throat_area))
    reynolds = s.mass_flow * depth / (np.asarray(g.throat_area) * viscosity)
    friction = skin_friction_coefficient(reynolds=reynolds,
                                         relative_roughness=g.wall_roughness / depth)
    friction = np.where(s.flow > 0.0, friction, 0.0)   # infinite at rest, and its loss zero
    lost = {
        "scroll": (
            scroll.radial_dump_loss(meridional_speed=radial)
            + scroll.size_mismatch_loss(swirl=swirl, throat_speed=speed, base_radius=base,
                                        throat_radius=middle)
            + scroll.scroll_friction_loss(skin_friction=friction, throat_speed=speed,
                                          base_radius=base, throat_radius=middle,
                                          throat_area=g.throat_area)),
        "exit cone": scroll.cone_loss(
            throat_speed=speed, throat_area=g.throat_area, exit_area=g.exit_area,
            full_angle=g.exit_cone_angle),
    }
    after = pressure * np.exp(-sum(lost.values()) / (GAS_CONSTANT * temperature))
    return lost, mach, after


def _density(space: VanelessExit, total_temperature: Array) -> Array:
    """Static density behind the vaneless space [kg/m^3]."""
    at_rest = space.total_pressure / (GAS_CONSTANT * total_temperature)
    return np.asarray(at_rest * np.power(space.temperature / total_temperature,
                                         1.0 / (GAMMA - 1.0)))


def _head(s: Setting, pressure: Array) -> Array:
    """Isentropic head of a total pressure, over U^2 [-]."""
    return np.asarray(head_of_pressure_ratio(
        pressure_ratio=pressure / s.total_pressure,
        inlet_temperature=s.total_temperature) / s.square)


def _limit(s: Setting, rim: Rim, space_speed: Array, throat_mach: Array) -> IntArray:
    """First limit met, in the order of the stations; index into :data:`LIMITS`."""
    gap = np.abs(rim.new_density / rim.density - 1.0)
    choked_rim = rim.meridional * s.tip_speed > np.sqrt(GAMMA * GAS_CONSTANT * rim.temperature)
    broken = [~is_sound(s.geometry), ~(s.flow >= 0.0), np.isnan(s.eye.mach), ~s.eye.sound,
              ~(gap < 1e-9) | choked_rim, np.isnan(space_speed), np.isnan(throat_mach)]
    shape = np.broadcast_shapes(*(np.shape(each) for each in broken))
    return np.asarray(np.select([np.broadcast_to(each, shape) for each in broken],
                                list(range(1, len(LIMITS))), 0))


def _report(s: Setting, rim: Rim, internal: dict[str, Array], parasitic: dict[str, Array],
            head: Array, limit: IntArray, swirl: Array, scroll_angle: Array,
            scroll_density: Array) -> CentrifugalPoints:
    power = s.flow * rim.work + sum(parasitic.values())
    shape = limit.shape

    def kept(value: Values) -> Array:
        return np.where(limit == 0, np.broadcast_to(value, shape), np.nan)

    exit_speed = np.hypot(rim.meridional, rim.swirl) * s.tip_speed
    return CentrifugalPoints(
        flow=np.broadcast_to(s.flow, shape), head=kept(head), power=kept(power),
        work=kept(rim.work), exit_flow=kept(rim.meridional), eye_mach=kept(s.eye.mach),
        internal=MappingProxyType({name: kept(internal[name]) for name in INTERNAL}),
        parasitic=MappingProxyType({name: kept(parasitic[name]) for name in PARASITIC}),
        exit_mach=kept(exit_speed / np.sqrt(GAMMA * GAS_CONSTANT * rim.temperature)),
        exit_density_ratio=kept(rim.density),
        exit_flow_angle=kept(np.arctan2(rim.swirl, rim.meridional)),
        scroll_flow_angle=kept(scroll_angle), diffusion_factor=kept(rim.diffusion_factor),
        scroll_swirl=kept(swirl), scroll_density=kept(scroll_density), limit=limit)
