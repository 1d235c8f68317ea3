"""What a change of size, speed or air does to a map's efficiency through its Reynolds number.

    (1 - eta2) / (1 - eta1) = a + (1 - a) (Re1 / Re2)^n

A share ``a`` of the losses does not care (incidence, mixing, leakage through fixed relative gaps);
the rest is friction. Form and ranges of the constants are common to fan and pump practice, and are
from memory: a 0.3 to 0.5, n 0.1 to 0.2. The law is for small steps between similar machines, and
the functions here refuse large ones.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values
from thrustlapse.rotor.stage_map import Band, PointMap

CONSTANT_SHARE, CONSTANT_SHARE_RANGE = 0.4, (0.3, 0.5)
EXPONENT, EXPONENT_RANGE = 0.15, (0.1, 0.2)
"""Constants of the law and the ranges in which sources differ [-]; from memory."""

LARGEST_RATIO = 10.0
"""Largest ratio of Reynolds numbers, either way, that is corrected [-]; judgement. Losses change by
at most 40 % then."""

LOWEST_REYNOLDS = 1.0e5
"""Least Reynolds number on tip speed and tip diameter to which the law is applied [-]; judgement.
Chord Reynolds numbers are then 1e4 to 5e4, where laminar separation ends any power law."""


def machine_reynolds(*, shaft_speed: Values, diameter: Values, density: Values,
                     viscosity: Values) -> Array:
    """Reynolds number on tip speed and tip diameter [-]: rho (omega D / 2) D / mu.

    Shaft speed in rad/s, diameter in m, density in kg/m^3, viscosity in Pa s.
    """
    speed = 0.5 * np.asarray(shaft_speed) * diameter
    return np.asarray(density * speed * np.asarray(diameter) / viscosity)


def correction_accepted(*, reynolds_from: Values, reynolds_to: Values) -> BoolArray:
    """Where a step between two Reynolds numbers is within the limits of the law."""
    first, second = np.asarray(reynolds_from, dtype=float), np.asarray(reynolds_to, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.maximum(first / second, second / first)
    return np.asarray((ratio <= LARGEST_RATIO) & (np.minimum(first, second) >= LOWEST_REYNOLDS))


def loss_factor(*, reynolds_from: Values, reynolds_to: Values,
                constant_share: Values = CONSTANT_SHARE, exponent: Values = EXPONENT) -> Array:
    """Losses at the second Reynolds number over those at the first [-].

    Parameters
    ----------
    reynolds_from, reynolds_to : array_like
        On tip speed and tip diameter [-]
    constant_share : array_like
        Share of the losses that does not depend on Reynolds number [-], 0.3 to 0.5
    exponent : array_like
        [-], 0.1 to 0.2

    Returns
    -------
    array
        NaN where :func:`correction_accepted` says no.
    """
    fixed = np.asarray(constant_share)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(reynolds_from, dtype=float) / reynolds_to
        factor = fixed + (1.0 - fixed) * np.power(ratio, exponent)
    accepted = correction_accepted(reynolds_from=reynolds_from, reynolds_to=reynolds_to)
    return np.where(accepted, factor, np.nan)


def carried_efficiency(*, efficiency: Values, reynolds_from: Values, reynolds_to: Values,
                       constant_share: Values = CONSTANT_SHARE,
                       exponent: Values = EXPONENT) -> Array:
    """Best efficiency of a similar machine at another Reynolds number [-].

    NaN where the step is refused, where the efficiency is outside 0 to 1, or where it would vanish.
    """
    old = np.asarray(efficiency, dtype=float)
    factor = loss_factor(reynolds_from=reynolds_from, reynolds_to=reynolds_to,
                         constant_share=constant_share, exponent=exponent)
    new = 1.0 - (1.0 - old) * factor
    with np.errstate(invalid="ignore"):
        return np.where((old > 0.0) & (old <= 1.0) & (new > 0.0), new, np.nan)


def carried_efficiency_range(*, efficiency: Values, reynolds_from: Values,
                             reynolds_to: Values) -> tuple[Array, Array]:
    """Least and greatest efficiency within the ranges of the law's constants [-]."""
    corners = np.stack([carried_efficiency(efficiency=efficiency, reynolds_from=reynolds_from,
                                           reynolds_to=reynolds_to, constant_share=a, exponent=n)
                        for a in CONSTANT_SHARE_RANGE for n in EXPONENT_RANGE])
    return np.asarray(corners.min(axis=0)), np.asarray(corners.max(axis=0))


def best_efficiency(stage: PointMap, *, points: int = 801) -> Array:
    """Highest isentropic efficiency of a map on its unstalled side [-]."""
    flow = np.linspace(float(stage.flow[0]), float(stage.flow[-1]), points)
    head, power = stage.curves[0](flow), stage.curves[1](flow)
    with np.errstate(divide="ignore", invalid="ignore"):
        values = np.where((head > 0.0) & (power > 0.0), head * flow / power, 0.0)
    scale = np.asarray(stage.flow_scale) * np.asarray(stage.head_scale) / stage.power_scale
    return np.asarray(float(values.max()) * scale)


def carried_map(stage: PointMap, *, reynolds_from: Values, reynolds_to: Values,
                head_share: float = 0.5, constant_share: Values = CONSTANT_SHARE,
                exponent: Values = EXPONENT) -> PointMap:
    """Map of a similar machine at another Reynolds number.

    The efficiency at best flow follows the law; the curves keep their shape and flow. The change is
    shared between the two: head is multiplied by (eta2 / eta1)^head_share, power by the rest,
    (eta2 / eta1)^(head_share - 1). Friction both takes head and asks for power, and tests do not
    agree on the share (common practice, no source), so half is the default and the whole of the
    doubt joins the band.

    Parameters
    ----------
    stage : PointMap
        Map at ``reynolds_from``
    reynolds_from, reynolds_to : array_like
        On tip speed and tip diameter [-]
    head_share : float
        0: head stays, power takes all; 1: power stays, head takes all

    Returns
    -------
    PointMap
        With its band widened by the doubt about the law's constants and about the share. Head and
        power are NaN where the step is refused (see :func:`correction_accepted`); the band's basis
        says so.
    """
    old = best_efficiency(stage)
    new = carried_efficiency(efficiency=old, reynolds_from=reynolds_from, reynolds_to=reynolds_to,
                             constant_share=constant_share, exponent=exponent)
    low, high = carried_efficiency_range(efficiency=old, reynolds_from=reynolds_from,
                                         reynolds_to=reynolds_to)
    ratio = new / old
    band = _widened(stage.band, change=np.abs(np.log(ratio)), doubt=0.5 * (high - low) / new,
                    head_share=head_share)
    return replace(stage, head_scale=np.asarray(stage.head_scale * ratio**head_share),
                   power_scale=np.asarray(stage.power_scale * ratio**(head_share - 1.0)), band=band)


def _widened(band: Band, *, change: Array, doubt: Array, head_share: float) -> Band:
    known = np.isfinite(change)
    refused = "" if known.all() else "; step refused where the map is NaN"
    largest = float(change[known].max()) if known.any() else 0.0
    unsure = float(doubt[known].max()) if known.any() else 0.0
    split = largest / np.sqrt(12.0)  # standard deviation of a share anywhere between 0 and 1
    return Band(flow=band.flow,
                head=float(np.sqrt(band.head**2 + (head_share * unsure) ** 2 + split**2)),
                power=float(np.sqrt(band.power**2 + ((1.0 - head_share) * unsure) ** 2
                                    + split**2)),
                basis=f"{band.basis}; carried between Reynolds numbers by a memory-only law"
                      f"{refused}")
