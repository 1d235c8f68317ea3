"""Shaft speed from what repeats: frames of a video, flashes of a lamp, samples of a sound.

A wheel of Z equal blades looks the same every 1/Z turn, and its blades pass Z times a turn, so what
repeats is the blade pass, f = Z N. Seen or sampled fs times a second it seems to repeat at

    fa = f - n fs,  n the nearest whole number

and every f = n fs + fa, n fs - fa looks the same. One rate leaves a ladder of candidates; a second
rate, an estimate, or a plain harmonic decides. Here all are listed, and the choice says why.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.glossary import read_as


def alias(*, frequency: Values, rate: Values) -> Array:
    """Frequency as it seems at a sampling rate [same unit], with its sign, within half the rate.

    Negative where the wheel seems to turn backwards. Exactly at half the rate both signs look the
    same; the positive one is given.

    References
    ----------
    NPTEL measurement course, Ex 14.2 (stroboscope), checked in tests/bench/test_shaft_speed.py.
    """
    f, fs = np.asarray(frequency, dtype=float), np.asarray(rate, dtype=float)
    nearest = np.ceil(f / fs - 0.5)
    return np.asarray(f - fs * nearest)


def unaliased(*, apparent: float, rate: float, highest: float, signed: bool = False) -> Array:
    """Every frequency from 0 to ``highest`` that seems to be ``apparent`` at a rate, ascending.

    ``signed`` where the direction is known: ``apparent`` negative for backwards.
    """
    steps = np.arange(0, math.ceil(highest / rate) + 2)
    both = (steps * rate + apparent,) if signed else (steps * rate + apparent,
                                                     steps * rate - apparent)
    every = np.unique(np.round(np.concatenate(both), 9))
    return np.asarray(every[(every >= 0.0) & (every <= highest)])


@dataclass(frozen=True, kw_only=True)
class StrobeReading:
    """How often something seemed to repeat, and how often it was looked at.

    ``apparent`` [Hz] with its standard deviation ``deviation``; ``rate`` frames, flashes or samples
    a second [Hz]; ``repeats`` how many times a turn it looks the same: the number of blades, or 1
    for a mark on the shaft; ``signed`` whether the direction was seen.
    """

    apparent: float
    rate: float
    repeats: int
    deviation: float = 0.0
    signed: bool = False


@dataclass(frozen=True, kw_only=True)
class SpeedChoice:
    """Candidate shaft speeds and the one taken.

    ``candidates`` [rad/s] ascending, with the ``deviation`` [rad/s] of each (all the same);
    ``place`` the index of the plausible one, or -1 where nothing decides; ``reasons`` in sentences.
    ``rivals`` are the places of those the evidence does not rule out.
    """

    candidates: Array
    deviation: float
    place: int
    rivals: tuple[int, ...]
    reasons: tuple[str, ...]

    @property
    def speed(self) -> float:
        """Shaft speed taken [rad/s]; NaN where nothing decides."""
        return float(self.candidates[self.place]) if self.place >= 0 else math.nan


WIDEST = 3.0
"""Deviations within which two rates are said to agree."""


def choose_speed(first: StrobeReading, *, others: tuple[StrobeReading, ...] = (),
                 lowest: float = 0.0, highest: float, expected: float | None = None,
                 expected_deviation: float | None = None) -> SpeedChoice:
    """All shaft speeds a strobe reading allows, and the plausible one with its reasons.

    Parameters
    ----------
    first, others : StrobeReading
        The same speed seen at one or several rates
    lowest, highest : float
        Range the shaft can have at all [rad/s]
    expected : float, optional
        What other evidence says, such as the voltage times the speed constant [rad/s]
    expected_deviation : float, optional
        Its standard deviation [rad/s]; a tenth of it where not given

    Notes
    -----
    A candidate of the first reading stays where every other reading has one within three joint
    deviations. Of those that stay the one nearest the expected speed is taken, and only when it
    lies within three deviations and no other lies within three. Without an expected speed a
    choice is made only when a single candidate stays.
    """
    turn = math.tau / first.repeats
    candidates = turn * unaliased(apparent=first.apparent, rate=first.rate,
                                  highest=highest / turn, signed=first.signed)
    candidates = candidates[candidates >= lowest]
    deviation = turn * first.deviation
    reasons = [f"{candidates.size} shaft speeds between {_rpm(lowest)} and {_rpm(highest)} rpm "
               f"look like this at {first.rate:g} a second"]
    stay = np.ones(candidates.size, dtype=bool)
    for other in others:
        stay &= _agrees(candidates, deviation, other)
        reasons.append(f"{int(stay.sum())} of them also fit {other.apparent:g} Hz at "
                       f"{other.rate:g} a second")
    rivals = np.flatnonzero(stay)
    place = -1
    if expected is not None:
        width = 0.1 * expected if expected_deviation is None else expected_deviation
        width = math.hypot(width, deviation)
        away = np.abs(candidates[rivals] - expected) / width
        near = rivals[away <= WIDEST]
        if near.size == 1:
            place = int(near[0])
            reasons.append(f"only {_rpm(candidates[place])} rpm lies within three deviations of "
                           f"the expected {_rpm(expected)} rpm")
        elif near.size > 1:
            best = int(rivals[np.argmin(away)])
            reasons.append(f"{near.size} lie within three deviations of the expected "
                           f"{_rpm(expected)} rpm, nearest {_rpm(candidates[best])} rpm: not "
                           "enough to choose. Take a second rate, or let it spin down")
            rivals = near
        else:
            reasons.append(f"none lies within three deviations of the expected {_rpm(expected)} "
                           "rpm: is the number of blades right?")
    elif rivals.size == 1:
        place = int(rivals[0])
        reasons.append("only one is left")
    elif rivals.size > 1:
        reasons.append("nothing here chooses between them: take a second rate, give an expected "
                       "speed, or let it spin down and watch the pattern")
    if rivals.size == 0:
        reasons.append("none is left: the strobe readings contradict each other")
    return SpeedChoice(candidates=candidates, deviation=deviation, place=place,
                       rivals=tuple(int(one) for one in rivals), reasons=tuple(reasons))


def _agrees(candidates: Array, deviation: float, other: StrobeReading) -> Array:
    """Whether candidates [rad/s] would look as the other strobe reading says."""
    passing = candidates * other.repeats / math.tau
    seen = alias(frequency=passing, rate=other.rate)
    apart = seen - other.apparent
    if not other.signed:
        apart = np.minimum(np.abs(apart), np.abs(seen + other.apparent))
    # two strobe readings half a rate either side of a fold are next to each other
    apart = np.minimum(np.abs(apart), other.rate - np.abs(apart))
    joint = math.hypot(deviation * other.repeats / math.tau, other.deviation)
    return np.asarray(apart <= WIDEST * joint + 1e-6 * other.rate)


def _rpm(speed: float) -> str:
    return f"{read_as(speed, 'rpm'):.0f}"


MISSED = 0.1
"""Standard deviation of where a blade is seen to stand on a frame, in blade passes; by judgement:
a tenth of the gap to the next."""


def counted(*, passes: float, frames: float, rate: float, repeats: int,
            signed: bool) -> StrobeReading:
    """A pattern counted on a video: it moved on by ``passes`` blade passes in ``frames`` frames.

    The deviation is that of misjudging the blade by :data:`MISSED` at each end, both ends
    independent.
    """
    return StrobeReading(apparent=passes * rate / frames, rate=rate, repeats=repeats, signed=signed,
                         deviation=math.sqrt(2.0) * MISSED * rate / frames)
