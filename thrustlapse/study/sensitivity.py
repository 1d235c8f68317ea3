"""What drives an answer: variance-based indices, and one input at a time.

First-order index: the share of the answer's variance that would go if this input were known. Total
index: the share that would stay if everything else were known; the two differ where inputs act
together. Both from SciPy, over independent scrambles, whose scatter is the error.

A candidate's answer depends on its own inputs and on the shared ones; only those are flown.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.monte_carlo import fly_draws
from thrustlapse.study.sampling import Drawable, groups, shares, touching
from thrustlapse.study.scenario_like import ScenarioLike
from thrustlapse.study.uncertainty_results import Driver, Drivers

SETS = 4
"""Independent sets of draws, whose scatter is the error."""

DRAWS = 128
"""Most draws of a set; each is flown once, and once more for each input. A sixteenth of the draws
of the answers themselves is enough to rank what drives them."""

GRID = 14
"""Airspeeds of a flight: speeds found are flown once more, so few do. With 10 to 20 of them no
answer of any draw of four example scenarios differs by more than 1e-9 of it."""

ENDS = np.array([0.15865525393145707, 0.8413447460685429,
                 0.04163225833177518, 0.9583677416682248])
"""Shares one standard deviation of a normal input below and above its median, and sqrt(3): with
weights of a sixth each and two thirds in the middle the latter give a mean (Gauss and Hermite)."""

SAME = 9
"""Digits in which totals are ranked: inputs that drive nothing differ by round-off, and keep their
order."""

THRUST = "thrust"

Answers = dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class Driven:
    """Drivers of the answers, and thrust of each candidate with one input off at a time [N]:
    ``thrust`` (1 + inputs, ends, airspeeds), the first row with none off, of ``inputs`` in order.
    """

    drivers: tuple[Drivers, ...]
    inputs: tuple[str, ...]
    thrust: dict[str, Array]


@dataclass(frozen=True, kw_only=True)
class Flown:
    """Answers of a candidate over the plan's draws (sets, inputs + 2, draws), and with one input
    at a time at its ends (1 + inputs, ends, ...)."""

    found: Answers
    swings: Answers


def plans(scenario: ScenarioLike, inputs: Sequence[Drawable]) -> Array:
    """Rows of all sets of draws by which variance is shared out among the inputs."""
    return np.concatenate([_plan(len(inputs), draws=_draws(scenario),
                                 members=list(groups(inputs).values()),
                                 seed=scenario.sampling.seed + 7919 * (place + 1))
                           for place in range(SETS)])


def _draws(scenario: ScenarioLike) -> int:
    return min(DRAWS, max(scenario.sampling.samples // 16, 16))


def fly_drivers(scenario: ScenarioLike, inputs: Sequence[Drawable], plan: Array, grid: Array,
                name: str) -> Flown:
    """One candidate by the plan, and by one input at a time over a grid of airspeeds [m/s]."""
    draws, members = _draws(scenario), list(groups(inputs).values())
    asked = np.linspace(0.0, float(grid[-1]), GRID)
    single = touching(scenario, inputs, name)
    own = [place for place, some in enumerate(members) if set(some) & set(single)]
    rows = _rows(own, len(members), draws)
    flown = _answers(scenario, inputs, plan[rows], grid=asked, name=name, only=single)
    singles = _answers(scenario, inputs, _singles(len(inputs), own, members), grid=grid,
                       name=name, only=single)
    return Flown(
        found={answer: _spread_out(flown[answer], rows, own, (SETS, len(members) + 2, draws))
               for answer in ("static thrust", "top speed")},
        swings={answer: _all_ends(values, own, len(members))
                for answer, values in singles.items()})


def drivers_of(inputs: Sequence[Drawable], nominal: Comparison,
               flown: Mapping[str, Flown]) -> Driven:
    """Drivers of every candidate's static thrust and top speed, and of the lead at speed."""
    together = tuple(groups(inputs))
    questions = [(f"static thrust of {name}", "N", one.found["static thrust"],
                  one.swings["static thrust"]) for name, one in flown.items()]
    if nominal.drag_area is not None:
        questions += [(f"top speed of {name}", "m/s", one.found["top speed"],
                       one.swings["top speed"]) for name, one in flown.items()]
        questions += _lead(nominal, {name: one.found["top speed"] for name, one in flown.items()},
                           {name: one.swings["top speed"] for name, one in flown.items()})
    made = [_drivers(*question, together) for question in questions]
    return Driven(drivers=tuple(one for one in made if one is not None), inputs=together,
                  thrust={name: one.swings[THRUST] for name, one in flown.items()})


def _lead(nominal: Comparison, found: Answers,
          swings: Answers) -> list[tuple[str, str, Array, Array]]:
    """The lead of the fastest over the next, where two have a top speed."""
    tops = sorted(((result.level.top_speed, name) for name, result in nominal.candidates.items()
                   if result.level is not None and np.isfinite(result.level.top_speed)),
                  reverse=True)
    if len(tops) < 2:
        return []
    first, second = tops[0][1], tops[1][1]
    return [(f"lead in top speed of {first} over {second}", "m/s", found[first] - found[second],
             swings[first] - swings[second])]


def _plan(dimensions: int, *, seed: int, draws: int = DRAWS,
          members: Sequence[Sequence[int]] | None = None) -> Array:
    """Rows A, B, and for each input, or group of them, A with those columns of B."""
    both = shares(draws, 2 * dimensions, seed=seed, scrambles=1)
    a, b = both[:, :dimensions], both[:, dimensions:]
    some = [[place] for place in range(dimensions)] if members is None else members
    mixed = [np.where(np.isin(np.arange(dimensions), columns), b, a) for columns in some]
    return np.concatenate([a, b, *mixed])


def _rows(own: Sequence[int], dimensions: int, draws: int) -> Array:
    """Rows of the plans that a candidate's answers need: those of inputs that touch it."""
    blocks = [0, 1, *(place + 2 for place in own)]
    size = draws * (dimensions + 2)
    within = np.concatenate([block * draws + np.arange(draws) for block in blocks])
    return np.concatenate([place * size + within for place in range(SETS)])


def _spread_out(values: Array, rows: Array, own: Sequence[int],
                shape: tuple[int, int, int]) -> Array:
    """Answers in the shape (sets, d + 2, draws); inputs that do not touch leave A as it is."""
    shaped = np.full(shape, np.nan)
    shaped.reshape(-1)[rows] = values
    for place in set(range(shape[1] - 2)) - set(own):
        shaped[:, place + 2] = shaped[:, 0]
    return shaped


def _singles(dimensions: int, own: Sequence[int], members: Sequence[Sequence[int]]) -> Array:
    """Medians with one input at each of its ends in four rows; the first row all at it.

    Of a group the strongest of its independent numbers goes, the last of its eigenvectors.
    """
    rows = np.full((1 + ENDS.size * len(own), dimensions), 0.5)
    for count, place in enumerate(own):
        start = 1 + ENDS.size * count
        rows[start:start + ENDS.size, members[place][-1]] = ENDS
    return rows


def _all_ends(values: Array, own: Sequence[int], dimensions: int) -> Array:
    """The middle's answer, and those at the ends of every input: (1 + dimensions, ends, ...)."""
    each = values.shape[1:]
    made = np.array(np.broadcast_to(values[0], (1 + dimensions, ENDS.size, *each)))
    made[1 + np.asarray(own, dtype=int)] = values[1:].reshape(len(own), ENDS.size, *each)
    return made


def _answers(scenario: ScenarioLike, inputs: Sequence[Drawable], drawn: Array, grid: Array,
             name: str, only: Sequence[int]) -> Answers:
    flown = fly_draws(scenario, inputs, drawn, grid, expected={}, only=only,
                      names=(name,)).flown[name]
    return {"static thrust": flown.thrust[:, 0], "top speed": flown.top_speed,
            THRUST: flown.thrust}


def _drivers(answer: str, unit: str, values: Array, ends: Array,
             names: Sequence[str]) -> Drivers | None:
    """Indices and swings of one answer; None where it has too few values or does not vary."""
    good: BoolArray = np.all(np.isfinite(values), axis=1)
    keep = min(int(row.sum()) for row in good)
    draws = 1 << (keep.bit_length() - 1) if keep else 0
    if draws < max(values.shape[-1] // 8, 2) or float(np.ptp(values[:, 0][good])) == 0.0:
        return None
    first, total = [], []
    for part, known in zip(values, good, strict=True):
        kept = part[:, known][:, :draws]
        one, all_of_it = sobol(kept[0], kept[1], kept[2:])
        first.append(one)
        total.append(all_of_it)
    ones, wholes = np.array(first), np.array(total)
    errors = [np.std(each, axis=0, ddof=1) / np.sqrt(SETS) for each in (ones, wholes)]
    made = [Driver(key=name, first=float(ones[:, place].mean()),
                   first_error=float(errors[0][place]), total=float(wholes[:, place].mean()),
                   total_error=float(errors[1][place]), swing_low=float(ends[1 + place, 0]),
                   swing_high=float(ends[1 + place, 1]),
                   lean=float(leans(ends)[place]))
            for place, name in enumerate(names)]
    return Drivers(answer=answer, unit=unit, nominal=float(ends[0, 0]), draws=SETS * draws,
                   dropped=int(good.size - good.sum()),
                   drivers=tuple(sorted(made, key=lambda one: -round(one.total, SAME))))


def leans(ends: Array) -> Array:
    """Mean of an answer over one input alone, less the answer without draws.

    Parameters
    ----------
    ends : array, (1 + inputs, ends, ...)
        The answer without draws in the first row, then at the ends of every input

    Returns
    -------
    array, (inputs, ...)
        In the answer's unit
    """
    return np.asarray((ends[1:, 2:].mean(axis=1) - ends[0, 0]) / 3.0)


def sobol(at_a: Array, at_b: Array, at_ab: Array) -> tuple[Array, Array]:
    """First-order and total indices from the answers of a plan.

    Parameters
    ----------
    at_a, at_b : array, (draws,)
        Answers of two independent sets; draws a power of two
    at_ab : array, (inputs, draws)
        Answers of the first set with one input taken from the second

    Returns
    -------
    first, total : array, (inputs,)
        Both 1 for a single input, from which all variance then comes (SciPy takes two or more)

    References
    ----------
    Saltelli and others, Comput. Phys. Commun. 181 (2010), as ``scipy.stats.sobol_indices`` has it.
    """
    if len(at_ab) == 1:
        return np.ones(1), np.ones(1)
    from scipy.stats import sobol_indices

    given: Mapping[str, Array] = {"f_A": at_a[None, :], "f_B": at_b[None, :],
                                  "f_AB": at_ab[:, None, :]}
    found = sobol_indices(func=given, n=at_a.size)
    return (np.atleast_1d(np.squeeze(found.first_order)),
            np.atleast_1d(np.squeeze(found.total_order)))
