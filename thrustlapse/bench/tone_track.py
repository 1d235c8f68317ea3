"""A tone followed through a recording: the shaft speed while an opening is shut for seconds."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.bench.noise import rounding_noise

PIECE, HOP = 0.1, 0.05
"""Length of a piece and step from one to the next [s]: a speed that climbs 10 % in half a second
moves 1 % a step."""

STEP = 0.025
"""Most that the tone may move from one piece to the next, as a share of it [-]."""

STEP_COST = 2.0
"""What a move by that most costs against louder sound [dB]; by judgement."""

BY_CHANCE = 0.005
"""Chance that noise alone passes for the tone in a piece, within the bins one step reaches; that
the path may pick the loudest noise raises it several times."""

REACH = 0.35
"""How far from the tone it begins with the search goes, up and down, as a share of it [-]."""


@dataclass(frozen=True, kw_only=True)
class ToneTrack:
    """A tone through time, arrays of shape (pieces,).

    ``time`` of each piece's middle [s], ``frequency`` [Hz], NaN where the tone is lost; ``level``
    above the noise beside it [dB]. ``deviation`` of each frequency [Hz].
    """

    time: Array
    frequency: Array
    level: Array
    deviation: float


def follow_tone(*, samples: Array, rate: float, frequency: float) -> ToneTrack:
    """Follow the tone that the recording begins with.

    Parameters
    ----------
    samples : array
        One channel, shape (n,)
    rate : float
        Samples a second [Hz]
    frequency : float
        Of the tone at the beginning, below half the rate [Hz]

    Raises
    ------
    ValueError
        For a recording shorter than four pieces, or a tone beyond half the rate.

    Notes
    -----
    Of all paths through the spectra of the pieces that move by no more than 2.5 % a step, the one
    of most sound is taken (dynamic programming), moves costing a little; it begins within 2.5 % of
    the given tone. The power in a bin of noise follows an exponential law; where the path is no
    louder than the loudest of the bins in reach would be by chance, the tone counts as lost.
    """
    from scipy.signal import spectrogram

    length = 2 ** round(math.log2(PIECE * rate))
    hop = round(length * HOP / PIECE)
    sound = np.asarray(samples, dtype=float)
    if sound.size < length + 3 * hop:
        raise ValueError("too short to follow a tone through")
    if not 0.0 < frequency < 0.5 * rate:
        raise ValueError("the tone lies beyond half the sampling rate")
    bins, time, pieces = spectrogram(sound, fs=rate, window="hann", nperseg=length,
                                     noverlap=length - hop, detrend="constant")
    near = (bins >= (1.0 - REACH) * frequency) & (bins <= (1.0 + REACH) * frequency)
    decibel = 10.0 * np.log10(pieces[near] + rounding_noise(
        peak=float(np.max(np.abs(sound))), rate=rate))
    level = decibel - np.median(decibel, axis=0)
    width = float(bins[1] - bins[0])
    in_reach = 2.0 * STEP * frequency / width + 1.0
    least = 10.0 * math.log10(math.log(in_reach / BY_CHANCE) / math.log(2.0))
    path = _loudest_path(level, bins[near], frequency)
    columns = np.arange(level.shape[1])
    shift = _parabola(decibel, path, columns)
    heard = level[path, columns]
    found = bins[near][path] + shift * width
    return ToneTrack(time=np.asarray(time), level=np.asarray(heard),
                     frequency=np.where(heard >= least, found, np.nan),
                     deviation=0.1 * width)


def _loudest_path(level: Array, bins: Array, start: float) -> IntArray:
    """Places of the path of most level that never moves faster than allowed."""
    width = float(bins[1] - bins[0])
    reach = max(1, int(STEP * start / width))
    score = np.where(np.abs(bins - start) <= STEP * start + width, level[:, 0], -np.inf)
    steps = np.arange(-reach, reach + 1)
    cost = STEP_COST * np.abs(steps) / reach
    before = np.zeros(level.shape, dtype=np.int64)
    for piece in range(1, level.shape[1]):
        padded = np.pad(score, reach, constant_values=-np.inf)
        windows = np.lib.stride_tricks.sliding_window_view(padded, steps.size) - cost
        best = np.argmax(windows, axis=1)
        before[:, piece] = np.clip(np.arange(bins.size) + steps[best], 0, bins.size - 1)
        score = windows[np.arange(bins.size), best] + level[:, piece]
    path = np.zeros(level.shape[1], dtype=np.int64)
    path[-1] = int(np.argmax(score))
    for piece in range(level.shape[1] - 1, 0, -1):
        path[piece - 1] = before[path[piece], piece]
    return path


def _parabola(decibel: Array, path: IntArray, columns: IntArray) -> Array:
    """Top of the parabola through the path's bin and its neighbours, in bins; 0 at an edge or where
    the bin is no top."""
    inside = np.clip(path, 1, decibel.shape[0] - 2)
    left, middle, right = (decibel[inside + step, columns] for step in (-1, 0, 1))
    curve = left - 2.0 * middle + right
    top = (curve < 0.0) & (middle >= left) & (middle >= right) & (inside == path)
    return np.where(top, 0.5 * (left - right) / np.where(top, curve, -1.0), 0.0)
