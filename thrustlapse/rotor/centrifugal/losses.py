"""Losses inside a centrifugal impeller, each a function of its own, in specific work [J/kg].

Sources and constants are from memory unless a docstring says otherwise: Conrad et al. 1980
(incidence), Coppage and Dallenbach 1956 (loading, recirculation), Jansen 1967 (friction,
clearance), Johnston and Dean 1966 (mixing), Aungier 1995/2000 (leakage), collected as the
"optimum set" of Oh, Yoon and Chung, Proc. IMechE A 211 (1997). The tests hold each against a
second route: a conservation law, a limit, or a rival correlation in its range.

What small size costs is in them: Reynolds number and roughness in the friction of passages, disc,
vaneless space and scroll, the gap over the blade's height in clearance and leakage. No boundary
layer narrows a passage, and slip knows no size: a small wheel does more work here than measured.

Angles are from the meridional direction. ``W`` relative, ``C`` absolute, ``U`` blade speed.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values

INCIDENCE_FACTOR = 0.6
"""Share of the mismatched kinetic energy that is lost [-]; 0.5 to 0.7, Conrad, from memory."""

LOADING_FACTOR = 0.05
"""Blade-loading constant [-]; Coppage and Dallenbach, from memory."""

WAKE_SHARE = 0.25
"""Width share of the wake that leaves a passage [-]; 0.15 to 0.35, common practice, no source."""

EXCHANGE_SPEED = 0.056
"""Speed over tip speed at which a blocked rim exchanges air with its casing [-].

An anchor, no correlation: with it wheels, blocked, draw about half (0.41 to 0.55) of what they
draw at their best efficiency, as the 36-inch fan of Fox and McDonald Ex 10.11 does (0.52).
"""

EXCHANGE_ONSET = 0.62
"""Flow over shock-free flow below which the rim exchanges air with its casing [-].

Judgement between facts that pull apart, no correlation. Two large machines (a 400 mm impeller, a
432 mm stage) show no such work at the least flows measured on them, 0.52 and 0.53 of the shock-free
flow: there a line from here is up to 6 % of the work too high. Power of a slow fan rises from
shutoff without a dip; below 0.61 a slow wheel would break that. At 209 m/s of tip speed a made-up
40 mm wheel dips by 7 % near shutoff, which nobody has measured; an onset of 0.7 that takes the dip
away puts the work of the stage 9 % too high.
"""

SEAL_DISCHARGE = 0.6
"""Discharge coefficient of a plain eye seal [-]; a sharp-edged gap, common practice."""

# Losses that lower the head ------------------------------------------------------------------


def incidence_loss(*, mismatch_speed: Values, factor: Values = INCIDENCE_FACTOR) -> Array:
    """Loss where the inflow does not meet the blades [J/kg].

    Parameters
    ----------
    mismatch_speed : array_like
        Tangential difference between relative flow and blade, ``U1 - C1 tan(beta1)`` [m/s]
    factor : array_like
        Share lost; 1 is a sudden change of direction with nothing recovered [-]
    """
    return np.asarray(0.5 * np.asarray(factor) * np.square(mismatch_speed))


def diffusion_factor(*, exit_relative_speed: Values, eye_relative_speed: Values,
                     work_coefficient: Values, blades: Values, eye_radius_ratio: Values) -> Array:
    """Coppage's diffusion factor of an impeller [-].

    Parameters
    ----------
    exit_relative_speed, eye_relative_speed : array_like
        W2, and W1 at the eye's outer diameter [m/s]
    work_coefficient : array_like
        Euler work over U2^2 [-]
    blades, eye_radius_ratio : array_like
        Number of blades, and eye over outlet radius [-]
    """
    ratio = np.asarray(exit_relative_speed) / eye_relative_speed
    eye = np.asarray(eye_radius_ratio)
    spacing = np.asarray(blades) / np.pi * (1.0 - eye) + 2.0 * eye
    return np.asarray(1.0 - ratio + 0.75 * np.asarray(work_coefficient) * ratio / spacing)


def blade_loading_loss(*, diffusion_factor: Values, tip_speed: Values) -> Array:
    """Loss of boundary layers that the blade loading thickens [J/kg].

    None where the relative flow speeds up so much that the factor is negative.
    """
    factor = np.maximum(diffusion_factor, 0.0)
    return np.asarray(LOADING_FACTOR * np.square(factor * np.asarray(tip_speed)))


def flow_length(*, eye_diameter: Values, hub_diameter: Values, outlet_diameter: Values,
                outlet_width: Values, axial_length: Values, eye_angle: Values, hub_angle: Values,
                exit_angle: Values) -> Array:
    """Length of the passages along the blade [m]: meridional arc over mean cosine of blade angle.

    Angles at the outer and inner diameter of the eye and at the exit [rad]; lengths in m.
    """
    arc = (np.pi / 8.0) * (np.asarray(outlet_diameter)
                           - 0.5 * (np.asarray(eye_diameter) + hub_diameter)
                           - outlet_width + 2.0 * np.asarray(axial_length))
    inlet = 0.5 * (np.cos(eye_angle) + np.cos(hub_angle))
    return np.asarray(arc * 2.0 / (inlet + np.cos(exit_angle)))


def passage_hydraulic_diameter(*, eye_diameter: Values, hub_diameter: Values,
                               outlet_diameter: Values, outlet_width: Values, blades: Values,
                               eye_angle: Values, hub_angle: Values, exit_angle: Values) -> Array:
    """Hydraulic diameter of a passage, mean of inlet and exit [m].

    Notes
    -----
    Jansen's printed form; it is half the sum of ``2 s h / (s + h)`` of the two ends, with spacing
    ``s`` normal to the blades and height ``h``, which the tests check.
    """
    z = np.asarray(blades) / np.pi
    outlet, width = np.asarray(outlet_diameter), np.asarray(outlet_width)
    cosine = np.cos(exit_angle)
    at_exit = outlet * cosine / (z + outlet * cosine / width)
    total, height = np.asarray(eye_diameter) + hub_diameter, np.asarray(eye_diameter) - hub_diameter
    mean = 0.5 * (np.cos(eye_angle) + np.cos(hub_angle))
    at_eye = 0.5 * total * mean / (z + total / height * mean)
    return np.asarray(at_exit + at_eye)


def mean_relative_speed(*, eye_speed: Values, exit_speed: Values, eye_relative_speed: Values,
                        hub_relative_speed: Values, exit_relative_speed: Values) -> Array:
    """Mean speed that rubs, (C1t + C2 + W1t + 2 W1h + 3 W2) / 8 [m/s]; Jansen's weights."""
    return np.asarray((np.asarray(eye_speed) + exit_speed + eye_relative_speed
                       + 2.0 * np.asarray(hub_relative_speed)
                       + 3.0 * np.asarray(exit_relative_speed)) / 8.0)


def skin_friction_loss(*, skin_friction: Values, flow_length: Values, hydraulic_diameter: Values,
                       mean_speed: Values) -> Array:
    """Friction loss in the passages [J/kg]; ``skin_friction`` on ``rho W^2 / 2`` [-].

    A pipe's: four times the coefficient, times length over diameter, times ``W^2 / 2``.
    """
    return np.asarray(2.0 * np.asarray(skin_friction) * flow_length / hydraulic_diameter
                      * np.square(mean_speed))


def clearance_loss(*, clearance: Values, outlet_width: Values, exit_swirl: Values,
                   inlet_speed: Values, blades: Values, eye_radius: Values, hub_radius: Values,
                   outlet_radius: Values, density_ratio: Values) -> Array:
    """Loss of the flow that crosses the blade tips of an open impeller [J/kg].

    Parameters
    ----------
    clearance, outlet_width, eye_radius, hub_radius, outlet_radius : array_like
        Lengths [m]
    exit_swirl, inlet_speed : array_like
        cth2 and the meridional speed in the eye [m/s]
    density_ratio : array_like
        Exit over eye density [-]
    """
    swirl = np.abs(exit_swirl)
    area = np.square(eye_radius) - np.square(hub_radius)
    span = (np.asarray(outlet_radius) - eye_radius) * (1.0 + np.asarray(density_ratio))
    group = 4.0 * np.pi / (np.asarray(outlet_width) * blades) * area / span * swirl * inlet_speed
    return np.asarray(0.6 * np.asarray(clearance) / outlet_width * swirl * np.sqrt(group))


def mixing_loss(*, passage_speed: Values, mixed_speed: Values,
                wake_share: Values = WAKE_SHARE) -> Array:
    """Loss where jets and wakes mix and fill the vaneless space [J/kg].

    Parameters
    ----------
    passage_speed : array_like
        Meridional speed between the blades at the exit, as if it were even [m/s]
    mixed_speed : array_like
        Meridional speed at the same radius behind blades and steps of width [m/s]
    wake_share : array_like
        Width share of the wakes [-]

    Notes
    -----
    The sudden-enlargement loss of a jet of ``passage_speed / (1 - wake_share)``, by momentum.
    Johnston and Dean's form is the same where its speed is read behind the step.
    """
    jet = np.asarray(passage_speed) / (1.0 - np.asarray(wake_share))
    return np.asarray(0.5 * np.square(jet - mixed_speed))


# Work that heats the air and raises no pressure ----------------------------------------------


def recirculation_loss(*, diffusion_factor: Values, swirl_over_meridional: Values,
                       tip_speed: Values) -> Array:
    """Work on air that flows back into the impeller, 0.02 sqrt(tan a2) Df^2 U^2 [J/kg].

    None where the factor or the swirl is negative.

    References
    ----------
    Coppage and Dallenbach; from memory. :func:`recirculation_loss_steep` is the rival.
    """
    factor = np.maximum(diffusion_factor, 0.0)
    swirl = np.maximum(swirl_over_meridional, 0.0)
    return np.asarray(0.02 * np.sqrt(swirl) * np.square(factor * np.asarray(tip_speed)))


def recirculation_loss_steep(*, diffusion_factor: Values, exit_flow_angle: Values,
                             tip_speed: Values) -> Array:
    """Rival of :func:`recirculation_loss`, 8e-5 sinh(3.5 a2^3) Df^2 U^2 [J/kg].

    Notes
    -----
    Within a factor of 3 of the other between exit flow angles of 68 and 75 degrees; above about
    80 degrees it explodes (12 U^2 at shutoff), so the map does not use it. Angle in rad.

    References
    ----------
    Oh, Yoon and Chung 1997; from memory.
    """
    factor = np.maximum(diffusion_factor, 0.0)
    return np.asarray(8e-5 * np.sinh(3.5 * np.asarray(exit_flow_angle) ** 3)
                      * np.square(factor * np.asarray(tip_speed)))


def exchange_flow(*, flow: Values, shock_free_flow: Values,
                  exchange_speed: Values = EXCHANGE_SPEED) -> Array:
    """Air the rim exchanges with its casing at low flow, as a share of U times rim.

        c (1 - phi / phi_on),    phi_on = EXCHANGE_ONSET phi_free

    Every correlation for recirculation fails towards shutoff: one vanishes there, the other grows
    without bound. This extrapolation stands in: the exchanged air takes up the exit swirl and
    gives it to the casing, so that a blocked machine draws power and its vaneless space is not at
    rest. A straight line, because measured power rises from shutoff without a dip.

    Parameters
    ----------
    flow, shock_free_flow : array_like
        Flow coefficient, and where the inflow meets the blades without incidence [-]
    exchange_speed : array_like
        c [-]
    """
    onset = EXCHANGE_ONSET * np.asarray(shock_free_flow)
    short = np.maximum(1.0 - np.asarray(flow) / onset, 0.0)
    return np.asarray(np.asarray(exchange_speed) * short)


def tip_leakage_power(*, mass_flow: Values, exit_swirl: Values, clearance: Values, blades: Values,
                      exit_density: Values, tip_speed: Values, outlet_radius: Values,
                      mean_inlet_radius: Values, outlet_width: Values, inlet_height: Values,
                      flow_length: Values) -> Array:
    """Power on air that crosses the blade tips of an open impeller and is worked on again [W].

    Parameters
    ----------
    mass_flow : array_like
        [kg/s]
    exit_swirl, tip_speed : array_like
        [m/s]
    clearance, outlet_radius, mean_inlet_radius : array_like
        [m]
    outlet_width, inlet_height, flow_length : array_like
        [m]
    exit_density : array_like
        [kg/m^3]

    Notes
    -----
    The mean pressure across a blade follows from the moment of momentum of the through-flow; the
    leakage leaves the gap at 0.816 sqrt(2 dp / rho).

    References
    ----------
    Aungier; from memory.
    """
    mean_radius = 0.5 * (np.asarray(outlet_radius) + mean_inlet_radius)
    mean_width = 0.5 * (np.asarray(outlet_width) + inlet_height)
    moment = np.asarray(mass_flow) * outlet_radius * np.abs(exit_swirl)
    pressure = moment / (np.asarray(blades) * mean_radius * mean_width * flow_length)
    speed = 0.816 * np.sqrt(2.0 * pressure / exit_density)
    leakage = np.asarray(exit_density) * blades * clearance * flow_length * speed
    return np.asarray(0.5 * leakage * speed * tip_speed)


def seal_leakage_power(*, static_rise: Values, work: Values, seal_gap: Values,
                       eye_diameter: Values, density: Values) -> Array:
    """Power on air that leaks back through the eye seal of a shrouded impeller [W].

    Parameters
    ----------
    static_rise : array_like
        Static pressure at the rim less that in the eye [Pa]
    work : array_like
        Euler work, done again on what leaks [J/kg]
    seal_gap, eye_diameter : array_like
        [m]
    density : array_like
        At the rim [kg/m^3]

    Notes
    -----
    Three quarters of the static rise reach the seal, the rest feeds the swirl beside the cover
    (common practice, no source).
    """
    pressure = np.maximum(0.75 * np.asarray(static_rise), 0.0)
    speed = SEAL_DISCHARGE * np.sqrt(2.0 * pressure / np.asarray(density))
    leakage = np.asarray(density) * np.pi * np.asarray(eye_diameter) * seal_gap * speed
    return np.asarray(leakage * np.maximum(work, 0.0))
