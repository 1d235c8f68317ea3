"""Break-even: what a machine would need to push as hard as a rival does at the same airspeed.

The chain efficiency is what reaches the jet of the power at the pack. Momentum theory ties it to
thrust and jet speed, ``F (V8 + V) / 2 = eta P``, whatever is inside the machine; so the efficiency
needed for a thrust is a closed form, and where it passes 1 no machine of that jet speed can make
that thrust from that power, whoever builds it: the energy the jet carries away and the work of the
thrust alone are more than the power.

Thrusts and powers are of all units here unless said otherwise; all incompressible but for the
speed of a choked jet, which counts as expanded to ambient pressure.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.air.gas import GAS_CONSTANT, SPECIFIC_HEAT
from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.ideal import disc_induced_speed_from_thrust, jet_speed_from_thrust


def chain_efficiency(*, thrust: Values, jet_speed: Values, airspeed: Values,
                     power: Values) -> Array:
    """Chain efficiency that goes with a net thrust [-]: eta = F (V8 + V) / (2 P).

    Parameters
    ----------
    thrust : array_like
        Net thrust, above zero [N]: a machine's own for the efficiency it has; for a tie in
        installed thrust the rival's installed thrust plus the machine's own external drag
    jet_speed : array_like
        Fully expanded, above the airspeed; of an open rotor in the far wake [m/s]
    airspeed : array_like
        At least 0 [m/s]; at rest the form is regular
    power : array_like
        At the pack terminals [W]

    Returns
    -------
    array
        Broadcast shape; NaN where no power is drawn or no jet leaves faster than the machine
        flies, for nothing pushes there. May pass 1 for a thrust that is asked for.
    """
    jet, v, drawn = (np.asarray(value, dtype=float) for value in (jet_speed, airspeed, power))
    means = (np.asarray(thrust) > 0.0) & (jet > v) & (drawn > 0.0)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.where(means, np.asarray(thrust) * (jet + v) / (2.0 * drawn), np.nan)


def fully_expanded_speed(*, jet_speed: Values, mass_flow: Values, jet_area: Values,
                         gross_thrust: Values, pressure: Values) -> Array:
    """Speed of a jet once it has expanded to ambient pressure without loss [m/s].

    ``jet_speed`` unless choked. Exit pressure, density and temperature follow from what one unit
    pushes and passes: p8 = p0 + (Fg - mdot V8) / Aj, rho8 = mdot / (Aj V8); then
    V^2 = V8^2 + 2 cp T8 (1 - (p0 / p8)^(R / cp)).

    Parameters
    ----------
    jet_speed, mass_flow, jet_area, gross_thrust : array_like
        In the exit plane of one unit [m/s], [kg/s], [m^2], [N]
    pressure : array_like
        Ambient [Pa]
    """
    speed, flow, area = (np.asarray(value) for value in (jet_speed, mass_flow, jet_area))
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = 1.0 + (gross_thrust - flow * speed) / (area * np.asarray(pressure))
        temperature = pressure * ratio * area * speed / (GAS_CONSTANT * flow)
        left = -np.expm1(-GAS_CONSTANT / SPECIFIC_HEAT * np.log(ratio))
        return np.asarray(np.sqrt(speed**2 + 2.0 * SPECIFIC_HEAT * temperature * left))


def jet_speed_of_exit(*, thrust: Values, mass_flow: Values, jet_speed: Values,
                      airspeed: Values) -> Array:
    """Jet speed at which the exit of one unit makes a thrust [m/s].

    Larger root of F = k V8 (V8 - V), with k = rho8 Aj what the exit passes now over its jet's speed
    [kg/m]: its area and the density of its jet are held.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        passed = np.asarray(mass_flow) / jet_speed
    return jet_speed_from_thrust(thrust=thrust, area=passed, density=1.0, airspeed=airspeed)


def jet_speed_of_disc(*, thrust: Values, mass_flow: Values, jet_speed: Values,
                      airspeed: Values) -> Array:
    """Far-wake speed at which the disc of one open rotor makes a thrust [m/s].

    F = k (Vj^2 - V^2) / 2, with k = rho A from the flow through the disc, which passes it at half
    of Vj + V.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        passed = 2.0 * np.asarray(mass_flow) / (np.asarray(jet_speed) + airspeed)
    return np.asarray(airspeed + 2.0 * disc_induced_speed_from_thrust(
        thrust=thrust, area=passed, density=1.0, airspeed=airspeed))


def jet_speed_needed(*, thrust: Values, efficiency: Values, power: Values,
                     airspeed: Values) -> Array:
    """Jet speed with which an efficiency and a power make a thrust [m/s]: 2 eta P / F - V.

    The wider the exit, the slower the jet; NaN where even an endless exit, whose jet is no faster
    than the airspeed, would not do.
    """
    with np.errstate(invalid="ignore", divide="ignore"):
        speed = 2.0 * np.asarray(efficiency) * power / np.asarray(thrust) - airspeed
        return np.where((speed > airspeed) & (np.asarray(thrust) > 0.0), speed, np.nan)


def drag_area_allowed(*, net_thrust: Values, thrust: Values, density: Values,
                      airspeed: Values) -> Array:
    """Largest external drag area of its own with which a machine still ties [m^2].

    Parameters
    ----------
    net_thrust : array_like
        Its net thrust [N]
    thrust : array_like
        Thrust to be left after its own external drag [N]

    Returns
    -------
    array
        Below zero where it falls short even without drag of its own; NaN at rest.
    """
    v = np.asarray(airspeed, dtype=float)
    dynamic = 0.5 * np.asarray(density) * np.where(v > 0.0, v, np.nan) ** 2
    return np.asarray((np.asarray(net_thrust) - thrust) / dynamic)
