"""Slip: how far the flow leaving an impeller falls short of its blades.

    cth2 = U2 (1 - phi2 tan(beta2)) - c_slip,    phi2 = cr2 / U2

Angles are from the radial direction, backward lean positive. Every model here returns
``c_slip / U2``. Two definitions of "slip factor" are in use and differ unless the blades are
radial: ``1 - c_slip/U2``, and ``cth2 / cth2_ideal`` (:func:`swirl_over_ideal`).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Protocol

import numpy as np

from thrustlapse.arrays import Array, Values

WIESNER_SCATTER = 0.05 / 0.7063
"""Standard deviation of measured ``1 - c_slip/U2`` about Wiesner's [-].

52 % of the test data lie within 0.05 of it (ASME J. Eng. Gas Turbines Power 143(2) 021013,
abstract); 0.7063 standard deviations enclose 52 % of a normal distribution.
"""


class SlipModel(Protocol):
    """What the stage asks of a slip model: slip speed over tip speed [-]."""

    def __call__(self, *, blades: Values, exit_angle: Values, radius_ratio: Values) -> Array: ...


def stodola(*, blades: Values, exit_angle: Values,
            radius_ratio: Values = 0.0) -> Array:  # noqa: ARG001 - one signature for the table
    """Slip speed over tip speed [-], Stodola: pi cos(beta2) / Z.

    Parameters
    ----------
    blades : array_like
        Number of blades [-]
    exit_angle : array_like
        Blade exit angle from radial [rad]
    radius_ratio : array_like
        Not used

    References
    ----------
    Stodola's relative eddy; form from memory, agrees with the form printed in textbooks.
    """
    return np.asarray(np.pi * np.cos(exit_angle) / np.asarray(blades))


def stanitz(*, blades: Values, exit_angle: Values,
            radius_ratio: Values = 0.0) -> Array:  # noqa: ARG001 - one signature for the table
    """Slip speed over tip speed [-], Stanitz: 0.63 pi / Z.

    Notes
    -----
    Valid for blades within 45 degrees of radial.

    References
    ----------
    Stanitz, NACA TN 2610 (1952); form from memory. Dixon Ex 7.4 prints it as sigma = 1 - 2/Z.
    """
    z, angle = np.broadcast_arrays(np.asarray(blades, float), np.asarray(exit_angle, float))
    return np.asarray(0.63 * np.pi / z + 0.0 * angle)


def wiesner_radius_limit(*, blades: Values, exit_angle: Values) -> Array:
    """Inlet over outlet radius above which blades crowd too little for Wiesner's base form [-]."""
    return np.asarray(np.exp(-8.16 * np.cos(exit_angle) / np.asarray(blades)))


def wiesner(*, blades: Values, exit_angle: Values, radius_ratio: Values) -> Array:
    """Slip speed over tip speed [-], Wiesner with his limiting radius ratio.

    Parameters
    ----------
    blades : array_like
        Number of blades [-]
    exit_angle : array_like
        Blade exit angle from radial [rad]
    radius_ratio : array_like
        Mean inlet radius over outlet radius [-]

    Notes
    -----
    Above the limit the work falls off as ``1 - ((r1/r2 - eps) / (1 - eps))**3``.

    References
    ----------
    Wiesner, J. Eng. Power 89 (1967); form and limit as several textbooks print them.
    """
    limit = wiesner_radius_limit(blades=blades, exit_angle=exit_angle)
    base = np.sqrt(np.cos(exit_angle)) / np.power(np.asarray(blades), 0.7)
    beyond = np.maximum((np.asarray(radius_ratio) - limit) / (1.0 - limit), 0.0)
    return np.asarray(1.0 - (1.0 - base) * (1.0 - beyond**3))


SLIP_MODELS: Mapping[str, SlipModel] = MappingProxyType(
    {"wiesner": wiesner, "stodola": stodola, "stanitz": stanitz})
"""Slip models by the word a scenario uses."""

STANITZ_ANGLE_LIMIT = np.deg2rad(45.0)
"""Lean beyond which Stanitz's form is not meant to hold [rad]."""


def slip_speed(model: str, *, blades: Values, exit_angle: Values, radius_ratio: Values) -> Array:
    """Slip speed over tip speed [-] by the model of that name.

    Raises
    ------
    ValueError
        For an unknown name.
    """
    if model not in SLIP_MODELS:
        raise ValueError(f"unknown slip model {model!r}: expected one of {', '.join(SLIP_MODELS)}")
    return SLIP_MODELS[model](blades=blades, exit_angle=exit_angle, radius_ratio=radius_ratio)


def slip_spread(*, blades: Values, exit_angle: Values, radius_ratio: Values) -> Array:
    """Standard deviation of the slip speed over tip speed among the models in their ranges [-]."""
    z, angle, ratio = np.broadcast_arrays(np.asarray(blades, float), np.asarray(exit_angle, float),
                                          np.asarray(radius_ratio, float))
    each = {name: model(blades=z, exit_angle=angle, radius_ratio=ratio)
            for name, model in SLIP_MODELS.items()}
    each["stanitz"] = np.where(np.abs(angle) <= STANITZ_ANGLE_LIMIT, each["stanitz"], np.nan)
    return np.asarray(np.nanstd(np.stack(list(each.values())), axis=0))
