"""Flow and air power from the suction behind a plate with a hole, as suction machines are rated.

The air enters a box through a sharp hole in a plate; the machine sucks on the box. The suction in
the box gives the flow through the hole, and suction times flow is the air power.

References
----------
ASTM F558, measuring the air performance of vacuum cleaners: form and coefficients FROM MEMORY, here
checked against a thin-plate discharge of 0.596 with the expansibility of ISO 5167 (within 3 % for
holes of half an inch and more and 20 inches of water and more) and a table computed by others from
the same constants.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values

INCH = 0.0254
"""[m]"""

INCH_OF_WATER = 248.66
"""Inch of water at 68 degF [Pa], the standard's own; 249.09 Pa at 39 degF."""

CFM = 0.3048**3 / 60.0
"""Cubic foot a minute [m^3/s]."""

FLOW_FACTOR = 21.844
"""cfm per square inch of squared diameter and root of an inch of water."""

POWER_FACTOR = 0.117354
"""W per cfm and inch of water."""

STANDARD_DENSITY = 0.075 * 0.45359237 / 0.3048**3
"""Density the flow factor holds for, 0.075 lb/ft^3 [kg/m^3]."""

PLATES = np.array([
    (0.25, 0.5575, 0.5955, 1.0468), (0.375, 0.5553, 0.5754, 1.0263),
    (0.5, 0.5694, 0.5786, 1.0138), (0.625, 0.5692, 0.5767, 1.0104),
    (0.75, 0.5715, 0.5807, 1.0138), (0.875, 0.574, 0.5841, 1.0158),
    (1.0, 0.5687, 0.5785, 1.0146), (1.125, 0.5675, 0.5819, 1.0225),
    (1.25, 0.5717, 0.5814, 1.0152), (1.375, 0.568, 0.5826, 1.0235),
    (1.5, 0.5719, 0.582, 1.0165), (1.75, 0.5695, 0.5839, 1.0235),
    (2.0, 0.5757, 0.5853, 1.0157), (2.25, 0.5709, 0.5878, 1.0279),
    (2.5, 0.566, 0.59024, 1.04)])
"""Diameter [in] and constants a, b, c of the standard plates; from memory."""

THIN_PLATE = 0.5961
"""Discharge coefficient of a sharp hole in a large thin plate: constant term of ISO 5167-2, that is
a diameter ratio of 0; from memory [-]."""

SMALLEST_TRUSTED, LEAST_TRUSTED_SUCTION = 0.5 * INCH, 20.0 * INCH_OF_WATER
"""Below this diameter [m] or this suction [Pa] the standard's constants drift from a thin plate."""

SAME_PLATE = 0.001
"""A diameter within this share of a standard plate's is that plate."""

MODEL_DEVIATION, UNTRUSTED_DEVIATION = 0.015, 0.06
"""Relative standard deviation of the flow from the coefficient alone [-], by judgement: how far
the two ways to it differ where trusted, and where not."""


@dataclass(frozen=True, kw_only=True)
class OrificeFlow:
    """What the suction behind a plate says.

    ``flow`` [m^3/s] of air as it stands in the room, ``mass_flow`` [kg/s], ``air_power`` [W] (flow
    times suction), ``coefficient`` [-], ``flow_deviation`` [m^3/s] one standard deviation;
    ``standard_plate`` whether the standard's own constants were used, ``trusted`` whether hole and
    suction are large enough for them.
    """

    flow: Array
    mass_flow: Array
    air_power: Array
    coefficient: Array
    flow_deviation: Array
    power_deviation: Array
    standard_plate: BoolArray
    trusted: BoolArray


def pressure_ratio(*, suction: Values, ambient_pressure: Values) -> Array:
    """Pressure in the box over that of the room [-]."""
    return 1.0 - np.asarray(suction, dtype=float) / ambient_pressure


def standard_coefficient(*, ratio: Values, plate: Array) -> Array:
    """Flow coefficient K1 of the standard plates [-]; ``plate`` an index into :data:`PLATES`."""
    a, b, c = (PLATES[plate, column] for column in (1, 2, 3))
    r = np.asarray(ratio, dtype=float)
    return np.asarray((a * r - b) / (r - c))


def thin_plate_coefficient(*, ratio: Values) -> Array:
    """Discharge coefficient times expansibility of a sharp hole in a large thin plate [-].

    References
    ----------
    ISO 5167, orifice with a diameter ratio of 0: 0.5961 (1 - 0.351 (1 - r^(1/1.4))).
    """
    r = np.asarray(ratio, dtype=float)
    return np.asarray(THIN_PLATE * (1.0 - 0.351 * (1.0 - np.power(r, 1.0 / 1.4))))


def orifice_flow(*, diameter: Values, suction: Values, ambient_pressure: Values,
                 density: Values, diameter_deviation: Values = 0.0,
                 suction_deviation: Values = 0.0) -> OrificeFlow:
    """Flow and air power from the suction behind a plate.

    Parameters
    ----------
    diameter : array_like
        Of the hole [m]. Within 0.1 % of a standard plate its constants are used, else the thin
        plate's coefficient
    suction : array_like
        How far the pressure in the box lies below the room's [Pa]
    ambient_pressure, density : array_like
        Of the room [Pa], [kg/m^3]
    diameter_deviation, suction_deviation : array_like
        Standard deviations [m], [Pa]

    Returns
    -------
    OrificeFlow
        NaN where the suction is negative or reaches the choking ratio, 0.5283, of the hole.

    Notes
    -----
    Valid for a box large against the hole. The standard states its flow for air of 0.075 lb/ft^3;
    it is carried to the room's density by the root of the ratio, as the hole's law demands.
    """
    d, dp, p0, rho = np.broadcast_arrays(*(np.asarray(one, dtype=float) for one in (
        diameter, suction, ambient_pressure, density)))
    inches = d / INCH
    plate = np.argmin(np.abs(inches[..., None] - PLATES[:, 0]), axis=-1)
    is_standard = np.abs(inches / PLATES[plate, 0] - 1.0) <= SAME_PLATE
    with np.errstate(invalid="ignore"):
        valid = (dp >= 0.0) & (1.0 - dp / p0 > CHOKING)
        dp = np.where(valid, dp, np.nan)
        r = pressure_ratio(suction=dp, ambient_pressure=p0)
        coefficient = np.where(is_standard, standard_coefficient(ratio=r, plate=plate),
                               thin_plate_coefficient(ratio=r))
    at_standard = FLOW_FACTOR * inches**2 * coefficient * np.sqrt(dp / INCH_OF_WATER) * CFM
    flow = at_standard * np.sqrt(STANDARD_DENSITY / rho)
    trusted = (d >= SMALLEST_TRUSTED * (1.0 - SAME_PLATE)) & (dp >= LEAST_TRUSTED_SUCTION)
    model = np.where(trusted | ~is_standard, MODEL_DEVIATION, UNTRUSTED_DEVIATION)
    with np.errstate(invalid="ignore", divide="ignore"):
        from_suction = np.where(dp > 0.0, np.asarray(suction_deviation) / dp, 0.0)
    from_diameter = 2.0 * np.asarray(diameter_deviation) / d
    power = POWER_FACTOR * (flow / CFM) * (dp / INCH_OF_WATER)
    return OrificeFlow(
        flow=flow, mass_flow=flow * rho, air_power=power, coefficient=coefficient,
        flow_deviation=flow * np.sqrt(model**2 + from_diameter**2 + (0.5 * from_suction)**2),
        power_deviation=power * np.sqrt(model**2 + from_diameter**2 + (1.5 * from_suction)**2),
        standard_plate=np.asarray(is_standard), trusted=np.asarray(trusted))


CHOKING = 0.5283
"""Pressure ratio at which air chokes in a hole [-]."""


@dataclass(frozen=True, kw_only=True)
class AirPowerPeak:
    """Greatest air power [W] and the flow [m^3/s] at which it lies, with the quadratic's three
    coefficients A1 + A2 Q + A3 Q^2 in SI."""

    power: float
    flow: float
    coefficients: tuple[float, float, float]
    within: bool


def peak_air_power(*, flow: Array, air_power: Array) -> AirPowerPeak:
    """Greatest air power by a second-degree curve through readings of several plates.

    ``within`` tells whether the peak lies inside the flows that were read.

    Raises
    ------
    ValueError
        With fewer than three different flows, or readings whose curve has no top.

    References
    ----------
    ASTM F558, annex (from memory): AP = A1 + A2 Q + A3 Q^2, Qmax = -A2/(2 A3),
    APmax = A1 - A2^2/(4 A3).
    """
    q, ap = np.asarray(flow, dtype=float), np.asarray(air_power, dtype=float)
    known = np.isfinite(q) & np.isfinite(ap)
    q, ap = q[known], ap[known]
    if np.unique(q).size < 3:
        raise ValueError("a curve of second degree needs three different flows")
    scale = float(np.max(np.abs(q)))
    a3, a2, a1 = np.polyfit(q / scale, ap, 2)
    if a3 >= 0.0:
        raise ValueError("the readings have no greatest air power between them")
    top = -a2 / (2.0 * a3) * scale
    return AirPowerPeak(power=float(a1 - a2**2 / (4.0 * a3)), flow=float(top),
                        coefficients=(float(a1), float(a2 / scale), float(a3 / scale**2)),
                        within=bool(q.min() <= top <= q.max()))
