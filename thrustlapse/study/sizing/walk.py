"""The best design of every kind over a domain: from few points outwards, on any executor.

The first points are solved from samples alone, twice. Those between begin with the designs of the
nearest that are done, and in the end every point sees its neighbours' once more. Pieces and seeds
do not depend on who works on them, and neither do the numbers.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import partial

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.study.chunk_folder import Arrays
from thrustlapse.study.hand_out import hand_out
from thrustlapse.study.sizing.domain import Best, Domain, Tell
from thrustlapse.study.sizing.kinds import GRIDS, GridKey, Kind
from thrustlapse.study.sizing.map_grid import MapGrid
from thrustlapse.study.sizing.merit import Rules, judged, worth
from thrustlapse.study.sizing.optimise import Effort, Population, optimise
from thrustlapse.study.sizing.work import Task, Work
from thrustlapse.study.workers import Hands

EDGE = 1e-3
"""A free variable this close to an end of its range, as a share of it, stands on its bound [-]."""

PIECE = 192
"""Points worked on together: enough to hide the calls, few enough to keep several workers busy."""

SMALL, SMALL_SPEED = 0.02, 30.0
"""Thrust below which differences are held against it, as a share of power over the airspeed and a
little more [m/s] (judgement: it decides only when a point counts as settled)."""

NEAR, SPREAD, COPIES = 4, (0.03, 0.12), 4
"""Designs a point begins with, how far copies of them are strewn within the ranges [-], and how
many copies."""


@dataclass(frozen=True, kw_only=True)
class Plan:
    """How hard the first points, those between, the closing sweep and what would flip the answer
    are worked on. Without a closing sweep the first points are worked on once. Of airspeeds
    and powers at most ``most`` are worked on, evenly, both ends kept."""

    first: Effort = field(default_factory=Effort)
    between: Effort = field(default_factory=lambda: Effort(samples=32, members=28, generations=90))
    closing: Effort | None = field(default_factory=lambda: Effort(samples=0, members=20,
                                                                  generations=20))
    flip: Effort | None = field(default_factory=lambda: Effort(samples=64, members=28,
                                                               generations=60, agree=1e-3))
    most: tuple[int, int] | None = None


ROUGH = Plan(first=Effort(samples=64, members=12, generations=12),
             between=Effort(samples=16, members=12, generations=8), closing=None, flip=None,
             most=(12, 8))
"""For a first look."""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """Some points of one kind: what a worker is given. ``start`` as of :func:`.optimise`; ``grid``
    are the kind's maps where they are known."""

    kind: Kind
    rules: Rules
    airspeed: Array
    power: Array
    effort: Effort
    start: Array | None
    grid: MapGrid | None = None

    def task(self, name: str, points: IntArray) -> Task:
        """What it is to a worker: whose, and which points of a domain."""
        count = self.airspeed.size
        alone = ((count,), np.float64)
        return Task(
            call=partial(_first, self), name=name, points=points, size=count * self.effort.most,
            form={"places": ((count, len(self.kind.variables)), np.float64), "value": alone,
                  "beyond": alone, "converged": ((count,), np.bool_),
                  "evaluations": ((), np.int64)})


def solved(piece: Piece) -> Population:
    """The best designs at the points of a piece, among rotors that a limit of width lets be."""
    airspeed, power, kind = piece.airspeed, piece.power, piece.kind
    if piece.grid is not None:
        kind.keep([piece.grid])
    largest = np.ones(len(kind.variables))
    at = list(kind.variables).index("diameter")
    largest[at] = kind.widest(piece.rules.frontal_limit)
    start = piece.start
    if start is not None:
        start = start.copy()
        start[..., at] = np.minimum(start[..., at], largest[at]) / max(largest[at], EDGE)

    def score(places: Array, point: IntArray) -> tuple[Array, Array]:
        return judged(kind, piece.rules, places * largest, airspeed=airspeed[point],
                      power=power[point])

    found = optimise(score, points=airspeed.size, variables=largest.size, start=start,
                     scale=SMALL * power / (airspeed + SMALL_SPEED), effort=piece.effort)
    return replace(found, places=found.places * largest)


def _first(piece: Piece) -> Arrays:
    """The first of each point's designs: all that a walk goes on with."""
    found = solved(piece)
    return {"places": found.places[:, 0], "value": found.value[:, 0],
            "beyond": found.beyond[:, 0], "converged": found.converged,
            "evaluations": np.array(found.evaluations)}


def share_maps(kinds: Iterable[Kind], hands: Hands) -> None:
    """Make the maps of kinds, each once and side by side, and know them here."""
    wanted = {kind.grid_key: kind for kind in kinds if kind.grid_key not in GRIDS}
    made: dict[tuple[GridKey, int], MapGrid] = {}
    hand_out((((key, part), partial(kind.some_maps, part)) for key, kind in wanted.items()
              for part in range(kind.map_parts)), hands, made.__setitem__)
    for key, kind in wanted.items():
        kind.keep([made[key, part] for part in range(kind.map_parts)])


class Walk:
    """What is known so far of one kind."""

    def __init__(self, kind: Kind, rules: Rules, domain: Domain) -> None:
        self.kind, self.rules, self.domain = kind, rules, domain
        self.airspeed, self.power = domain.points
        count = self.power.size
        self.places = np.zeros((count, len(kind.variables)))
        self.value, self.beyond = np.full(count, -np.inf), np.full(count, np.inf)
        self.converged: BoolArray = np.zeros(count, dtype=bool)
        self.apart = np.full(count, np.nan)
        self.evaluations = 0

    def tasks(self, name: str, point: IntArray, effort: Effort, others: IntArray | None
              ) -> Iterator[Task]:
        """Some points cut to pieces; each begins with the designs of its ``others``."""
        for begin in range(0, point.size, PIECE):
            part = point[begin:begin + PIECE]
            seed = effort.seed + 1000 * int(part[0])
            yield Piece(
                kind=self.kind, rules=self.rules, grid=self.kind.grid, airspeed=self.airspeed[part],
                power=self.power[part], effort=replace(effort, seed=seed),
                start=None if others is None else self._strewn(
                    part, others[begin:begin + PIECE], seed)).task(name, part)

    def _strewn(self, point: IntArray, others: IntArray, seed: int) -> Array:
        """Designs of other points with the same motor, and copies of them strewn about.

        At another power a design keeps its motor's mass, not its power over mass.
        """
        carried = self.places[others].copy()
        at = list(self.kind.variables).index("power_over_motor_mass")
        motor = self.kind.variables["power_over_motor_mass"]
        carried[..., at] = motor.share(motor.value(carried[..., at])
                                       * self.power[point][:, None] / self.power[others])
        rng = np.random.default_rng(seed)
        copies = [carried + width * rng.standard_normal(carried.shape)
                  for width in np.geomspace(*SPREAD, COPIES)]
        return np.asarray(np.minimum(np.maximum(np.concatenate([carried, *copies], axis=1), 0.0),
                                     1.0))

    def take(self, point: IntArray, found: Arrays, *, alone: bool) -> None:
        """Keep what is better of a piece's numbers than what was known; ``alone`` where it
        began with samples only."""
        self.evaluations += int(found["evaluations"])
        value, beyond = found["value"], found["beyond"]
        both = (self.beyond[point] <= 0.0) & (beyond <= 0.0)
        with np.errstate(invalid="ignore"):
            apart = np.abs(value - self.value[point]) / np.abs(
                np.maximum(value, self.value[point]))
        if alone:
            self.apart[point] = np.where(both, apart, np.nan)
        wins = np.where(both, value > self.value[point], beyond < self.beyond[point])
        won = point[wins]
        self.places[won] = found["places"][wins]
        self.value[won], self.beyond[won] = value[wins], beyond[wins]
        self.converged[point] |= found["converged"]

    def best(self) -> Best:
        """All of it, told."""
        made = worth(self.kind, self.rules, self.places, airspeed=self.airspeed, power=self.power)
        good = made.beyond <= 0.0
        names, shape = tuple(self.kind.variables), self.domain.shape
        edge = (self.places <= EDGE) | (self.places >= 1.0 - EDGE)

        def shaped(values: Array) -> Array:
            return np.where(good, values, np.nan).reshape(shape)

        return Best(
            kind=self.kind.name, value=shaped(made.value),
            installed_thrust=shaped(made.installed_thrust),
            electrical_power=shaped(made.electrical_power),
            design={name: shaped(values)
                    for name, values in self.kind.values(self.places).items()},
            running={name: shaped(values) for name, values in made.running.items()},
            on_bound=tuple(tuple(name for name, on in zip(names, row, strict=True) if on and fine)
                           for row, fine in zip(edge, good, strict=True)),
            converged=(self.converged & good).reshape(shape), apart=shaped(self.apart),
            evaluations=self.evaluations, places=self.places)


Step = tuple[IntArray, Effort, IntArray | None]
"""Points, how hard they are worked on, and the points whose designs each begins with."""


def _steps(domain: Domain, plan: Plan) -> Iterator[list[Step]]:
    """What is done at once, one after the other."""
    first, *rest = domain.rounds
    runs = 1 if plan.closing is None else 2
    yield [(first, replace(plan.first, seed=plan.first.seed + run), None) for run in range(runs)]
    ready = first
    for point in rest:
        yield [(point, plan.between, domain.nearest(point, ready, NEAR))]
        ready = np.concatenate([ready, point])
    if plan.closing is not None:
        every = np.arange(domain.power.size * domain.airspeed.size)
        yield [(every, plan.closing, np.concatenate([every[:, None], domain.neighbours], axis=1))]


def best_of(kinds: Mapping[str, Kind], rules: Rules, domain: Domain, *, work: Work,
            plan: Plan | None = None, tell: Tell | None = None) -> dict[str, Best]:
    """The best design of each kind at every point of a domain, by the kind's name."""
    how = plan or Plan()
    walks = {name: Walk(kind, rules, domain) for name, kind in kinds.items()}
    whole = sum(point.size * effort.most for steps in _steps(domain, how)
                for point, effort, _ in steps)
    done = dict.fromkeys(walks, 0)
    share_maps(kinds.values(), work.hands)

    def told(name: str, size: int) -> None:
        done[name] += size
        if tell:
            tell(name, done[name] / whole)

    for steps in _steps(domain, how):
        tasks = (task for name, walk in walks.items() for step in steps
                 for task in walk.tasks(name, *step))
        for name, point, found in work.done(tasks, told):
            walks[name].take(point, found, alone=steps[0][2] is None)
    return {name: walk.best() for name, walk in walks.items()}
