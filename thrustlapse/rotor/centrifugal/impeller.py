"""The impeller of the mean-line model: eye, passages, and the state at the rim.

Everything is elementwise. Speeds are over tip speed U and work over U^2 unless a name says
otherwise. The one unknown is the density at the rim: flow, work and losses follow from it, and it
from them; :func:`rim_state` closes the loop by secant steps.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import sutherland_viscosity
from thrustlapse.air.gas import (
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    density_ratio,
    mach_from_mass_flow_function,
    temperature_ratio,
)
from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.rotor.centrifugal import losses as loss
from thrustlapse.rotor.centrifugal.euler import (
    blade_speed,
    euler_work,
    exit_swirl,
    head_after_losses,
    isentropic_pressure_ratio,
    pressure_ratio_of_head,
)
from thrustlapse.rotor.centrifugal.geometry import CentrifugalGeometry
from thrustlapse.rotor.centrifugal.slip import slip_speed
from thrustlapse.rotor.wall_friction import skin_friction_coefficient

CONTRACTIONS = 9
"""Secant steps on the density at the rim; what has not closed to 1e-9 is reported, not used."""


STRIPS = tuple(each.tolist() for each in np.polynomial.legendre.leggauss(6))
"""Places and weights of Gauss and Legendre from hub to casing."""


@dataclass(frozen=True, kw_only=True)
class Eye:
    """State and speeds in the eye."""

    sound: BoolArray
    mach: Array
    temperature: Array      # static [K]
    pressure: Array         # static [Pa]
    density: Array          # [kg/m^3]
    speed: Array            # meridional
    mean_blade_speed: Array
    tip_relative: Array
    hub_relative: Array
    eye_angle: Array        # [rad]
    hub_angle: Array        # [rad]


@dataclass(frozen=True, kw_only=True)
class Rim:
    """State behind the impeller."""

    density: Array          # over inlet total density
    new_density: Array      # the same, as it follows from the state
    meridional: Array       # between the blades
    swirl: Array
    work: Array
    head: Array
    temperature: Array      # static [K]
    pressure: Array         # static [Pa]
    diffusion_factor: Array
    losses: dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class Setting:
    """What does not change while the density at the rim is sought."""

    geometry: CentrifugalGeometry
    tip_speed: Array
    total_pressure: Array
    total_temperature: Array
    total_density: Array
    flow: Array
    slip: Array
    length: Array
    hydraulic_diameter: Array
    eye: Eye

    @property
    def square(self) -> Array:
        return np.square(self.tip_speed)

    @property
    def unit_power(self) -> Array:
        """Power coefficient 1 [W]."""
        return np.asarray(self.total_density * self.tip_speed**3
                          * np.square(self.geometry.outlet_diameter))

    @property
    def mass_flow(self) -> Array:
        return np.asarray(self.flow * self.total_density * self.tip_speed
                          * np.square(self.geometry.outlet_diameter))


def eye_choke_flow(geometry: CentrifugalGeometry, *, shaft_speed: Values,
                   total_temperature: Values) -> Array:
    """Flow coefficient at which the eye or the inducer's throat chokes [-].

    References
    ----------
    The rotating throat: Dixon, Fluid mechanics, thermodynamics of turbomachinery (from memory);
    it is the choking law of a passage at the relative total state.
    """
    eye, inducer = _choke_flows(geometry, shaft_speed, total_temperature)
    return np.minimum(eye, inducer)


def inducer_chokes_first(geometry: CentrifugalGeometry, *, shaft_speed: Values,
                         total_temperature: Values) -> BoolArray:
    """Whether the inducer's throat chokes at a lower flow than the eye before it."""
    eye, inducer = _choke_flows(geometry, shaft_speed, total_temperature)
    return np.asarray(inducer < eye)


def _choke_flows(geometry: CentrifugalGeometry, shaft_speed: Values,
                 total_temperature: Values) -> tuple[Array, Array]:
    tip_speed = blade_speed(shaft_speed=shaft_speed, diameter=geometry.outlet_diameter)
    sound = np.sqrt(GAMMA * GAS_CONSTANT * np.asarray(total_temperature))
    power = 0.5 * (GAMMA + 1.0) / (GAMMA - 1.0)
    whole = geometry.eye_area * sound / (tip_speed * np.square(geometry.outlet_diameter))
    return (np.asarray(whole * (2.0 / (GAMMA + 1.0)) ** power),
            np.asarray(_throat(geometry, tip_speed / sound, power) * sound / tip_speed))


def _throat(g: CentrifugalGeometry, tip_mach: Array, power: float) -> Array:
    """Choking flow of the inducer's throat, strip by strip from hub to casing, over D^2 [-].

    Each strip chokes at its own relative total state, with the angle of a radial blade element
    and the thickness of the blades off its opening. A strip that blades cover passes nothing.
    """
    outlet = np.asarray(g.outlet_diameter)
    hub, eye = np.asarray(g.hub_diameter) / outlet, np.asarray(g.eye_diameter) / outlet
    total = np.zeros(())
    for node, weight in zip(*STRIPS, strict=True):
        place = 0.5 * (eye + hub) + 0.5 * (eye - hub) * node
        angle = np.arctan(np.tan(g.inlet_angle) / g.radius_ratio * place)
        opening = np.pi * place * np.cos(angle) - np.asarray(g.blades) * g.blade_thickness / outlet
        relative = (2.0 + (GAMMA - 1.0) * np.square(tip_mach * place)) / (GAMMA + 1.0)
        total = total + (0.25 * weight * (eye - hub) * np.maximum(opening, 0.0)
                         * np.power(relative, power))
    return total


def shock_free_flow(geometry: CentrifugalGeometry) -> Array:
    """Flow coefficient at which slow air meets the blades without incidence [-]."""
    return np.asarray(geometry.radius_ratio / np.tan(geometry.inlet_angle) * geometry.eye_area
                      / np.square(geometry.outlet_diameter))


def set_up(g: CentrifugalGeometry, shaft_speed: Array, total_pressure: Array,
           total_temperature: Array, flow: Array) -> Setting:
    """What one evaluation needs before the density at the rim is known."""
    tip_speed = blade_speed(shaft_speed=shaft_speed, diameter=g.outlet_diameter)
    eye = _eye(g, shaft_speed, tip_speed=tip_speed, pt=total_pressure, tt=total_temperature,
               flow=flow)
    ends = {"eye_diameter": g.eye_diameter, "hub_diameter": g.hub_diameter,
            "outlet_diameter": g.outlet_diameter, "outlet_width": g.outlet_width,
            "eye_angle": eye.eye_angle, "hub_angle": eye.hub_angle, "exit_angle": g.exit_angle}
    return Setting(
        geometry=g, tip_speed=tip_speed, total_pressure=total_pressure,
        total_temperature=total_temperature, flow=flow, eye=eye,
        total_density=total_pressure / (GAS_CONSTANT * total_temperature),
        slip=slip_speed(g.slip_model, blades=g.effective_blades, exit_angle=g.exit_angle,
                        radius_ratio=g.radius_ratio),
        length=loss.flow_length(axial_length=g.length, **ends),
        hydraulic_diameter=loss.passage_hydraulic_diameter(blades=g.effective_blades, **ends))


def _eye(g: CentrifugalGeometry, shaft_speed: Array, tip_speed: Array, pt: Array, tt: Array,
         flow: Array) -> Eye:
    sound_speed = np.sqrt(GAMMA * GAS_CONSTANT * tt)
    flux = flow * tip_speed * np.square(g.outlet_diameter) / g.eye_area
    mach = mach_from_mass_flow_function(flow_function=flux / sound_speed)
    cooling = temperature_ratio(mach=mach)
    thinning = density_ratio(mach=mach)
    speed = flux / thinning / tip_speed
    eye_blade = np.asarray(g.eye_diameter / np.asarray(g.outlet_diameter))
    hub_blade = np.asarray(g.hub_diameter / np.asarray(g.outlet_diameter))
    lean = np.tan(g.inlet_angle) / g.radius_ratio   # radial blade elements
    choke = eye_choke_flow(g, shaft_speed=shaft_speed, total_temperature=tt)
    return Eye(sound=np.asarray(flow <= choke), mach=mach, temperature=tt * cooling,
                pressure=pt * cooling * thinning, density=thinning * pt / (GAS_CONSTANT * tt),
                speed=speed, mean_blade_speed=g.radius_ratio,
                tip_relative=np.hypot(eye_blade, speed), hub_relative=np.hypot(hub_blade, speed),
                eye_angle=np.arctan(lean * eye_blade), hub_angle=np.arctan(lean * hub_blade))


def rim_state(setting: Setting) -> Rim:
    """State behind the impeller, by secant steps on the density at the rim.

    Where the steps do not close, ``density`` and ``new_density`` of the result differ.
    """
    heat = SPECIFIC_HEAT * setting.total_temperature
    old = np.power(1.0 + 0.45 * setting.square / heat, 1.0 / (GAMMA - 1.0))
    old = old + 0.0 * setting.flow
    old_gap = _impeller(setting, old).new_density - old
    new = old + old_gap
    for _ in range(CONTRACTIONS):
        gap = _impeller(setting, new).new_density - new
        change = gap * (new - old) / (gap - old_gap)
        old, old_gap, new = new, gap, new - np.where(np.isfinite(change), change, 0.0)
    return _impeller(setting, new)


def _impeller(s: Setting, density: Array) -> Rim:
    """Work, losses and state behind the impeller if the density there is as given."""
    g, eye = s.geometry, s.eye
    rim = g.outlet_area / np.square(g.outlet_diameter)
    meridional = s.flow / (density * rim)
    swirl = exit_swirl(tip_speed=1.0, meridional_speed=meridional, exit_angle=g.exit_angle,
                       slip=s.slip)
    work = euler_work(tip_speed=1.0, exit_swirl=swirl)
    relative = np.hypot(meridional, 1.0 - swirl)
    factor = loss.diffusion_factor(
        exit_relative_speed=relative, eye_relative_speed=eye.tip_relative, work_coefficient=work,
        blades=g.effective_blades, eye_radius_ratio=g.eye_diameter / np.asarray(g.outlet_diameter))
    total_temperature = s.total_temperature + work * s.square / SPECIFIC_HEAT
    kinetic = 0.5 * (meridional * meridional + swirl * swirl) * s.square
    temperature = total_temperature - kinetic / SPECIFIC_HEAT
    dissipated = _dissipated(s, density, meridional=meridional, swirl=swirl, relative=relative,
                             factor=factor)
    head, losses = _head_and_losses(s, work, temperature=temperature, dissipated=dissipated)
    pressure = (s.total_pressure * pressure_ratio_of_head(head=head * s.square,
                                                          inlet_temperature=s.total_temperature)
                * isentropic_pressure_ratio(temperature_ratio=temperature / total_temperature))
    return Rim(density=density, meridional=meridional, swirl=swirl, work=work,
                 head=head, temperature=temperature, pressure=pressure,
                 new_density=pressure / (GAS_CONSTANT * temperature * s.total_density),
                 diffusion_factor=factor, losses=losses)


def _head_and_losses(s: Setting, work: Array, temperature: Array,
                     dissipated: dict[str, Array]) -> tuple[Array, dict[str, Array]]:
    """Isentropic head left of the work, and what each loss took of it, over U^2.

    What arises at the eye, or along the passage, is carried on by the compression that follows: it
    costs more head than what arises at the rim.
    """
    arises = {"incidence": s.eye.temperature, "mixing": temperature}
    along = 0.5 * (s.eye.temperature + temperature)
    entropy = {name: energy / arises.get(name, along) for name, energy in dissipated.items()}
    every = sum(entropy.values())
    head = head_after_losses(work=work * s.square, entropy=every * s.square,
                             inlet_temperature=s.total_temperature) / s.square
    share = (work - head) / every
    return head, {name: each * share for name, each in entropy.items()}


def _dissipated(s: Setting, density: Array, meridional: Array, swirl: Array,
                relative: Array, factor: Array) -> dict[str, Array]:
    """Energy dissipated in the impeller by name, over U^2; speeds over U."""
    g, eye = s.geometry, s.eye
    mismatch = eye.mean_blade_speed - eye.speed * np.tan(g.inlet_angle)
    rubbing = loss.mean_relative_speed(
        eye_speed=eye.speed, exit_speed=np.hypot(meridional, swirl),
        eye_relative_speed=eye.tip_relative, hub_relative_speed=eye.hub_relative,
        exit_relative_speed=relative)
    viscosity = sutherland_viscosity(temperature=eye.temperature)
    reynolds = (rubbing * s.tip_speed * s.hydraulic_diameter * 0.5 * (1.0 + density)
                * s.total_density / viscosity)
    friction = skin_friction_coefficient(
        reynolds=reynolds, relative_roughness=g.roughness / s.hydraulic_diameter)
    gap = 0.0 if g.shrouded else np.asarray(g.tip_clearance)
    mixed = s.flow / (density * np.pi * np.asarray(g.diffuser_width) / g.outlet_diameter)
    return {
        "incidence": loss.incidence_loss(mismatch_speed=mismatch),
        "blade loading": loss.blade_loading_loss(diffusion_factor=factor, tip_speed=1.0),
        "skin friction": loss.skin_friction_loss(
            skin_friction=friction, flow_length=s.length,
            hydraulic_diameter=s.hydraulic_diameter, mean_speed=rubbing),
        "clearance": loss.clearance_loss(
            clearance=gap, outlet_width=g.outlet_width, exit_swirl=swirl, inlet_speed=eye.speed,
            blades=g.effective_blades, eye_radius=0.5 * np.asarray(g.eye_diameter),
            hub_radius=0.5 * np.asarray(g.hub_diameter),
            outlet_radius=0.5 * np.asarray(g.outlet_diameter),
            density_ratio=density * s.total_density / eye.density),
        "mixing": loss.mixing_loss(passage_speed=meridional, mixed_speed=mixed),
    }
