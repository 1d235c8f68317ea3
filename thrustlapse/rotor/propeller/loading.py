"""What a propeller's table may be wrong by, and one static reading that puts it right.

An error of loading adds the same thrust coefficient at every advance ratio, as a blade set at
another angle does, so that it does not vanish where the thrust does. Power follows the thrust by
momentum theory; only what is above it has an error of its own, a factor. So thrust and power of
one blade err together, and no draw beats momentum theory.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import replace
from typing import Any, ClassVar, Protocol, TypeVar

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values


class Coefficients(Protocol):
    """What anchoring needs of a table of CT and CP, a dataclass."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def thrust_scale(self) -> Values: ...
    @property
    def power_scale(self) -> Values: ...
    def thrust(self, *, advance_ratio: Values, shaft_speed: Values) -> Array: ...
    def power(self, *, advance_ratio: Values, shaft_speed: Values) -> Array: ...


T = TypeVar("T", bound=Coefficients)

THRUST_FACTORS = (0.6, 1.6)
"""Factors on CT that a reading may ask for [-]; beyond them the label is of another propeller.

Judgement.
"""


def ideal_power(*, thrust: Values, advance_ratio: Values, exit_area_ratio: Values = 0.0) -> Array:
    """Least power coefficient for a thrust coefficient, by momentum theory [-].

    Parameters
    ----------
    thrust, advance_ratio : array_like
        CT and J [-]
    exit_area_ratio : array_like
        0 for an open propeller; duct exit area over disc area [-] for a ducted one

    Notes
    -----
    Open, with ``w`` the induced speed over n D: ``w (J + w) = 2 CT / pi``, ``CP = CT (J + w)``.
    Ducted, with ``e`` the jet's: ``e (e - J) = 4 CT / (pi s)``, ``CP = CT (J + e) / 2``. A disc
    that brakes by more than CT = -pi J^2 / 8 (ducted: -pi s J^2 / 16) stops the stream; it then
    keeps the speed it has there.
    """
    ct, j, ratio = np.asarray(thrust), np.asarray(advance_ratio), np.asarray(exit_area_ratio)
    ducted = ratio > 0.0
    load = np.where(ducted, 16.0 / np.where(ducted, ratio, 1.0), 8.0) * ct / np.pi
    through = 0.5 * (j + np.sqrt(np.maximum(j * j + load, 0.0)))
    return np.asarray(ct * np.where(ducted, 0.5 * (j + through), through))


def power_with_error(*, thrust: Values, nominal_thrust: Values, nominal_power: Values,
                     advance_ratio: Values, excess: Values,
                     exit_area_ratio: Values = 0.0) -> Array:
    """Power coefficient at a thrust coefficient that is not the nominal one [-].

    Momentum theory's power at ``thrust``, and ``excess`` times what the nominal power had above
    that of momentum theory.
    """
    own, before = (ideal_power(thrust=ct, advance_ratio=advance_ratio,
                               exit_area_ratio=exit_area_ratio) for ct in (thrust, nominal_thrust))
    return np.asarray(own + (np.asarray(nominal_power) - before) * excess)


class LoadedTable(ABC):
    """Thrust and power of a table that may err: ``loading`` [-], thrust added over that at rest,
    and ``excess`` [-], a factor on the power above momentum theory."""

    loading: Values
    excess: Values
    exit_area_ratio: Values

    def thrust(self, *, advance_ratio: Values, shaft_speed: Values) -> Array:
        """Thrust coefficient CT [-] at advance ratio [-] and shaft speed [rad/s]."""
        nominal = self._nominal_thrust(advance_ratio, shaft_speed)
        if not np.any(self.loading):
            return nominal
        return np.asarray(nominal + self.loading * self._nominal_thrust(0.0, shaft_speed))

    def power(self, *, advance_ratio: Values, shaft_speed: Values) -> Array:
        """Power coefficient CP [-] at advance ratio [-] and shaft speed [rad/s]."""
        nominal = self._nominal_power(advance_ratio, shaft_speed)
        if not np.any(self.loading) and np.all(np.equal(self.excess, 1.0)):
            return nominal
        return power_with_error(
            thrust=self.thrust(advance_ratio=advance_ratio, shaft_speed=shaft_speed),
            nominal_thrust=self._nominal_thrust(advance_ratio, shaft_speed),
            nominal_power=nominal, advance_ratio=advance_ratio, excess=self.excess,
            exit_area_ratio=self.exit_area_ratio)

    @abstractmethod
    def _nominal_thrust(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        """CT without error [-]."""

    @abstractmethod
    def _nominal_power(self, advance_ratio: Values, shaft_speed: Values) -> Array:
        """CP without error [-]."""


def anchored(table: T, *, thrust: Values, power: Values, shaft_speed: Values) -> T:
    """Table that meets a static reading: one factor on CT and one on CP, at every advance ratio.

    Of many readings those that no such propeller has get NaN; where that is all, it raises.

    Parameters
    ----------
    table : PropellerTable or BatchedTable
        Of a label or of measured blades
    thrust, power : array_like
        CT and CP of the reading, shaft power counted [-], above 0
    shaft_speed : array_like
        Of the reading [rad/s]

    Raises
    ------
    ValueError
        Where the reading beats momentum theory, or asks for a factor on CT outside
        :data:`THRUST_FACTORS`.
    """
    ct, cp = np.asarray(thrust), np.asarray(power)
    possible = _possible(np.where((ct > 0.0) & (cp > 0.0), ct, np.inf) ** 1.5 / cp)
    factor = ct / table.thrust(advance_ratio=0.0, shaft_speed=shaft_speed)
    low, high = THRUST_FACTORS
    fits = (factor >= low) & (factor <= high)
    if not np.any(fits & possible):
        raise ValueError(f"the reading has {np.ravel(factor)[0]:.2f} times the thrust coefficient "
                         f"of this propeller; accepted: {low:g} to {high:g}; check diameter, "
                         "pitch, blade count and shaft speed (pole pairs), or measure the blades")
    factor = np.where(fits & possible, factor, np.nan)
    share = cp / table.power(advance_ratio=0.0, shaft_speed=shaft_speed)
    return replace(table, thrust_scale=table.thrust_scale * factor,
                   power_scale=table.power_scale * share)


def anchored_without_speed(table: T, *, static_ratio: Values, shaft_speed: Values) -> T:
    """Table that meets a static ``CT^1.5 / CP``, all that thrust and shaft power tell: one factor.

    Parameters
    ----------
    static_ratio : array_like
        ``CT^1.5 / CP = T^1.5 / (P D sqrt(rho))`` of the reading [-]; the shaft speed falls out
    shaft_speed : array_like
        About where the propeller turns [rad/s]: the row of the table that is compared

    Notes
    -----
    The factor goes on CP: the thrust coefficient stays the table's, and so does its band.

    Raises
    ------
    ValueError
        Where the reading beats momentum theory
    """
    possible = _possible(np.asarray(static_ratio))
    ct, cp = (read(advance_ratio=0.0, shaft_speed=shaft_speed)
              for read in (table.thrust, table.power))
    share = ct**1.5 / cp / static_ratio
    return replace(table, power_scale=table.power_scale * np.where(possible, share, np.nan))


def _possible(static_ratio: Array) -> BoolArray:
    """Where ``CT^1.5 / CP`` is not beyond the ideal disc's; raises where it is everywhere."""
    most = float(np.sqrt(0.5 * np.pi))
    fits = (static_ratio > 0.0) & (static_ratio <= most)
    if not np.any(fits):
        raise ValueError(f"thrust^1.5 over power is {np.ravel(static_ratio)[0]:.3g} in "
                         f"coefficients; accepted: above 0, at most {most:.4g}, the ideal disc; "
                         "check thrust, power and diameter, and their units")
    return np.asarray(fits)
