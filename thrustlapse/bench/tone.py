"""Tones in a recording: what stands out of the noise, and how surely."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray

SEGMENT = 0.2
"""Length of a piece of the recording whose spectrum is taken [s]. A shaft drifts by tenths of a per
cent a second, so longer pieces would sharpen no tone; shorter ones blur it."""

LEAST_SEGMENTS = 4
"""Pieces below which noise cannot be told from tones."""

FALSE_ALARM = 1e-3
"""Chance that noise alone, of the same colour, shows a tone anywhere in the spectrum."""

LEAST_LEVEL = 6.0
"""Level above the noise beside it that a tone must have however long the recording [dB]; sounds of
a room are never as even as noise."""

FLOOR_WIDTH = 400.0
"""Width over which the noise beside a tone is taken [Hz]."""

EMPTY = 1e-30
"""What a bin of nothing at all counts as, over the loudest [-]: 300 dB below it, where no recording
reaches. A tone made by arithmetic has such bins, and they have no logarithm."""

MOST_TONES = 12
"""Tones that are told, the loudest first."""

INTERPOLATION_BIAS = 0.03
"""Error of a parabola through three bins of a Hann window's peak, in bins; 0.02 at worst without
noise, measured in tests/bench/test_tone.py."""


@dataclass(frozen=True, kw_only=True)
class Tones:
    """Tones of a recording, the loudest above its noise first.

    ``frequency`` [Hz] with ``deviation`` [Hz], ``level`` above the noise beside it [dB], ``wander``
    standard deviation of the frequency from piece to piece [Hz]. ``bin_width`` [Hz], ``segments``
    how many pieces, ``rate`` samples a second [Hz], ``clipped`` share of samples at the end of the
    scale [-], ``threshold`` level a tone needs [dB]. ``bins`` [Hz] and ``spectrum`` [dB] are the
    whole averaged spectrum above the noise beside each bin.
    """

    frequency: Array
    deviation: Array
    level: Array
    wander: Array
    bin_width: float
    segments: int
    rate: float
    clipped: float
    threshold: float
    bins: Array
    spectrum: Array


def find_tones(*, samples: Array, rate: float, lowest: float = 100.0) -> Tones:
    """Tones of a recording above ``lowest`` [Hz].

    Parameters
    ----------
    samples : array
        One channel, shape (n,), any scale
    rate : float
        Samples a second [Hz]

    Raises
    ------
    ValueError
        For fewer samples than four half-overlapping pieces, or silence.

    Notes
    -----
    Power spectra of pieces overlapping by half under a Hann window are averaged. The noise beside
    each bin is the median over 400 Hz. The mean of k spectra of noise follows a chi-squared law of
    2 k degrees of freedom, from which the threshold follows for the stated chance of a false alarm
    in all bins together; overlapping pieces count as slightly fewer. A peak's frequency is the top
    of a parabola through the logarithms of three bins.

    References
    ----------
    Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967, 70-73 (from memory: the averaging, and the
    correlation of 1/6 between half-overlapping Hann pieces).
    """
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks, spectrogram
    from scipy.stats import chi2

    sound = np.asarray(samples, dtype=float)
    length = 2 ** round(math.log2(SEGMENT * rate))
    if sound.ndim != 1 or sound.size < length * (LEAST_SEGMENTS + 1) // 2:
        raise ValueError(f"too short: {LEAST_SEGMENTS} overlapping pieces of {length / rate:.2f} s "
                         "are needed")
    peak = float(np.max(np.abs(sound)))
    if not peak > 0.0 or not np.isfinite(peak):
        raise ValueError("silence")
    sound = sound / peak
    clipped = float(np.mean(np.abs(sound) >= 0.999))
    bins, _, pieces = spectrogram(sound, fs=rate, window="hann", nperseg=length,
                                  noverlap=length // 2, detrend="constant")
    count = pieces.shape[1]
    power = np.mean(pieces, axis=1)
    width = float(bins[1] - bins[0])
    decibel = 10.0 * np.log10(power + EMPTY * float(np.max(power)))
    floor = median_filter(decibel, size=2 * round(0.5 * FLOOR_WIDTH / width) + 1, mode="nearest")
    level = decibel - floor
    freedom = 2.0 * count / (1.0 + 2.0 / 36.0 * (1.0 - 1.0 / count))
    surely = chi2.isf(FALSE_ALARM / bins.size, freedom) / chi2.median(freedom)
    threshold = max(10.0 * math.log10(surely), LEAST_LEVEL)
    spacing = max(3, round(20.0 / width))
    found, _ = find_peaks(level, height=threshold, distance=spacing)
    found = found[(bins[found] >= lowest) & (found > 1) & (found < bins.size - 2)]
    found = found[np.argsort(-level[found])][:MOST_TONES]
    shift = _parabola(decibel, found)
    wander = _wander(pieces, found, spacing) * width
    return Tones(
        frequency=np.asarray((found + shift) * width), level=np.asarray(level[found]),
        wander=wander, bin_width=width, segments=count, rate=float(rate), clipped=clipped,
        deviation=np.hypot(INTERPOLATION_BIAS * width, wander / math.sqrt(freedom / 2.0)),
        threshold=threshold, bins=np.asarray(bins), spectrum=np.asarray(level))


def _parabola(decibel: Array, found: IntArray) -> Array:
    """Place of each peak's top beside its bin, in bins, from -1/2 to 1/2."""
    left, middle, right = decibel[found - 1], decibel[found], decibel[found + 1]
    return np.asarray(0.5 * (left - right) / (left - 2.0 * middle + right))


def _wander(pieces: Array, found: IntArray, reach: int) -> Array:
    """Standard deviation over the pieces of where each peak lies, in bins."""
    least = EMPTY * float(np.max(pieces))
    spread = np.zeros(found.size)
    for place, peak in enumerate(found):
        low, high = max(peak - reach, 1), min(peak + reach + 1, pieces.shape[0] - 1)
        top = low + np.argmax(pieces[low:high], axis=0)
        columns = np.arange(pieces.shape[1])
        logs = [np.log(pieces[np.clip(top + step, 0, pieces.shape[0] - 1), columns] + least)
                for step in (-1, 0, 1)]
        curve = logs[0] - 2.0 * logs[1] + logs[2]
        shift = np.where(curve < 0.0, 0.5 * (logs[0] - logs[2]) / np.where(curve < 0.0, curve, 1.0),
                         0.0)
        spread[place] = np.std(top + shift, ddof=1)
    return spread
