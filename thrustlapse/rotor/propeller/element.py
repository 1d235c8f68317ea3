"""Blade-element momentum theory of an open rotor, from rest to windmilling.

One unknown per element, the inflow angle ``phi``, from

    R(phi) = 4 F sin(phi) sin(phi - phi0) - sigma (cl cos(phi - phi0) - cd sin(phi - phi0)) = 0

with ``tan(phi0) = V / (Omega r)``, local solidity ``sigma = B c / (2 pi r)`` and loss factor ``F``.
There is no division, so it holds at rest and at ``phi = 0``; it is the momentum balance of Ning
(Wind Energy 17, 2014) multiplied by ``4 F sin(phi)``. Where the disc slows the stream by more than
0.4 of its speed, momentum theory gives way to Buhl's relation (NREL/TP-500-36834, 2005; from
memory), in the same variable.

Signs: thrust and shaft torque positive for a propeller; ``phi`` from the plane of rotation to the
relative wind; angle of attack = blade angle - phi.

R is not monotonic beyond stall. The root next to ``phi0`` is the one reached from small loading; a
far one can be wrong by a factor of ten. So the range is scanned outward from ``phi0`` and the first
sign change is closed by a bracketing method. For blade angles from 0 to 80 degrees the ends have
opposite signs whatever the section does (see :func:`inflow_angle`), so none can fail.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray, Values
from thrustlapse.elementwise import bracketed_root
from thrustlapse.rotor.propeller.section import Section

SCAN_STEPS = 16
"""Steps of the search outward from phi0; 2 to 4 degrees each on a propeller."""

SCAN_MARGIN = np.deg2rad(15.0)
"""How far beyond the blade angle the fine part of the scan goes [rad]: past any zero-lift angle."""

HIGHEST_MOMENTUM_LOADING = 2.0 / 3.0
"""kappa at which axial induction reaches 0.4 and Buhl's relation takes over [-]."""


@dataclass(frozen=True, kw_only=True)
class Element:
    """Blade elements and the stream they meet; all fields broadcast.

    Parameters
    ----------
    axial_speed, rotational_speed : array_like
        V and Omega r [m/s]; V not negative and Omega r above 0, else the answer is NaN
    blade_angle : array_like
        Chord line from the plane of rotation [rad]
    blades, chord, radius : array_like
        Number of blades [-], chord and radius [m]
    tip_radius, hub_radius : array_like
        Where the blade ends and begins [m]; a hub radius of 0 leaves the hub loss out
    tip_loss : bool
        False leaves Prandtl's tip loss out: a blade that runs close to a duct
    """

    axial_speed: Values
    rotational_speed: Values
    blade_angle: Values
    blades: Values
    chord: Values
    radius: Values
    tip_radius: Values
    hub_radius: Values = 0.0
    tip_loss: bool = True

    @property
    def solidity(self) -> Array:
        """Local solidity B c / (2 pi r) [-]."""
        return np.asarray(self.blades) * self.chord / (2.0 * np.pi * np.asarray(self.radius))


@dataclass(frozen=True, kw_only=True)
class ElementLoads:
    """What the elements do; shapes as the elements broadcast.

    ``inflow_angle``, ``angle_of_attack`` [rad]; ``loss_factor`` [-]; ``lift``, ``drag``
    coefficients [-]; ``relative_speed``, ``axial_induced_speed``, ``swirl_speed`` [m/s];
    ``thrust`` [N/m] and ``torque`` [N m/m] of all blades per radius; ``converged``.
    """

    inflow_angle: Array
    angle_of_attack: Array
    loss_factor: Array
    lift: Array
    drag: Array
    relative_speed: Array
    axial_induced_speed: Array
    swirl_speed: Array
    thrust: Array
    torque: Array
    converged: BoolArray


def prandtl_loss(*, blades: Values, radius: Values, edge: Values, inflow_sine: Values) -> Array:
    """Prandtl's loss factor towards a tip or a hub [-].

    ``(2/pi) acos(exp(-B |edge - r| / (2 min(r, edge) |sin phi|)))``; 1 where sin(phi) = 0.

    Parameters
    ----------
    blades : array_like
        Number of blades [-]
    radius, edge : array_like
        Radius of the element, and of the tip or the hub [m]
    inflow_sine : array_like
        Sine of the inflow angle [-]

    References
    ----------
    Glauert in Durand, Aerodynamic Theory, 1935; form used by Ning, 2014 (from memory).
    """
    r, end = np.asarray(radius), np.asarray(edge)
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
        gap = 0.5 * np.asarray(blades) * np.abs(end - r) / (np.minimum(r, end)
                                                           * np.abs(inflow_sine))
    return np.asarray(2.0 / np.pi * np.arccos(np.exp(-gap)))


# One element ---------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class _Flow:
    """Everything an element's residual needs, flat: one entry per element."""

    undisturbed: Array
    blade_angle: Array
    solidity: Array
    blades: Array
    radius: Array
    tip_radius: Array
    hub_radius: Array
    tip_loss: bool
    hub_loss: bool
    chord_to_radius: Array
    reynolds: Array
    mach: Array

    def at(self, index: IntArray) -> _Flow:
        if index.size == self.undisturbed.size:
            return self
        return _Flow(tip_loss=self.tip_loss, hub_loss=self.hub_loss, **{
            name: getattr(self, name)[index] for name in (
                "undisturbed", "blade_angle", "solidity", "blades", "radius", "tip_radius",
                "hub_radius", "chord_to_radius", "reynolds", "mach")})


def _loss(flow: _Flow, inflow_sine: Array) -> Array:
    factor = np.ones_like(inflow_sine)
    if flow.tip_loss:
        factor = prandtl_loss(blades=flow.blades, radius=flow.radius, edge=flow.tip_radius,
                              inflow_sine=inflow_sine)
    if flow.hub_loss:
        factor = factor * prandtl_loss(blades=flow.blades, radius=flow.radius,
                                       edge=flow.hub_radius, inflow_sine=inflow_sine)
    return factor


def _forces(section: Section, flow: _Flow, phi: Array) -> tuple[Array, Array]:
    return section.coefficients(angle=flow.blade_angle - phi, reynolds=flow.reynolds,
                                mach=flow.mach, chord_to_radius=flow.chord_to_radius)


def _residual(section: Section, flow: _Flow, phi: Array) -> Array:
    sine, cosine = np.sin(phi), np.cos(phi)
    start_sine, start_cosine = np.sin(flow.undisturbed), np.cos(flow.undisturbed)
    turn_sine = sine * start_cosine - cosine * start_sine
    turn_cosine = cosine * start_cosine + sine * start_sine
    loss = _loss(flow, sine)
    lift, drag = _forces(section, flow, phi)
    # |sin phi|: air drawn back through a disc at rest is turned about by the same momentum
    momentum = (4.0 * loss * np.abs(sine) * turn_sine
                - flow.solidity * (lift * turn_cosine - drag * turn_sine))
    braking = -flow.solidity * (lift * cosine - drag * sine)
    slowed = ((braking > 4.0 * HIGHEST_MOMENTUM_LOADING * loss * sine * sine)
              & (sine >= 0.0) & (start_sine > 0.0))
    if not slowed.any():
        return np.asarray(momentum)
    under = np.maximum(0.5 * braking - loss * (4.0 / 3.0 - loss) * sine * sine, 0.0)
    remaining = (5.0 / 3.0 - loss) * sine + np.sqrt(under)  # sin(phi) over V1 / V
    swirl = flow.solidity * (lift * sine + drag * cosine)
    brake = (4.0 * loss * sine * (remaining * start_cosine - start_sine * cosine)
             - start_sine * swirl)
    return np.asarray(np.where(slowed, brake, momentum))


def inflow_angle(element: Element, *, section: Section, density: Values, viscosity: Values,
                 speed_of_sound: Values) -> tuple[Array, BoolArray]:
    """Inflow angle phi of every element [rad], and whether it was found.

    Reynolds and Mach number are those of the undisturbed relative wind, within 3 % of the true
    one on a propeller: explicit, so that one unknown is left.

    Returns
    -------
    phi, found
        NaN and False where no root is bracketed, and for values that are not finite.

    Notes
    -----
    Where R(phi0) < 0 the search goes up to pi/2. There R > 0 unless the section lifts forward in
    a wind along the axis, as it may at blade angles below 0 or near 90 degrees and speeds many
    times that of the blade. Where R(phi0) > 0 it goes down to 0: there R = -sigma sin(phi0) cd < 0;
    at rest down to -pi/2, where R = -4 F - sigma cd < 0.
    """
    shape, flow = _prepare(element, density, viscosity, speed_of_sound)
    phi, found = _solve(section, flow)
    return phi.reshape(shape), found.reshape(shape)


def _prepare(element: Element, density: Values, viscosity: Values,
             speed_of_sound: Values) -> tuple[tuple[int, ...], _Flow]:
    axial = np.asarray(element.axial_speed, dtype=float)
    around = np.asarray(element.rotational_speed, dtype=float)
    axial = np.where(axial >= 0.0, axial, np.nan)
    around = np.where(around > 0.0, around, np.nan)
    speed = np.hypot(axial, around)
    chord, radius = np.asarray(element.chord), np.asarray(element.radius)
    parts = {"undisturbed": np.arctan2(axial, around), "blade_angle": element.blade_angle,
             "solidity": element.solidity, "blades": element.blades, "radius": radius,
             "tip_radius": element.tip_radius, "hub_radius": element.hub_radius,
             "chord_to_radius": chord / radius,
             "reynolds": np.asarray(density) * speed * chord / np.asarray(viscosity),
             "mach": speed / np.asarray(speed_of_sound)}
    whole = np.broadcast_arrays(*(np.asarray(part, dtype=float) for part in parts.values()))
    flat = {name: array.ravel() for name, array in zip(parts, whole, strict=True)}
    return whole[0].shape, _Flow(tip_loss=element.tip_loss,
                                 hub_loss=bool(np.any(np.asarray(element.hub_radius) > 0.0)),
                                 **flat)


def _solve(section: Section, flow: _Flow) -> tuple[Array, BoolArray]:
    start = flow.undisturbed
    everywhere = np.arange(start.size)

    def residual(index: IntArray, phi: Array) -> Array:
        return _residual(section, flow.at(index), phi)

    at_start = residual(everywhere, start)
    upward = at_start < 0.0
    end = np.where(upward, 0.5 * np.pi, np.where(start > 0.0, 0.0, -0.5 * np.pi))
    reach = np.where(upward, np.minimum(np.maximum(flow.blade_angle - start, 0.0) + SCAN_MARGIN,
                                        end - start),
                     np.maximum(np.minimum(flow.blade_angle - start, 0.0) - SCAN_MARGIN,
                                end - start))
    low, high = start.copy(), start.copy()
    seeking = np.flatnonzero(at_start != 0.0)
    for step in range(1, SCAN_STEPS + 2):
        share = step / SCAN_STEPS
        here = (start + reach * share if step <= SCAN_STEPS else end)[seeking]
        high[seeking] = here
        same = np.sign(residual(seeking, here)) == np.sign(at_start[seeking])
        seeking = seeking[same]
        if seeking.size == 0:
            break
        low[seeking] = here[same]
    phi, found = bracketed_root(residual, low, high)
    exact = at_start == 0.0
    return np.where(exact, start, phi), found | exact


def element_loads(element: Element, *, section: Section, density: Values, viscosity: Values,
                  speed_of_sound: Values) -> ElementLoads:
    """Solve the elements and return their loads.

    Parameters
    ----------
    element : Element
        Elements, of any shape
    section : Section
        Lift and drag
    density, viscosity, speed_of_sound : array_like
        Of the air [kg/m^3], [Pa s], [m/s]

    Notes
    -----
    The relative speed comes from the swirl balance, ``W = (Omega r - vt) / cos(phi)``. The
    shortcut ``sqrt(V^2 + (Omega r)^2) cos(phi - phi0)`` holds only without drag.
    """
    shape, flow = _prepare(element, density, viscosity, speed_of_sound)
    phi, found = _solve(section, flow)
    sine, cosine = np.sin(phi), np.cos(phi)
    loss = _loss(flow, sine)
    lift, drag = _forces(section, flow, phi)
    normal, along = lift * cosine - drag * sine, lift * sine + drag * cosine
    around = np.broadcast_to(np.asarray(element.rotational_speed, float), shape).ravel()
    axial = np.broadcast_to(np.asarray(element.axial_speed, float), shape).ravel()
    momentum = 4.0 * loss * np.abs(sine)
    speed = around * momentum / (momentum * cosine + flow.solidity * along)
    chord = np.pi * flow.solidity * flow.radius  # B c / 2
    pressure = np.broadcast_to(np.asarray(density, float), shape).ravel() * speed**2 * chord
    answer = {"inflow_angle": phi, "angle_of_attack": flow.blade_angle - phi, "loss_factor": loss,
              "lift": lift, "drag": drag, "relative_speed": speed,
              "axial_induced_speed": speed * sine - axial,
              "swirl_speed": around - speed * cosine, "thrust": pressure * normal,
              "torque": pressure * along * flow.radius}
    return ElementLoads(converged=found.reshape(shape),
                        **{name: array.reshape(shape) for name, array in answer.items()})
