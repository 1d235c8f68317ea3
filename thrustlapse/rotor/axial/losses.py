"""What a row of blades loses: profile, separation, endwall, secondary flow, tip clearance.

Losses of total pressure are coefficients on the relative dynamic pressure before the row. Drag
coefficients are on the vector mean of the relative velocities before and behind. Angles are from
the axial direction [rad].

The constants are those of the compressor literature and are from memory; the tests hold them
against measured sections, a measured ducted propeller and each other.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values

DESIGN_DIFFUSION_FACTOR = 0.45
DESIGN_DE_HALLER = 0.72
"""What a designer does not pass [-]: Wallis, Eck, Dixon and Hall; from memory."""

STALL_DIFFUSION_FACTOR = 0.60
"""Diffusion factor at which the loss of cascades runs away [-]: NASA SP-36; from memory."""

STALL_INCIDENCE = np.radians(11.0)
"""Departure of the oncoming flow from the ideal angle at which a section stalls [rad]. The Clark Y
reaches its highest lift at 12.3 to 12.8 deg, 11 deg above its ideal angle (Lyon et al. 1998)."""

SEPARATION_SHARPNESS = 3.7
"""Growth of separation with overload [-]: 3 deg on 11 deg of incidence, the usual size of the
static constants of Leishman and Beddoes (J. Am. Helicopter Soc. 34, 1989); from memory."""

HIGHEST_EQUIVALENT_DIFFUSION = 2.2
"""Equivalent diffusion ratio up to which Lieblein's curve holds [-]; it is infinite at 2.35."""

LIEBLEIN_REYNOLDS = 2.5e5
"""Chord Reynolds number of the cascades behind Lieblein's curve [-]; from memory."""

LAMINAR_BREAK = 2.0e5
HIGH_EXPONENT = 0.166
LOW_EXPONENT = {"thin": 0.5, "thick": 0.66}
"""Profile loss falls as Re^-0.166 above a chord Reynolds number of 2e5 and as Re^-0.5 below: Koch
and Smith, ASME J. Eng. Power 98 (1976); from memory. Thick sections in quiet air lose more: least
drag of the Clark Y goes as Re^-0.66 from 60,000 to 200,000 (Lyon et al. 1998)."""

SMOOTH_LIMIT = 90.0
"""Roughness Reynolds number above which loss stops falling [-]: Koch and Smith; from memory."""


# Loading ---------------------------------------------------------------------------------------


def diffusion_factor(*, inlet_speed: Values, outlet_speed: Values, turning: Values,
                     solidity: Values) -> Array:
    """Lieblein's diffusion factor 1 - W2/W1 + dW / (2 solidity W1) [-].

    ``turning`` is the change of the tangential component [m/s].
    """
    w1 = np.asarray(inlet_speed)
    return np.asarray(1.0 - np.asarray(outlet_speed) / w1
                      + np.abs(turning) / (2.0 * np.asarray(solidity) * w1))


def equivalent_diffusion_ratio(*, inlet_angle: Values, outlet_angle: Values, solidity: Values,
                               incidence: Values = 0.0) -> Array:
    """Highest speed on the suction side over the outlet speed [-].

    ``incidence`` is the departure of the oncoming flow from its angle of least loss [rad].

    References
    ----------
    Lieblein, ASME J. Basic Eng. 81 (1959); constants from memory.
    """
    c1, c2 = np.cos(inlet_angle), np.cos(outlet_angle)
    turn = np.abs(np.tan(inlet_angle) - np.tan(outlet_angle))
    off = 0.0117 * np.power(np.abs(np.degrees(incidence)), 1.43)
    return np.asarray(c2 / c1 * (1.12 + off + 0.61 * c1**2 / np.asarray(solidity) * turn))


# Profile ---------------------------------------------------------------------------------------


def wake_thickness(*, equivalent_diffusion: Values) -> Array:
    """Momentum thickness of the wake over chord [-], 0.004 / (1 - 1.17 ln Deq).

    Lieblein 1959, constants from memory. Above a ratio of 2.2 the value there holds: the flow has
    separated, and :func:`separation_drag` takes over.
    """
    held = np.minimum(np.asarray(equivalent_diffusion), HIGHEST_EQUIVALENT_DIFFUSION)
    return np.asarray(0.004 / (1.0 - 1.17 * np.log(held)))


def wake_thickness_rival(*, diffusion_factor: Values, incidence: Values) -> Array:
    """Momentum thickness of the wake over chord from the diffusion factor [-].

    0.0035 (1 + 3.5 D + 37 D^4), doubled at 7 deg from the angle of least loss.

    References
    ----------
    Casey, Proc. Inst. Mech. Eng. A 201 (1987), from memory; the bucket is common practice.
    """
    held = np.minimum(np.asarray(diffusion_factor), 0.7)
    least = 0.0035 * (1.0 + 3.5 * held + 37.0 * held**4)
    return np.asarray(least * (1.0 + np.square(np.degrees(incidence) / 7.0)))


def reynolds_factor(*, reynolds: Values, roughness_ratio: Values = 0.0,
                    section: str = "thin") -> Array:
    """Profile loss over its value at the Reynolds number of Lieblein's cascades [-].

    Parameters
    ----------
    reynolds : array_like
        On chord and relative inlet speed [-]
    roughness_ratio : array_like
        Equivalent sand roughness over chord [-]. A rough blade behaves as at the Reynolds number
        at which its roughness has 90 viscous lengths.
    section : str
        ``thin`` or ``thick``
    """
    with np.errstate(divide="ignore"):
        re = np.minimum(np.asarray(reynolds, dtype=float),
                        SMOOTH_LIMIT / np.asarray(roughness_ratio, dtype=float))
    high = np.power(LIEBLEIN_REYNOLDS / np.maximum(re, LAMINAR_BREAK), HIGH_EXPONENT)
    return np.asarray(high * np.power(LAMINAR_BREAK / np.minimum(re, LAMINAR_BREAK),
                                      LOW_EXPONENT[section]))


def loss_from_wake(*, wake_thickness: Values, solidity: Values, inlet_angle: Values,
                   outlet_angle: Values) -> Array:
    """Loss coefficient of a wake: 2 (theta/c) (solidity / cos b2) (cos b1 / cos b2)^2 [-]."""
    c1, c2 = np.cos(inlet_angle), np.cos(outlet_angle)
    return np.asarray(2.0 * np.asarray(wake_thickness) * solidity / c2 * (c1 / c2) ** 2)


def loss_from_drag(*, drag: Values, solidity: Values, inlet_angle: Values,
                   mean_angle: Values) -> Array:
    """Loss coefficient of a drag coefficient: cd solidity cos^2 b1 / cos^3 bm [-]."""
    return np.asarray(np.asarray(drag) * solidity * np.cos(inlet_angle) ** 2
                      / np.cos(mean_angle) ** 3)


def drag_from_loss(*, loss: Values, solidity: Values, inlet_angle: Values,
                   mean_angle: Values) -> Array:
    """Drag coefficient of a loss coefficient [-]; the inverse of :func:`loss_from_drag`."""
    return np.asarray(np.asarray(loss) / solidity * np.cos(mean_angle) ** 3
                      / np.cos(inlet_angle) ** 2)


# Separation ------------------------------------------------------------------------------------


def overload(*, incidence: Values, diffusion_factor: Values) -> Array:
    """Load of a section over its load at stall [-]: the greater of incidence and diffusion."""
    return np.asarray(np.maximum(np.abs(incidence) / STALL_INCIDENCE,
                                 np.asarray(diffusion_factor) / STALL_DIFFUSION_FACTOR))


def attached_share(*, overload: Values) -> Array:
    """Share of the suction side, from the leading edge, along which flow is attached [-].

    References
    ----------
    Leishman and Beddoes, J. Am. Helicopter Soc. 34 (1989); form and constants from memory.
    """
    excess = SEPARATION_SHARPNESS * (np.asarray(overload) - 1.0)
    below = 1.0 - 0.3 * np.exp(np.minimum(excess, 0.0))
    return np.where(excess < 0.0, below, 0.04 + 0.66 * np.exp(-np.maximum(excess, 0.0)))


def separated_lift(*, attached: Values) -> Array:
    """Lift left by separation over attached lift [-]: Kirchhoff's flow, (1 + sqrt f)^2 / 4."""
    return np.asarray(0.25 * np.square(1.0 + np.sqrt(attached)))


def separation_drag(*, attached: Values, angle_of_attack: Values) -> Array:
    """Drag coefficient of separation [-]: Kirchhoff's flow at an angle from zero lift [rad].

    What the lost leading-edge suction leaves: 2 pi sin^2 a ((1 - sqrt f) / 2)^2.
    """
    return np.asarray(0.5 * np.pi * np.square(np.sin(angle_of_attack)
                                              * (1.0 - np.sqrt(attached))))


# Ends of the blades ----------------------------------------------------------------------------


WALL_FRICTION = 0.01
"""Dissipation coefficient of hub and casing along a row of blades [-]. It gives Howell's annulus
drag (0.020 spacing / height, from memory) where air passes both walls at the speed at which it
passes the blades; about twice the friction of a plain wall."""


def endwall_loss(*, hub_speed: Values, casing_speed: Values, hub_radius: Values,
                 casing_radius: Values, hub_length: Values, casing_length: Values,
                 volume_flow: Values) -> Array:
    """Dissipation on hub and casing along a row per unit mass of the whole flow [J/kg].

    Parameters
    ----------
    hub_speed, casing_speed : array_like
        Speed of the air relative to each wall [m/s]: the hub turns with a rotor, the casing stands
    hub_radius, casing_radius, hub_length, casing_length : array_like
        [m]; the lengths are axial chords
    volume_flow : array_like
        [m^3/s]

    Notes
    -----
    cf / 2 V^3 over the wetted area. Howell's own form puts the speed past the blades in place of
    V, which in a rotor of high stagger is several times that past the casing.
    """
    rub = (2.0 * np.pi * np.asarray(hub_radius) * hub_length * np.asarray(hub_speed) ** 3
           + 2.0 * np.pi * np.asarray(casing_radius) * casing_length
           * np.asarray(casing_speed) ** 3)
    return np.asarray(0.5 * WALL_FRICTION * rub / volume_flow)


def secondary_drag(*, lift: Values) -> Array:
    """Drag coefficient of secondary flow [-]: 0.018 cl^2; Howell 1945, constant from memory.

    It was measured on rotors with a usual tip gap (about 1 % of span), whose share it contains.
    """
    return np.asarray(0.018 * np.square(lift))


def clearance_loss(*, work: Values, axial_velocity: Values, tip_speed: Values, clearance: Values,
                   height: Values, chord: Values, mean_angle: Values) -> Array:
    """Loss through the tip gap per unit mass of the whole flow [J/kg].

    Parameters
    ----------
    work : array_like
        Work at the tip section [J/kg]; of either sign
    axial_velocity, tip_speed : array_like
        [m/s]
    clearance, height, chord : array_like
        Gap, blade height and tip chord [m]
    mean_angle : array_like
        Vector mean flow angle at the tip [rad]

    Notes
    -----
    With psi = 2 work / U^2, phi = Vx / U, l = clearance / height and A = height / chord, the
    efficiency falls by 0.7 l psi / cos bm [1 + 10 sqrt(phi l A / (psi cos bm))]; written here so
    that no load is no loss.

    References
    ----------
    Lakshminarayana, ASME J. Basic Eng. 92 (1970); constants from memory.
    """
    square = np.square(tip_speed)
    load = 2.0 * np.abs(work) / square
    gap, cosine = np.asarray(clearance) / height, np.cos(mean_angle)
    steep = gap * np.asarray(axial_velocity) / tip_speed * np.asarray(height) / chord / cosine
    fall = 0.7 * gap / cosine * (load**2 + 10.0 * np.power(load, 1.5) * np.sqrt(steep))
    return np.asarray(0.5 * square * fall)
