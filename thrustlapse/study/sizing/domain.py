"""The best machine of every kind over airspeed and electrical power, and who leads where."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray

Tell = Callable[[str, float], None]
"""``tell(kind, share)``: how much of a kind's domain is done."""


@dataclass(frozen=True, kw_only=True)
class Domain:
    """Airspeeds (n,) [m/s] and electrical powers (m,) [W]; a point is power by airspeed."""

    airspeed: Array
    power: Array

    @property
    def shape(self) -> tuple[int, int]:
        """Powers, airspeeds."""
        return self.power.size, self.airspeed.size

    def thinned(self, airspeeds: int, powers: int) -> Domain:
        """At most so many airspeeds and powers, evenly, both ends kept."""
        def some(values: Array, count: int) -> Array:
            places = np.linspace(0.0, values.size - 1.0, min(count, values.size))
            return np.asarray(values[places.round().astype(int)])

        return Domain(airspeed=some(self.airspeed, airspeeds), power=some(self.power, powers))

    @property
    def points(self) -> tuple[Array, Array]:
        """Airspeed and power of every point, both (m n,)."""
        power, airspeed = np.meshgrid(self.power, self.airspeed, indexing="ij")
        return airspeed.ravel(), power.ravel()

    @property
    def rounds(self) -> tuple[IntArray, ...]:
        """Points in the order they are worked on: every fourth row and column with the last, then
        every second, then the others."""
        row, column = self._places
        found, done = [], np.zeros(row.size, dtype=bool)
        for step in (4, 2, 1):
            fits = [(at % step == 0) | (at == count - 1)
                    for at, count in zip((row, column), self.shape, strict=True)]
            new = fits[0] & fits[1] & ~done
            done |= new
            found.append(np.flatnonzero(new))
        return tuple(one for one in found if one.size)

    def nearest(self, point: IntArray, among: IntArray, count: int) -> IntArray:
        """The points nearest to each of some, by rows and columns, (points, at most count)."""
        row, column = self._places
        away = (np.square(row[point][:, None] - row[among])
                + np.square(column[point][:, None] - column[among]))
        return np.asarray(among[np.argsort(away, axis=1, kind="stable")[:, :count]])

    @property
    def _places(self) -> tuple[IntArray, IntArray]:
        return np.divmod(np.arange(self.power.size * self.airspeed.size), self.airspeed.size)

    @property
    def neighbours(self) -> IntArray:
        """The points beside each, (m n, 4); the point itself at an end."""
        row, column = self._places
        steps = ((0, 1), (0, -1), (1, 0), (-1, 0))
        return np.stack([
            np.minimum(np.maximum(row + up, 0), self.power.size - 1) * self.airspeed.size
            + np.minimum(np.maximum(column + along, 0), self.airspeed.size - 1)
            for up, along in steps], axis=1)


@dataclass(frozen=True, kw_only=True)
class Best:
    """The best of a kind at every point, all (powers, airspeeds); NaN where no design is allowed.

    ``value`` [N] is installed thrust less the induced drag of the unit's own weight. ``design``
    holds the free variables in SI, ``on_bound`` the names of those that stand on an end of their
    range, point by point in the order of the rows. ``apart`` is by how much two runs of the
    optimiser from different beginnings differ [-], NaN where only one was made. ``running`` is how
    it runs, by the names of :data:`.RUNNING`. ``places`` (points, variables) are the designs' own
    within their ranges.
    """

    kind: str
    value: Array
    installed_thrust: Array
    electrical_power: Array
    design: Mapping[str, Array]
    running: Mapping[str, Array]
    on_bound: tuple[tuple[str, ...], ...]
    converged: BoolArray
    apart: Array
    evaluations: int
    places: Array


def leading(values: Mapping[str, Array]) -> IntArray:
    """Index of the kind that leads at each point; -1 where none pulls."""
    every = np.stack([np.where(np.isfinite(one), one, -np.inf) for one in values.values()])
    return np.where(every.max(axis=0) > 0.0, np.argmax(every, axis=0), -1)


def over_others(values: Mapping[str, Array], name: str) -> Array:
    """A kind's best over the best of the others [-]; 0 where it does not pull, NaN where no other
    does."""
    own = values[name]
    rest = np.stack([np.nan_to_num(one, nan=-np.inf)
                     for other, one in values.items() if other != name]).max(axis=0)
    pulls = np.isfinite(own) & (own > 0.0)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(rest > 0.0, np.where(pulls, own, 0.0) / rest, np.nan)


@dataclass(frozen=True, kw_only=True)
class Flipped:
    """Every kind's best [N] over a domain under a condition."""

    words: str
    domain: Domain
    values: Mapping[str, Array]

    @property
    def led(self) -> dict[str, float]:
        """Share of the points at which each kind leads, of those where anything pulls [-]."""
        leader = leading(self.values)
        pulls = max(int(np.count_nonzero(leader >= 0)), 1)
        return {name: float(np.count_nonzero(leader == place)) / pulls
                for place, name in enumerate(self.values)}

    @property
    def nearest(self) -> dict[str, float]:
        """Each kind's greatest ratio to the best other, in flight [-]; NaN where no other pulls."""
        found = {}
        for name in self.values:
            ratio = over_others(self.values, name)[:, self.domain.airspeed > 0.0]
            found[name] = float(np.nanmax(ratio)) if np.isfinite(ratio).any() else float("nan")
        return found


@dataclass(frozen=True, kw_only=True)
class WhenResult:
    """Who leads where: the best of every kind over the domain, and how sure that is.

    ``chance`` by kind is the share of draws in which its best design leads, (powers, airspeeds);
    ``base_drag`` [N] the induced drag of everything but the unit, NaN without an airframe;
    ``drag_area`` [m^2] the airframe's own, ``dynamic_pressure`` [Pa] by airspeed. ``flips`` are as
    things stand, and then under one changed condition each; empty where none was tried.
    """

    title: str
    question: str
    invented: bool
    scenario_digest: str
    version: str
    domain: Domain
    best: Mapping[str, Best]
    chance: Mapping[str, Array]
    draws: int
    base_drag: Array
    dynamic_pressure: Array
    drag_area: float | None
    rules: tuple[str, ...]
    flips: tuple[Flipped, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """Kinds, in order."""
        return tuple(self.best)

    @property
    def values(self) -> dict[str, Array]:
        """Every kind's best [N]."""
        return {name: one.value for name, one in self.best.items()}

    @property
    def leader(self) -> IntArray:
        """Index of the kind that leads, (powers, airspeeds); -1 where none pulls."""
        return leading(self.values)

    def ratio(self, name: str) -> Array:
        """As :func:`over_others`."""
        return over_others(self.values, name)

    def threshold(self, name: str) -> Array:
        """Drag area up to which an airframe flies level with a kind's best at each point [m^2]."""
        with np.errstate(divide="ignore", invalid="ignore"):
            return (self.best[name].value - self.base_drag) / self.dynamic_pressure

    def top_speed(self, name: str, area: Array) -> Array:
        """Greatest airspeed of level flight on a kind's best [m/s], (powers, areas).

        Of airframes of this mass and wing with other drag areas [m^2]: where the threshold last
        falls below the area, by a straight line between airspeeds. Infinite where the aircraft is
        still pulled at the highest airspeed looked at, NaN where it is at none.
        """
        speed = self.domain.airspeed
        room = self.threshold(name)[:, None, :] - np.asarray(area)[:, None]
        flies = (room > 0.0) & (speed > 0.0)
        last = speed.size - 1 - np.argmax(flies[..., ::-1], axis=-1)
        after = np.minimum(last + 1, speed.size - 1)
        here, beyond = (np.take_along_axis(room, at[..., None], axis=-1)[..., 0]
                        for at in (last, after))
        # where the kind has no design farther on, no more is claimed than where it was found
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(np.isfinite(beyond) & (after > last), here / (here - beyond), 0.0)
        found = speed[last] + share * (speed[after] - speed[last])
        return np.where(flies.any(axis=-1), np.where(last == speed.size - 1, np.inf, found), np.nan)
