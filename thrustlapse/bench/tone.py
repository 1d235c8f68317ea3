"""Tones in a recording: what stands out of the noise, and how surely."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.bench.drift import EVEN, rotor_drift, steadied
from thrustlapse.bench.noise import FLOOR_BINS, level_of_noise, rounding_noise, unevenness

SEGMENT = 0.2
"""Length of the shortest pieces whose spectrum is taken [s]; a shaft that drifts by tenths of a per
cent a second is sharp in these."""

LONGER = 4
"""How many times longer the pieces of the next transform are: as long as four such fit, and then
the whole recording at once. What is steady gains 10 dB with every tenfold length."""

LEAST_SEGMENTS = 4
"""Pieces of the shortest kind below which noise cannot be told from tones."""

FALSE_ALARM = 1e-3
"""Chance that noise alone, of the same colour, shows a tone anywhere in the spectra."""

LEAST_LEVEL = 6.0
"""Level above the noise beside it that a tone must have however long the recording [dB]; sounds of
a room are never as even as noise."""

FINER = 4
"""Places to a bin at which a line that others foretell is looked for: half a place off costs it
0.2 dB."""

FIRST_BIN = 20
"""Bins from zero on within which the noise beside is not known on both sides."""

APART = 4
"""Bins within which two peaks are one tone."""

SKIRT = 0.01
"""Share of a tone's frequency about it within which a tone of less than a thirtieth of its power
is its skirt: what the drift of a loud tone leaves in long pieces [-]. By judgement."""

MOST_TONES = 24
"""Tones that are kept, those furthest above their threshold first."""

INTERPOLATION_BIAS = 0.03
"""Error of a parabola through three bins of a Hann window's peak, in bins; 0.02 at worst without
noise, measured in tests/bench/test_tone.py."""

NOISE_ERROR = 0.6
"""Deviation of a peak's place by noise, in bins, times the root of its power over the noise's mean:
0.39 is the least there can be without a window (Rife and Boorstyn, IEEE Trans. Inf. Theory 20(5),
1974, from memory); a parabola under a Hann window 0.53 to 0.62, most where the line is faint,
measured in tests/bench/test_tone.py."""

RIDGE = 15.0
"""Depth below the top down to which bins belong to a drifting tone's ridge [dB]."""

NARROW = 6
"""Bins that a steady tone spans at that depth at most."""

CUT = 12.0
"""Fall of the noise within half a kilohertz (an eighth of the band at most) that is a recorder's
filter and no property of a sound [dB]; by judgement. Filters of codecs fall by 40 dB and more."""


@dataclass(frozen=True, kw_only=True)
class Tones:
    """Tones of a recording, those furthest above what they need first.

    ``frequency`` [Hz] with ``deviation`` [Hz], ``level`` above the noise beside it [dB] in the
    transform that shows it best, ``wander`` standard deviation of the frequency from piece to
    piece [Hz], 0 where one piece is the whole. ``bin_width`` [Hz], ``segments`` how many pieces,
    ``threshold`` level a tone needs [dB] in the shortest pieces. ``rate`` samples a second [Hz],
    ``clipped`` share of samples at the end of the scale [-]. ``bins`` [Hz] and ``spectrum`` [dB]
    are the whole averaged spectrum of these pieces above the noise beside each bin. The recording
    holds sounds from ``band[0]`` to ``band[1]`` [Hz] only: 0 and half the rate where no filter is
    seen; ``steady`` [s] is the longest piece that was looked at. ``fine`` [dB] is the level of the
    whole recording's transform without a window at all places ``fine_width`` [Hz] apart, a quarter
    of a bin; ``uneven`` how a room colours the noise in it (:func:`unevenness`); ``drift`` the
    share by which the speed rises a second, taken out of it (0 where none is seen).
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
    band: tuple[float, float]
    steady: float
    fine: Array
    fine_width: float
    uneven: float
    drift: float


@dataclass(frozen=True, kw_only=True)
class _Spectrum:
    """Averaged spectrum of pieces of one length and the peaks in it."""

    bins: Array
    decibel: Array
    level: Array
    threshold: float
    segments: int
    freedom: float
    frequency: Array
    deviation: Array
    wander: Array
    found: IntArray


def find_tones(*, samples: Array, rate: float, lowest: float = 0.0) -> Tones:
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
    Power spectra of pieces overlapping by half under a Hann window are averaged, for pieces of
    0.2 s, four times that and so on, and once for the whole, in the rotor's own time
    (:func:`steadied`). The noise beside each bin is the
    median over 81 bins. The mean of k spectra of noise follows a chi-squared law of 2 k degrees of
    freedom, from which the threshold follows for the stated chance of a false alarm in all bins
    of all lengths together, the noise beside being known from so many bins only; overlapping
    pieces count as slightly fewer. A peak's frequency is the
    top of a parabola through the logarithms of three bins. Of a tone that several lengths show,
    the longest in which it still rises is kept: the others know its frequency less well.

    References
    ----------
    Welch, IEEE Trans. Audio Electroacoust. 15(2), 1967, 70-73 (from memory: the averaging, and the
    correlation of 1/6 between half-overlapping Hann pieces).
    """
    sound = np.asarray(samples, dtype=float)
    length = 2 ** round(math.log2(SEGMENT * rate))
    if sound.ndim != 1 or sound.size < length * (LEAST_SEGMENTS + 1) // 2:
        raise ValueError(f"too short: {LEAST_SEGMENTS} overlapping pieces of {length / rate:.2f} s "
                         "are needed")
    peak = float(np.max(np.abs(sound)))
    if not peak > 0.0 or not np.isfinite(peak):
        raise ValueError("silence")
    sound = sound / peak
    lengths = [length]
    while LONGER * lengths[-1] * LEAST_SEGMENTS <= sound.size:
        lengths.append(LONGER * lengths[-1])
    lengths.append(sound.size)  # at least twice the longest piece, as LEAST_SEGMENTS has it
    short = _spectrum(sound, rate, length, FALSE_ALARM / len(lengths))
    drift = 0.0 if sound.size > EVEN * rate else rotor_drift(
        sound, rate=rate, length=length, floor=10.0 ** ((short.decibel - short.level) / 10.0),
        freedom=short.freedom, least=LEAST_LEVEL, false_alarm=FALSE_ALARM)
    even_sound = steadied(sound, rate=rate, drift=drift)
    spectra = [short, *(_spectrum(sound, rate, one, FALSE_ALARM / len(lengths))
                        for one in lengths[1:-1]),
               _spectrum(even_sound, rate, lengths[-1], FALSE_ALARM / len(lengths))]
    frequency, deviation, level, wander = _merged(spectra, lowest)
    band, fine = _band(short), _fine(even_sound, rate)
    first, last = (FINER * round(one * sound.size / rate) for one in band)
    return Tones(
        frequency=frequency, deviation=deviation, level=level, wander=wander,
        bin_width=float(short.bins[1]), segments=short.segments, rate=float(rate),
        clipped=float(np.mean(np.abs(sound) >= 0.999)), threshold=short.threshold,
        bins=short.bins, spectrum=short.level, band=band, steady=lengths[-1] / rate,
        fine=fine, fine_width=rate / (FINER * sound.size), drift=drift,
        uneven=unevenness(fine[first:last:FINER]))


def _fine(sound: Array, rate: float) -> Array:
    """Level of the whole over the noise beside, at places a quarter of a bin apart [dB].

    A line whose place is foretold needs no window against its neighbours and no search between
    bins: that leaves it 3 dB more over the noise than a Hann window's bin beside it.
    """
    from scipy.fft import rfft
    from scipy.ndimage import median_filter

    power = np.abs(rfft(sound - np.mean(sound), FINER * sound.size)) ** 2 * 2.0 / rate / sound.size
    decibel = 10.0 * np.log10(power + rounding_noise(peak=1.0, rate=rate))
    bins = np.arange(0, decibel.size, FINER)
    beside = median_filter(decibel[bins], size=FLOOR_BINS, mode="nearest")
    return np.asarray(decibel - np.interp(np.arange(decibel.size), bins, beside))


def _spectrum(sound: Array, rate: float, length: int, false_alarm: float) -> _Spectrum:
    from scipy.ndimage import median_filter
    from scipy.signal import find_peaks, spectrogram
    from scipy.stats import chi2

    bins, _, pieces = spectrogram(sound, fs=rate, window="hann", nperseg=length,
                                  noverlap=length // 2, detrend="constant")
    rounding = rounding_noise(peak=1.0, rate=rate)
    power = np.mean(pieces, axis=1)
    count = pieces.shape[1]
    width = float(bins[1] - bins[0])
    decibel = 10.0 * np.log10(power + rounding)
    level = decibel - median_filter(decibel, size=FLOOR_BINS, mode="nearest")
    freedom = 2.0 * count / (1.0 + 2.0 / 36.0 * (1.0 - 1.0 / count))
    threshold = max(level_of_noise(chance=false_alarm / bins.size, freedom=freedom), LEAST_LEVEL)
    found, _ = find_peaks(level, height=threshold, distance=APART)
    found = found[(found >= FIRST_BIN) & (found < bins.size - FIRST_BIN)]
    found = found[np.argsort(-level[found])][:4 * MOST_TONES]
    place, smear = found + _parabola(decibel, found), np.zeros(found.size)
    if count >= LEAST_SEGMENTS:
        found, place, smear = _centred(power, level, threshold=threshold, found=found, place=place)
        wander = _wander(pieces, found, APART, rounding) * width
        noise = wander / math.sqrt(freedom / 2.0)
    else:
        wander = np.zeros(found.size)
        # levels are over the median, which of few pieces lies below the mean
        mean = 10.0 ** (level[found] / 10.0) * chi2.median(freedom) / freedom
        noise = NOISE_ERROR * width / np.sqrt(mean * freedom / 2.0)
    return _Spectrum(
        bins=np.asarray(bins), decibel=decibel, level=np.asarray(level), threshold=threshold,
        segments=count, freedom=freedom, found=found, wander=wander,
        frequency=np.asarray(place * width),
        deviation=np.asarray(np.hypot(np.hypot(INTERPOLATION_BIAS, smear) * width, noise)))


def _centred(power: Array, level: Array, threshold: float, found: IntArray,
             place: Array) -> tuple[IntArray, Array, Array]:
    """Peaks, each once, their places and the deviation of these by smear, in bins.

    A tone that drifts through several bins leaves a ragged ridge. Its frequency is the ridge's
    centre of power, which for an even drift is the mean; each bin's power counts as known to its
    own size. Loudest first.
    """
    peaks, places, smears = [], [], []
    taken = np.zeros(level.size, dtype=bool)
    for peak, where in zip(found, place, strict=True):
        if taken[peak]:
            continue
        high = np.flatnonzero(level < max(threshold, float(level[peak]) - RIDGE))
        # two bins in a row below end the ridge
        ends = high[:-1][np.diff(high) == 1]
        left, right = ends[ends < peak - 1], ends[ends > peak]
        first = int(left[-1]) + 2 if left.size else 0
        last = int(right[0]) - 1 if right.size else level.size - 1
        ridge = np.arange(first, last + 1)
        taken[ridge] = True
        wide = ridge.size > NARROW
        peaks.append(int(peak))
        places.append(float(np.average(ridge, weights=power[ridge])) if wide else float(where))
        smears.append(math.sqrt(ridge.size / 12.0) if wide else 0.0)
    return np.array(peaks, dtype=np.int64), np.array(places), np.array(smears)


def _merged(spectra: list[_Spectrum], lowest: float) -> tuple[Array, Array, Array, Array]:
    """Frequency, deviation, level and wander of each tone once, furthest above threshold first."""
    rows: list[tuple[float, float, float, float, float, float, float]] = []
    for one in reversed(spectra):
        width = float(one.bins[1])
        # power of a line, whatever the length of the piece
        power = one.decibel[one.found] + 10.0 * math.log10(width)
        for place, frequency in enumerate(one.frequency):
            level = float(one.level[one.found[place]])
            margin, reach = level - one.threshold, APART * width
            same = [row for row in rows if abs(row[0] - frequency) < reach]
            if frequency < lowest or any(row[4] >= margin - 3.0 for row in same):
                continue  # a longer piece shows it as well, and sharper
            rows = [row for row in rows if row not in same]
            rows.append((float(frequency), float(one.deviation[place]), level,
                         float(one.wander[place]), margin, float(power[place]), reach))
    loud = [row for row in rows if not any(
        other[5] > row[5] + 15.0 and abs(other[0] - row[0]) < max(SKIRT * other[0], row[6])
        for other in rows)]
    loud.sort(key=lambda row: -row[4])
    table = np.array(loud[:MOST_TONES]).reshape(-1, 7)
    return table[:, 0], table[:, 1], table[:, 2], table[:, 3]


def _band(short: _Spectrum) -> tuple[float, float]:
    """Frequencies between which the recording holds sounds [Hz]: where filters begin, if any."""
    floor = short.decibel - short.level
    half = float(short.bins[-1])
    step = max(round(min(500.0, half / 8.0) / float(short.bins[1])), 2)

    def end(beside: Array) -> int | None:
        """Last bin before the noise falls for good, by half of what a filter takes."""
        beyond = np.maximum.accumulate(beside[::-1])[::-1]
        fall = beside[:-step] - beyond[step:]
        falls = np.flatnonzero(fall[step:] >= CUT) + step
        if not falls.size:
            return None
        return int(np.flatnonzero(beyond > beside[falls[0]] - 0.5 * CUT)[-1])

    upper, lower = end(floor), end(floor[::-1])
    return (0.0 if lower is None else float(short.bins[floor.size - 1 - lower]),
            half if upper is None else float(short.bins[upper]))


def _parabola(decibel: Array, found: IntArray) -> Array:
    """Place of each peak's top beside its bin, in bins, from -1/2 to 1/2."""
    left, middle, right = decibel[found - 1], decibel[found], decibel[found + 1]
    return np.asarray(0.5 * (left - right) / (left - 2.0 * middle + right))


def _wander(pieces: Array, found: IntArray, reach: int, rounding: float) -> Array:
    """Standard deviation over the pieces of where each peak lies, in bins."""
    spread = np.zeros(found.size)
    for place, peak in enumerate(found):
        low, high = max(peak - reach, 1), min(peak + reach + 1, pieces.shape[0] - 1)
        top = low + np.argmax(pieces[low:high], axis=0)
        columns = np.arange(pieces.shape[1])
        logs = [np.log(pieces[np.clip(top + step, 0, pieces.shape[0] - 1), columns] + rounding)
                for step in (-1, 0, 1)]
        curve = logs[0] - 2.0 * logs[1] + logs[2]
        shift = np.where(curve < 0.0, 0.5 * (logs[0] - logs[2]) / np.where(curve < 0.0, curve, 1.0),
                         0.0)
        spread[place] = np.std(top + shift, ddof=1)
    return spread
