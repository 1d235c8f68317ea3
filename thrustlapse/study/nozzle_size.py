"""The exit diameter for most thrust, at rest and at each airspeed, and the cost of a fixed one."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import OperatingPoint

SMALLEST_SHARE = 0.3
"""Smallest exit diameter tried, over the nozzle entry's."""

DIAMETERS = 57
FINE = 17

Fly = Callable[[Candidate, Array], OperatingPoint]


@dataclass(frozen=True, kw_only=True)
class NozzleStudy:
    """Installed thrust [N] over exit diameter (rows) [m] and airspeed (columns) [m/s].

    ``best_diameter`` and ``best_thrust`` per airspeed; ``at_edge`` where the best is the widest
    exit the duct allows; ``fixed_diameter`` is the scenario's own, ``fixed_thrust`` its thrust,
    and ``cost`` the share of the best thrust it forgoes.
    """

    diameter: Array
    airspeed: Array
    thrust: Array
    best_diameter: Array
    best_thrust: Array
    at_edge: BoolArray
    fixed_diameter: float
    fixed_thrust: Array

    @property
    def cost(self) -> Array:
        """Share of the best thrust that the fixed exit forgoes [-]; NaN where the best is none."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(self.best_thrust > 0.0, 1.0 - self.fixed_thrust / self.best_thrust,
                            np.nan)


def size_nozzle(candidate: Candidate, *, airspeed: Array, fly: Fly) -> NozzleStudy | None:
    """Nozzle study of a ducted candidate; ``None`` for an open rotor.

    Parameters
    ----------
    airspeed : array, shape (n,)
        Airspeeds to size for [m/s]
    fly : callable
        ``fly(candidate, airspeed)``, on the comparison's own footing
    """
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return None
    diameters, thrust, best_diameter, best_thrust = _search(candidate, airspeed, fly)
    fixed = float(np.sqrt(4.0 / np.pi * np.max(np.asarray(unit.nozzle.exit_area))))
    return NozzleStudy(
        diameter=diameters, airspeed=airspeed, thrust=thrust,
        best_diameter=best_diameter, best_thrust=best_thrust,
        at_edge=np.asarray(best_diameter >= diameters[-1] * (1.0 - 1e-9)),
        fixed_diameter=fixed,
        fixed_thrust=fly(candidate, airspeed).installed_thrust)


def best_exits(candidate: Candidate, *, built: Array, airspeed: Array,
               fly: Fly) -> tuple[Array, OperatingPoint]:
    """Exit diameter of most installed thrust at each airspeed [m], and how it runs with that exit.

    ``built`` is the installed thrust of the exit as built [N], which counts as tried. NaN and
    invalid where no exit has a value.
    """
    assert isinstance(candidate.unit, Ducted)
    _, _, diameter, thrust = _search(candidate, airspeed, fly)
    fixed = np.sqrt(4.0 / np.pi * np.asarray(candidate.unit.nozzle.exit_area))
    point = fly(with_exit_diameter(candidate, np.where(thrust > built, diameter, fixed)), airspeed)
    return np.where(point.valid, np.where(thrust > built, diameter, fixed), np.nan), point


def _search(candidate: Candidate, airspeed: Array, fly: Fly) -> tuple[Array, Array, Array, Array]:
    """Diameters tried [m], thrust over them and the airspeeds [N]; the best of both by airspeed."""
    assert isinstance(candidate.unit, Ducted)
    widest = float(np.sqrt(4.0 / np.pi * np.max(np.asarray(candidate.unit.duct.area))))
    diameters = np.linspace(SMALLEST_SHARE * widest, widest, DIAMETERS)
    thrust = _thrust(candidate, diameters[:, None], airspeed, fly)
    known = np.where(np.isfinite(thrust), thrust, -np.inf)
    place = np.argmax(known, axis=0)
    low = diameters[np.maximum(place - 1, 0)]
    high = diameters[np.minimum(place + 1, DIAMETERS - 1)]
    fine = low + np.linspace(0.0, 1.0, FINE)[:, None] * (high - low)
    inner = _thrust(candidate, fine, airspeed, fly)
    inner = np.where(np.isfinite(inner), inner, -np.inf)
    best, column = np.argmax(inner, axis=0), np.arange(airspeed.size)
    nowhere = ~np.isfinite(known).any(axis=0)
    return (diameters, thrust, np.where(nowhere, np.nan, fine[best, column]),
            np.where(nowhere, np.nan, inner[best, column]))


def with_exit_diameter(candidate: Candidate, diameter: Array) -> Candidate:
    """Same candidate with other nozzle exits; the array broadcasts against the airspeeds."""
    assert isinstance(candidate.unit, Ducted)
    nozzle = replace(candidate.unit.nozzle, exit_area=np.pi / 4.0 * np.square(diameter))
    return replace(candidate, unit=replace(candidate.unit, nozzle=nozzle))


def _thrust(candidate: Candidate, diameter: Array, airspeed: Array, fly: Fly) -> Array:
    return fly(with_exit_diameter(candidate, diameter), airspeed).installed_thrust
