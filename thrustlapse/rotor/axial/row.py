"""One row of blades at several radii and many flows: turning and losses.

Arrays have the shape (batch..., flows, radii). The row works in its own frame: tangential
velocities are positive in the direction from which the row takes swirl.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.axial import losses as loss
from thrustlapse.rotor.axial.cascade import (
    Lattice,
    deviation_slope,
    howell_outlet_angle,
    lattice,
    lift_effectiveness,
)
from thrustlapse.rotor.axial.geometry import read_at


@dataclass(frozen=True, kw_only=True)
class AxialModels:
    """Which correlations a stage is computed with.

    Parameters
    ----------
    turning : str
        ``lattice`` (inviscid lattice with a viscous lift deficit) or ``howell`` (his deviation
        rule, with the slope of NASA SP-36 off design)
    profile : str
        ``equivalent diffusion`` (Lieblein 1959) or ``diffusion factor`` (Casey 1987)
    section : str
        ``thin`` or ``thick``: how lift and drag suffer at chord Reynolds numbers below 2e5
    """

    turning: str = "lattice"
    profile: str = "equivalent diffusion"
    section: str = "thin"

    def __post_init__(self) -> None:
        for word, accepted in ((self.turning, TURNING_MODELS), (self.profile, PROFILE_MODELS),
                               (self.section, SECTIONS)):
            if word not in accepted:
                raise ValueError(f"unknown model {word!r}: expected one of {', '.join(accepted)}")


TURNING_MODELS = ("lattice", "howell")
SECTIONS = ("thin", "thick")
PROFILE_MODELS = ("equivalent diffusion", "diffusion factor")
DEFAULT_MODELS = AxialModels()


class Row(NamedTuple):
    """A row of blades cut at its radii; shape (batch..., 1, radii), ``height`` (batch..., 1, 1)."""

    radius: Array
    chord: Array
    stagger: Array
    camber: Array
    solidity: Array
    height: Array
    roughness_ratio: Array
    lattice: Lattice


class RowFlow(NamedTuple):
    """Flow through a row; shape (batch..., flows, radii).

    ``swirl`` is the tangential velocity behind it in its own frame [m/s]. The losses are
    coefficients on the relative dynamic pressure before it [-].
    """

    swirl: Array
    inlet_speed: Array
    inlet_angle: Array
    mean_angle: Array
    incidence: Array
    diffusion_factor: Array
    de_haller: Array
    reynolds: Array
    overload: Array
    profile: Array
    separation: Array
    secondary: Array


def cut_row(*, radius: Array, tip_radius: Array, height: Array, count: Array, station: Array,
            chord: Array, stagger: Array, camber: Array, roughness: Array) -> Row:
    """Row of blades at radii [m] of shape (batch..., 1, radii), from its table."""
    ratio = radius / tip_radius
    long = read_at(station=station, table=_with_flow_axis(chord), ratio=ratio)
    set_at = read_at(station=station, table=_with_flow_axis(stagger), ratio=ratio)
    bent = read_at(station=station, table=_with_flow_axis(camber), ratio=ratio)
    solidity = long * count / (2.0 * np.pi * radius)
    return Row(radius=radius, chord=long, stagger=set_at, camber=bent, solidity=solidity,
               height=height, roughness_ratio=roughness / long,
               lattice=lattice(solidity=solidity, stagger=set_at, camber=bent))


def _with_flow_axis(table: Array) -> Array:
    values = np.asarray(table, dtype=float)
    return values if values.ndim == 1 else values[..., None, :]


def pass_row(row: Row, *, axial_velocity: Array, swirl: Array, density: Values, viscosity: Values,
             models: AxialModels = DEFAULT_MODELS) -> RowFlow:
    """Turning and losses of a row met by an axial and a tangential velocity [m/s].

    ``density`` [kg/m^3] and ``viscosity`` [Pa s] give the Reynolds number. Axial velocity is taken
    as the same before and behind within each ring: the mean of what the stage has there.
    """
    w1 = np.hypot(axial_velocity, swirl)
    inlet = np.arctan2(swirl, axial_velocity)
    incidence = inlet - row.lattice.ideal_angle
    reynolds = density * w1 * row.chord / viscosity
    attached = _attached_swirl(row, axial_velocity, swirl=swirl, inlet=inlet, reynolds=reynolds,
                               models=models)
    diffusion = loss.diffusion_factor(inlet_speed=w1, turning=swirl - attached,
                                      outlet_speed=np.hypot(axial_velocity, attached),
                                      solidity=row.solidity)
    overload = loss.overload(incidence=incidence, diffusion_factor=diffusion)
    share = loss.attached_share(overload=overload)
    lifted = swirl - (swirl - attached) * loss.separated_lift(attached=share)
    outlet = np.arctan2(lifted, axial_velocity)
    mean_swirl = 0.5 * (swirl + lifted)
    mean = np.arctan2(mean_swirl, axial_velocity)
    wake = _wake(row, inlet, outlet=outlet, incidence=incidence, diffusion=diffusion, models=models)
    wake = wake * loss.reynolds_factor(reynolds=reynolds, roughness_ratio=row.roughness_ratio,
                                       section=models.section)
    profile = loss.loss_from_wake(wake_thickness=wake, solidity=row.solidity, inlet_angle=inlet,
                                  outlet_angle=outlet)
    torn = loss.separation_drag(attached=share,
                                angle_of_attack=mean - row.lattice.zero_lift_angle)
    frame = {"solidity": row.solidity, "inlet_angle": inlet, "mean_angle": mean}
    drag = torn + loss.drag_from_loss(loss=profile, **frame)
    if models.turning == "howell":  # a measured deviation already holds the profile drag
        drag = torn
    lift = 2.0 * (swirl - lifted) / row.solidity * np.cos(mean) / axial_velocity
    dragged = 0.5 * row.solidity * drag * np.hypot(axial_velocity, mean_swirl) * mean_swirl
    return RowFlow(
        swirl=lifted - dragged / axial_velocity, inlet_speed=w1, inlet_angle=inlet,
        mean_angle=mean, incidence=incidence, diffusion_factor=diffusion,
        de_haller=np.hypot(axial_velocity, lifted) / w1, reynolds=reynolds, overload=overload,
        profile=profile, separation=loss.loss_from_drag(drag=torn, **frame),
        secondary=loss.loss_from_drag(drag=loss.secondary_drag(lift=lift), **frame))


def _attached_swirl(row: Row, axial: Array, swirl: Array, inlet: Array, reynolds: Array,
                    models: AxialModels) -> Array:
    """Tangential velocity behind the row where no flow separates [m/s]."""
    if models.turning == "howell":
        outlet = howell_outlet_angle(solidity=row.solidity, stagger=row.stagger, camber=row.camber)
        outlet = outlet + (inlet - row.lattice.ideal_angle) * deviation_slope(
            solidity=row.solidity, inlet_angle=row.lattice.ideal_angle)
        return np.asarray(axial * np.tan(outlet))
    turned = swirl - (row.lattice.slope * swirl + row.lattice.offset * axial)
    return np.asarray(swirl - turned * lift_effectiveness(reynolds=reynolds,
                                                          section=models.section))


def _wake(row: Row, inlet: Array, outlet: Array, incidence: Array, diffusion: Array,
          models: AxialModels) -> Array:
    if models.profile == "diffusion factor":
        return loss.wake_thickness_rival(diffusion_factor=diffusion, incidence=incidence)
    ratio = loss.equivalent_diffusion_ratio(inlet_angle=inlet, outlet_angle=outlet,
                                            solidity=row.solidity, incidence=incidence)
    return loss.wake_thickness(equivalent_diffusion=ratio)
