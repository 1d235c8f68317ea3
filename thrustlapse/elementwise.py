"""The root finders of the package: many scalar or two-variable problems at once.

One contract, SciPy's elementwise one: element ``j`` of the answer depends on element ``j`` of the
arguments alone. A residual is called with the positions of the elements it is asked about, so that
it can pick their parameters: ``residual(index, ...)``.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, BoolArray, IntArray

CHUNK = 32_768
"""Elements worked on together: small enough to stay in cache, large enough to hide the calls."""

SECANT_STEPS = 8
"""Secant steps after which an element is left to a bracketing method."""

GUESSED_STEPS, LONGEST_GUESS = 12, 3.0
"""The same of steps from a guess, and the longest of them."""

QUADRATIC_STOP = 1e-8
"""Relative size of a Newton step after which the next would be lost in round-off."""

LONGEST_STEP = 0.8
"""Largest change of a logarithmic unknown in one step."""

STEP_TOLERANCE = 1e-11
RESIDUAL_TOLERANCE = 1e-15
STILL_MISS = 1e-9
"""Both residuals together below which steps as short as :data:`STEP_TOLERANCE` are the last."""

LAST_STEP, LEFT_OVER = 1e-10, 1e-13
"""A last step is taken without asking for the residual behind it where it is shorter than the
first, and what it leaves is expected to be below the second."""

PROBE = 1e-6
LEAST_LESSON = 1e-40
"""Square of the shortest step from which derivatives are learnt."""

NEIGHBOURS = 8
"""Elements in a row that start with the derivatives of the first of them."""

REFRESH = 8
"""Steps between two probings of the derivatives."""

Pair = tuple[Array, Array]
Slopes = tuple[Array, Array, Array, Array]
PairResidual = Callable[[IntArray, Array, Array], Pair]
Residual = Callable[[IntArray, Array], Array]


def solve_pair(residual: PairResidual, start: Pair, *, lower: Pair, upper: Pair,
               slopes: Slopes | None = None,
               iterations: int = 32) -> tuple[Array, Array, BoolArray]:
    """Two unknowns and two residuals per element: Newton's first steps, then secant updates.

    Derivatives are probed at the start, behind the first step and every few steps; between,
    Broyden's update learns them from the steps taken. Elements that have converged leave the batch,
    with the step that is the last by :data:`LAST_STEP`.

    Parameters
    ----------
    residual : callable
        ``residual(index, a, b) -> (r, s)``; finite for every ``a``, ``b`` within the bounds
    start, lower, upper : tuple of array
        One-dimensional, one entry per element
    slopes : tuple of array, optional
        Derivatives of both residuals, ``(dr/da, dr/db, ds/da, ds/db)``, where they are known near a
        start that is near the root: a first step shorter than :data:`LAST_STEP` is then the last
    iterations : int
        Steps after which an element is given up and left to a bracketing method

    Returns
    -------
    a, b, converged

    References
    ----------
    Broyden, Math. Comp. 19 (1965) 577-593.
    """
    a, b = np.array(start[0], dtype=float), np.array(start[1], dtype=float)
    converged = np.zeros(a.shape, dtype=bool)
    index = np.arange(a.size)
    x, y = a.copy(), b.copy()
    bounds = (*lower, *upper)
    near = slopes is not None
    # nothing is known of a step before the first, but for a start that is near
    taken = np.asarray(np.inf if near else np.nan)
    if slopes is None:
        r, s, slopes = _neighbourly(residual, index, x, y)
    else:
        r, s = residual(index, x, y)
    dx, dy = _step(slopes, r, s)
    for count in range(iterations + 1):
        last, over = _ended(np.abs(dx) + np.abs(dy), taken=taken, miss=np.abs(r) + np.abs(s))
        done = over & (x > bounds[0]) & (x < bounds[2])
        if np.count_nonzero(done) > index.size // 4 or count == iterations:
            a[index], b[index] = np.where(last, x + dx, x), np.where(last, y + dy, y)
            converged[index] = done
            keep = np.flatnonzero(~done)
            if not keep.size:
                break
            index, x, y, r, s = index[keep], x[keep], y[keep], r[keep], s[keep]
            dx, dy = dx[keep], dy[keep]
            slopes = (slopes[0][keep], slopes[1][keep], slopes[2][keep], slopes[3][keep])
            bounds = (bounds[0][keep], bounds[1][keep], bounds[2][keep], bounds[3][keep])
        if count % REFRESH == 0 and count:
            slopes = probe(residual, index, x, y, here=(r, s))
            dx, dy = _step(slopes, r, s)
        new_x = np.minimum(np.maximum(x + dx, bounds[0]), bounds[2])
        new_y = np.minimum(np.maximum(y + dy, bounds[1]), bounds[3])
        dx, dy = new_x - x, new_y - y
        if count == 0 and not near:
            # the first step is the longest: what was probed before it no longer holds behind it
            new_r, new_s, slopes = _neighbourly(residual, index, new_x, new_y)
        else:
            new_r, new_s = residual(index, new_x, new_y)
            slopes = _learn(slopes, dx, dy, new_r - r, new_s - s)
        x, y, r, s = new_x, new_y, new_r, new_s
        taken = np.abs(dx) + np.abs(dy)
        dx, dy = _step(slopes, r, s)
    return a, b, converged


def _ended(ahead: Array, *, taken: Array, miss: Array) -> tuple[BoolArray, BoolArray]:
    """Where the step ahead is the last, and where that or no more is to be taken, by the length of
    the steps ahead and taken and the residuals together."""
    # the step after the next is about as much shorter than it as it is than the last
    last = (ahead < LAST_STEP) & (ahead * ahead <= LEFT_OVER * taken)
    # where round-off moves every step alike, the one ahead is no shorter: they are short enough
    still = (taken < STEP_TOLERANCE) & (miss < STILL_MISS)
    return last, last | still | (miss < RESIDUAL_TOLERANCE)


def _neighbourly(residual: PairResidual, index: IntArray, x: Array,
                 y: Array) -> tuple[Array, Array, Slopes]:
    """Residuals of all elements, and derivatives probed at one of each few neighbours."""
    size = x.size
    some = np.arange(0, size, NEIGHBOURS)
    place = np.concatenate([np.arange(size), some, some])
    moved = np.zeros((2, place.size))
    moved[0, size:size + some.size] = moved[1, size + some.size:] = PROBE
    r, s = residual(index[place], x[place] + moved[0], y[place] + moved[1])
    slopes = (np.repeat((each[part] - each[some]) / PROBE, NEIGHBOURS)[:size]
              for each in (r, s)
              for part in (slice(size, size + some.size), slice(size + some.size, None)))
    rx, ry, sx, sy = slopes
    return r[:size], s[:size], (rx, ry, sx, sy)


def probe(residual: PairResidual, index: IntArray, x: Array, y: Array, *, here: Pair) -> Slopes:
    """Derivatives ``(dr/dx, dr/dy, ds/dx, ds/dy)`` from a small step in each unknown."""
    r, s = here
    rx, sx = residual(index, x + PROBE, y)
    ry, sy = residual(index, x, y + PROBE)
    return (rx - r) / PROBE, (ry - r) / PROBE, (sx - s) / PROBE, (sy - s) / PROBE


def _step(slopes: Slopes, r: Array, s: Array) -> Pair:
    rx, ry, sx, sy = slopes
    determinant = rx * sy - ry * sx
    with np.errstate(divide="ignore", invalid="ignore"):
        dx = (ry * s - sy * r) / determinant
        dy = (sx * r - rx * s) / determinant
    longest = np.maximum(np.abs(dx), np.abs(dy))
    if longest.size and longest.max() <= LONGEST_STEP:
        return dx, dy
    # a singular pair of derivatives sends the element on a fixed step in the sense of the residual
    dx = np.where(np.isfinite(dx), dx, np.sign(s) * LONGEST_STEP)
    dy = np.where(np.isfinite(dy), dy, -np.sign(r) * LONGEST_STEP)
    longest = np.maximum(np.maximum(np.abs(dx), np.abs(dy)) / LONGEST_STEP, 1.0)
    return dx / longest, dy / longest


def _learn(slopes: Slopes, dx: Array, dy: Array, dr: Array, ds: Array) -> Slopes:
    rx, ry, sx, sy = slopes
    length = dx * dx + dy * dy
    # a step lost in round-off taught nothing, and its square may vanish
    lesson = length > LEAST_LESSON
    scale = np.where(lesson, 1.0, 0.0) / np.where(lesson, length, 1.0)
    miss_r = (dr - rx * dx - ry * dy) * scale
    miss_s = (ds - sx * dx - sy * dy) * scale
    return rx + miss_r * dx, ry + miss_r * dy, sx + miss_s * dx, sy + miss_s * dy


def bracketed_root(residual: Residual, low: Array, high: Array) -> tuple[Array, BoolArray]:
    """One unknown per element between two bounds at which the residual differs in sign.

    SciPy's elementwise bracketing method (Chandrupatla's): it cannot fail where the residual is
    continuous and changes sign.

    Returns
    -------
    root, converged
        NaN and False where the residual does not change sign between the bounds.
    """
    from scipy.optimize import elementwise

    index = np.arange(np.size(low))
    answer = elementwise.find_root(lambda x, i: residual(i.astype(np.intp), x), (low, high),
                                   args=(index.astype(float),),
                                   tolerances={"xatol": 0.0, "xrtol": 4e-16, "fatol": 0.0,
                                               "frtol": 0.0}, maxiter=200)
    # a bracket shrunk to one spacing of the floats may end as "iterations used up": it is a root
    found = np.asarray(answer.success) | (np.asarray(answer.status) == -2)
    return np.where(found, answer.x, np.nan), found


def guessed_root(residual: Residual, low: Array, high: Array, guess: Array
                 ) -> tuple[Array, BoolArray]:
    """:func:`bracketed_root` where a guess is good and the residual changes about as the unknown.

    From the guess steps as long as the residual, then secant steps, for the quick majority, and
    bracketing for what they leave. Where the bounds show no change of sign nothing is looked for.
    """
    every = np.arange(low.size)
    signs = np.sign(residual(every, low)) * np.sign(residual(every, high))
    index = np.flatnonzero(signs <= 0.0)
    root, found = np.full(low.size, np.nan), np.zeros(low.size, dtype=bool)
    x = guess[index].astype(float)
    before, at_before = x, np.zeros(x.size)
    for count in range(GUESSED_STEPS):
        here = residual(index, x)
        with np.errstate(divide="ignore", invalid="ignore"):
            step = here * (before - x) / (here - at_before)
        # the first has nothing behind it, and a secant that points nowhere is none
        step = np.where(np.isfinite(step) & (np.abs(step) < LONGEST_GUESS) & (count > 0), step,
                        -np.sign(here) * np.minimum(np.abs(here), LONGEST_GUESS))
        met = (np.abs(step) < STEP_TOLERANCE * np.maximum(np.abs(x), 1.0)) & (
            x >= low[index]) & (x <= high[index])  # a root elsewhere is not the one between them
        root[index[met]], found[index[met]] = (x + step)[met], True
        keep = ~met
        index, before, at_before, x = index[keep], x[keep], here[keep], (x + step)[keep]
        if not index.size:
            return root, found
    root[index], found[index] = bracketed_root(lambda sub, at: residual(index[sub], at),
                                               low[index], high[index])
    return root, found


def smooth_root(residual: Residual, low: Array, high: Array, at_low: Array,
                at_high: Array) -> tuple[Array, BoolArray]:
    """:func:`bracketed_root` where the residual at the bounds is known and seldom has a kink.

    Secant steps, kept between the bounds, for the quick majority, and bracketing for what they
    leave.
    """
    near, at_near = np.where(np.abs(at_low) < np.abs(at_high), (low, at_low), (high, at_high))
    with np.errstate(divide="ignore", invalid="ignore"):
        x = low - at_low * (high - low) / (at_high - at_low)
    found = np.zeros(x.shape, dtype=bool)
    index, ends = np.arange(x.size), (low.copy(), high.copy())
    for _ in range(SECANT_STEPS):
        here, value = x[index], residual(index, x[index])
        with np.errstate(divide="ignore", invalid="ignore"):
            step = -value * (here - near[index]) / (value - at_near[index])
        below = np.sign(value) == np.sign(at_low[index])
        ends[0][index] = np.where(below, here, ends[0][index])
        ends[1][index] = np.where(below, ends[1][index], here)
        near[index], at_near[index] = here, value
        met = value == 0.0
        found[index] = met | (np.abs(step) < STEP_TOLERANCE * np.abs(here))
        new = np.where(met, here, here + step)
        inside = met | ((new > ends[0][index]) & (new < ends[1][index]))
        x[index] = np.where(inside | found[index], new, 0.5 * (ends[0] + ends[1])[index])
        index = index[~found[index]]
        if not index.size:
            return x, found
    x[index], found[index] = bracketed_root(lambda sub, at: residual(index[sub], at),
                                            low[index], high[index])
    return x, found


def crossings(function: Callable[[Array], Array], grid: Array, *, values: Array | None = None,
              rounds: int = 2, pieces: int = 48) -> tuple[Array, BoolArray]:
    """Where a function of one variable changes sign along a rising grid.

    Every sign change between neighbouring grid points is narrowed by dividing all of them together,
    a few calls for all roots, and finished by a straight line. Gaps (NaN) hide what lies in them.
    Touching zero is no crossing, and a stretch of zeros is at most one, in its middle; a zero at
    either end of the grid counts.
    ``values`` are the function's on the grid, where they are known already.

    Returns
    -------
    roots : array
        In rising order, to about (grid spacing) / pieces^(2 rounds)
    rising : array of bool
        Whether the function rises through each root
    """
    values = np.asarray(function(grid)) if values is None else values
    sign = np.sign(values)
    change = np.flatnonzero(sign[:-1] * sign[1:] < 0.0)
    low, high = grid[change], grid[change + 1]
    at_low, at_high = values[change], values[change + 1]
    share = np.linspace(0.0, 1.0, pieces + 1)
    for _ in range(rounds if change.size else 0):
        fine = low[:, None] + share * (high - low)[:, None]
        inner = np.asarray(function(fine.ravel())).reshape(fine.shape)
        inner[:, 0], inner[:, -1] = at_low, at_high
        flips = np.sign(inner[:, 1:]) * np.sign(inner[:, :1]) <= 0.0
        place = np.argmax(flips, axis=1)
        rows = np.arange(low.size)
        low, high = fine[rows, place], fine[rows, place + 1]
        at_low, at_high = inner[rows, place], inner[rows, place + 1]
    with np.errstate(invalid="ignore", divide="ignore"):
        roots = low - at_low * (high - low) / (at_high - at_low)
    roots = np.where(at_low == at_high, low, roots)
    known = np.isfinite(roots)
    flat, flat_rising = _flat_crossings(grid, sign)
    roots = np.append(roots[known], flat)
    rising = np.append((at_high > at_low)[known], flat_rising)
    order = np.argsort(roots)
    return roots[order], rising[order]


def _flat_crossings(grid: Array, sign: Array) -> tuple[Array, BoolArray]:
    """Crossings where the function is zero on grid points: the middle of each stretch of zeros."""
    zero = np.concatenate([[False], sign == 0.0, [False]])
    first = np.flatnonzero(zero[1:-1] & ~zero[:-2])
    last = np.flatnonzero(zero[1:-1] & ~zero[2:])
    after = sign[np.minimum(last + 1, sign.size - 1)]
    before = sign[np.maximum(first - 1, 0)]
    # beyond the ends of the grid it is taken to go on as it came
    before = np.where(first == 0, -after, before)
    after = np.where(last == sign.size - 1, -before, after)
    crosses = before * after < 0.0
    middle = 0.5 * (grid[first] + grid[last])
    return middle[crosses], np.asarray(after > 0.0)[crosses]
