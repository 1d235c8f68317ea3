"""Is what the sizing study finds the best there is? Brute force at 20 points of its domain.

    python -m tests.tools.sizing_trial [POINTS]     the grids, of points that are not kept yet
    python -m tests.tools.sizing_trial --found      what the optimiser finds at all of them

At points of the default domain, fixed by :data:`SEED`, every kind is worked out for each
design of a regular grid of a million over all its free variables, ends included, and then twice
more for grids about the best found, within a step of the last grid to both sides. Not operated are
designs of which an ideal jet or disc of their area, with all the electrical power in it and
:data:`ROOM` more, makes less thrust than the best known: they cannot be better. The best stands
in ``sizing_trial.csv`` beside this file, a row a point and kind, with the design, the number of
designs, seed and version; points that stand there already are kept. It takes one processor about
two minutes a point. ``--found`` takes less than one for all: the better of two runs of the
study's optimiser, from samples alone, beside each. ``tests/study/sizing/test_brute_force.py`` holds
one against the other, and runs the optimiser again at :data:`AGAIN` of the points.
"""

from __future__ import annotations

import csv
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

import numpy as np

import thrustlapse as tl
from thrustlapse import __version__
from thrustlapse.arrays import Array, IntArray
from thrustlapse.propulsor.ideal import disc_thrust, ducted_thrust
from thrustlapse.sizing import kinds, rules
from thrustlapse.study.sizing.domain import Domain
from thrustlapse.study.sizing.kinds import Kind
from thrustlapse.study.sizing.merit import Rules, judged
from thrustlapse.study.sizing.walk import Piece, Plan, solved
from thrustlapse.study.sizing.wheels import WHEEL_HUB, eye_ratio

SCENARIO = Path("scenarios/when_would_the_blower_win.toml")
KEPT = Path(__file__).with_name("sizing_trial.csv")
COLUMNS = ("point", "kind", "power_W", "airspeed_m_per_s", "designs", "grid_best_N", "designs_near",
           "best_N", "places", "seed", "version", "found_N", "found_designs", "found_version")

POINTS, AGAIN, SEED = 20, 6, 19
WHOLE, NEAR, ROUNDS = 1_000_000, 60_000, 2
"""Designs of the whole grid and of each about its best, at least, and how many of these."""

TOGETHER = 98_304

ROOM = 1.1
"""Thrust that is believed possible, over the ideal one of incompressible flow without heat [-]."""


DOMAIN = Domain(airspeed=np.linspace(0.0, 150.0, 24), power=np.geomspace(100.0, 3000.0, 16))


def points(count: int = POINTS) -> IntArray:
    """Indices of the points tried, of :attr:`Domain.points`."""
    size = DOMAIN.power.size * DOMAIN.airspeed.size
    return np.asarray(np.random.default_rng(SEED).permutation(size)[:count])


def levels(variables: int, least: int) -> list[int]:
    """How many values each variable takes, for at least so many designs and few more."""
    found = [int(least ** (1.0 / variables))] * variables
    for place in range(variables):
        if np.prod(found) < least:
            found[place] += 1
    return found


def grid(axes: list[Array]) -> Iterator[Array]:
    """Every combination, (designs, variables), in pieces that are each spread over the whole."""
    shape = tuple(axis.size for axis in axes)
    size = int(np.prod(shape))
    pieces = -(-size // TOGETHER)
    for start in range(pieces):
        at = np.unravel_index(np.arange(start, size, pieces), shape)
        yield np.stack([axis[place] for axis, place in zip(axes, at, strict=True)], axis=1)


def ideal(kind: Kind, places: Array, *, airspeed: float, power: float) -> Array:
    """Thrust of an ideal jet or disc of a design's area with all the electrical power [N]."""
    free, air = kind.values(places), kind.air
    diameter = free["diameter"]
    common = {"power": power, "density": air.density, "airspeed": airspeed}
    if kind.name == "propeller":
        return disc_thrust(area=0.25 * np.pi * diameter**2, **common)
    blower = kind.name == "blower"
    face = eye_ratio(free["width"]) if blower else 1.0
    hub = WHEEL_HUB if blower else free["hub_ratio"]
    eye = 0.25 * np.pi * diameter**2 * (face**2 - hub**2)
    return ducted_thrust(area=free["exit_over_eye"] * eye, **common)


def best_of_grid(kind: Kind, held: Rules, axes: list[Array], airspeed: float,
                 power: float) -> tuple[float, Array]:
    """Greatest value within every limit [N], and its design; -inf where none is."""
    best, design = -np.inf, np.full(len(axes), 0.5)
    for places in grid(axes):
        may = ROOM * ideal(kind, places, airspeed=airspeed, power=power) > best
        places = places[may]
        count = places.shape[0]
        if not count:
            continue
        value, beyond = judged(kind, held, places, airspeed=np.full(count, airspeed),
                               power=np.full(count, power))
        value = np.where(beyond <= 0.0, value, -np.inf)
        at = int(np.argmax(value))
        if value[at] > best:
            best, design = float(value[at]), places[at]
    return best, design


def tried(kind: Kind, held: Rules, airspeed: float, power: float) -> dict[str, str]:
    """The row of a point and a kind."""
    count = len(kind.variables)
    axes = [np.linspace(0.0, 1.0, each) for each in levels(count, WHOLE)]
    first, design = best_of_grid(kind, held, axes, airspeed, power)
    best, near, steps = first, 0, np.array([axis[1] for axis in axes])
    for _ in range(ROUNDS):
        axes = [np.linspace(max(at - step, 0.0), min(at + step, 1.0), each) for at, step, each in
                zip(design, steps, levels(count, NEAR), strict=True)]
        near += int(np.prod([axis.size for axis in axes]))
        found, place = best_of_grid(kind, held, axes, airspeed, power)
        if found > best:
            best, design = found, place
        steps = np.array([axis[1] - axis[0] for axis in axes])
    return {"kind": kind.name, "power_W": f"{power:.6g}", "airspeed_m_per_s": f"{airspeed:.6g}",
            "designs": str(int(np.prod(levels(count, WHOLE)))), "grid_best_N": f"{first:.8g}",
            "designs_near": str(near), "best_N": f"{best:.8g}",
            "places": " ".join(f"{value:.6f}" for value in design)}


def kept() -> list[dict[str, str]]:
    """Rows known."""
    if not KEPT.exists():
        return []
    with KEPT.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def write(rows: Sequence[dict[str, str]]) -> None:
    """Keep rows."""
    with KEPT.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, COLUMNS, restval="", lineterminator="\n")
        writer.writeheader()
        writer.writerows(rows)


def searched(kind: Kind, held: Rules, rows: Sequence[dict[str, str]]) -> tuple[Array, float]:
    """What the optimiser finds at the points of some rows of a kind [N], the better of two runs as
    at the first points of a study, here side by side; and designs worked out for both, a point."""
    speed, power = (np.tile([float(row[key]) for row in rows], 2)
                    for key in ("airspeed_m_per_s", "power_W"))
    run = solved(Piece(kind=kind, rules=held, airspeed=speed, power=power, start=None,
                       effort=Plan().first))
    return np.max(run.value[:, 0].reshape(2, len(rows)), axis=0), run.evaluations / len(rows)


def find() -> None:
    """Run the optimiser at every point that is kept."""
    scenario = tl.read_scenario(SCENARIO)
    every, held = {kind.name: kind for kind in kinds(scenario).values()}, rules(scenario)
    rows = kept()
    for name, kind in every.items():
        own = [row for row in rows if row["kind"] == name]
        found, spent = searched(kind, held, own)
        for row, value in zip(own, found, strict=True):
            row |= {"found_N": f"{value:.8g}", "found_designs": f"{spent:.0f}",
                    "found_version": __version__}
    write(rows)


def main() -> None:
    """Work out what is not kept."""
    if "--found" in sys.argv:
        return find()
    scenario = tl.read_scenario(SCENARIO)
    every, held = kinds(scenario), rules(scenario)
    airspeed, power = DOMAIN.points
    count = int(sys.argv[1]) if len(sys.argv) > 1 else POINTS
    for point in points(count).tolist():
        for name, kind in every.items():
            rows = kept()
            if any((row["point"], row["kind"]) == (str(point), kind.name) for row in rows):
                continue
            began = time.monotonic()
            row = {"point": str(point), "seed": str(SEED), "version": __version__,
                   **tried(kind, held, float(airspeed[point]), float(power[point]))}
            write([*rows, row])
            print(f"{power[point]:.0f} W, {airspeed[point]:.1f} m/s, {name}: {row['best_N']} N, "
                  f"{time.monotonic() - began:.0f} s", flush=True)
    return None


if __name__ == "__main__":
    main()
