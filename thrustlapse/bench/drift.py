"""How a rotor's speed drifts through a recording, and the recording read in the rotor's time."""

from __future__ import annotations

import math

import numpy as np
import numpy.typing as npt

from thrustlapse.arrays import Array
from thrustlapse.bench.noise import chance_of_noise, level_of_noise

FASTEST, EVEN = 1.2e-3, 20.0
"""Most that a steady rotor's speed drifts a second [-], and for how long evenly [s]; common
practice, no source."""

LINES = 8
"""Lines whose drift is looked for, the loudest ones."""

APART = 4
"""Bins of the short pieces within which two lines are one."""


def steadied(samples: Array, *, rate: float, drift: float) -> Array:
    """A recording read as fast as its rotor turns, so that an even rise of speed is none.

    Parameters
    ----------
    samples : array
        One channel, shape (n,)
    rate : float
        Samples a second [Hz]
    drift : float
        Share by which the speed rises a second, small beside 1 over the length [1/s]; all lines of
        one rotor rise alike

    Returns
    -------
    array, (n,)
        Begins and ends where the recording does, so the speed is that halfway.
    """
    from scipy.ndimage import map_coordinates

    if drift == 0.0:
        return samples
    turned = np.arange(samples.size) / rate
    lasting = turned[-1]
    # turns go with t + drift t (t - lasting) / 2; twice put in, what is left is drift^3
    time = turned - 0.5 * drift * turned * (turned - lasting)
    time = turned - 0.5 * drift * time * (time - lasting)
    return np.asarray(map_coordinates(samples, [time * rate], order=5, mode="nearest"))


def rotor_drift(samples: Array, *, rate: float, length: int, floor: Array, freedom: float,
                least: float, false_alarm: float) -> float:
    """Share by which the rotor's speed rises a second; 0 where it is steady for the whole.

    Parameters
    ----------
    samples : array
        One channel, shape (n,)
    rate : float
        Samples a second [Hz]
    length : int
        Samples of a short piece
    floor : array
        Power of the noise in each bin of the mean of these pieces
    freedom : float
        Degrees of freedom of that mean
    least : float
        Level that a line must have in these pieces [dB]
    false_alarm : float
        Chance that noise passes for a line

    Notes
    -----
    All lines of one rotor rise alike. They are looked for in the pieces along all even drifts,
    since a line that crosses many bins stands out of none. A line's own drift is then that at which
    the whole recording's transform is highest about it: the likeliest one in white noise. What does
    not rise there above what noise would is a resonance of the room. The drift that most lines
    share is the rotor's; where as many are of fixed pitch as drift, these are a controller's.
    """
    from scipy.signal import find_peaks, spectrogram

    bins, time, pieces = spectrogram(samples, fs=rate, window="hann", nperseg=length,
                                     noverlap=length // 2, detrend="constant")
    width, middle, seconds = float(bins[1]), time - time.mean(), samples.size / rate
    over, rows = np.ascontiguousarray((pieces / floor[:, None]).T), np.arange(bins.size)
    # a bin apart at the ends of the highest line
    steps = math.ceil(FASTEST * float(bins[-1] * middle[-1]) / width)
    highest, along = np.zeros(bins.size), np.zeros(bins.size)
    for drift in np.linspace(-FASTEST, FASTEST, 2 * steps + 1):
        mean = np.mean([piece.take(np.rint(rows * (1.0 + drift * moment)).astype(int), mode="clip")
                        for moment, piece in zip(middle, over, strict=True)], axis=0)
        along = np.where(mean > highest, drift, along)
        highest = np.maximum(mean, highest)
    needed = max(level_of_noise(chance=false_alarm / bins.size / (2 * steps + 1), freedom=freedom),
                 least)
    found, _ = find_peaks(highest, height=10.0 ** (needed / 10.0), distance=APART)
    found = found[np.argsort(-highest[found])][:LINES]
    whole = np.fft.rfft(samples - np.mean(samples))
    lines = np.array([line for place in found if (line := _own_drift(
        whole, seconds=seconds, pitch=float(bins[place]), near=float(along[place]), width=width,
        false_alarm=false_alarm)) is not None]).reshape(-1, 3)
    if not lines.size:
        return 0.0
    pitch, own, power = lines.T
    # bins of the whole over which each line smears if read at the drift of each other
    alike = np.abs(own[:, None] - own) * pitch * seconds ** 2 < SMEARED
    moved = np.abs(own) * np.max(pitch * alike, axis=1) * seconds ** 2 >= SMEARED
    most = max(range(pitch.size), key=lambda one: (
        int(np.sum(alike[one])), bool(moved[one]), float(pitch[one])))
    share = alike[most] * pitch ** 2 * power  # as one over the square of what noise moves it by
    return float(np.sum(share * own) / np.sum(share)) if moved[most] else 0.0


SMEARED = 1.5
"""Bins of the whole recording's transform over which a line may smear and be as good as steady: its
top falls by half a decibel (closed form, a Fresnel integral over a chirp of so many bins)."""


def _own_drift(whole: npt.NDArray[np.complex128], *, seconds: float, pitch: float, near: float,
               width: float, false_alarm: float) -> tuple[float, float, float] | None:
    """Pitch [Hz], drift and level over the noise (a ratio) of a line; None if noise does as well.

    A band about the line is cut out of the transform of the whole, which makes a short signal of
    it; that is read in the time of each drift, and its transform taken with places half a bin
    apart. In noise each follows an exponential law.
    """
    from scipy.fft import fft, ifft, next_fast_len

    reach = next_fast_len(math.ceil((0.5 * FASTEST * pitch * seconds + 3.0 * width) * seconds))
    centre = round(pitch * seconds)
    low = max(centre - reach, 1)
    band = ifft(whole[low:centre + reach])
    time = np.arange(band.size) / band.size - 0.5
    bins = pitch * seconds ** 2  # over which a drift of 1 spreads the line
    reach = round(2.0 * width * seconds)  # to where the pieces may have it wrong
    drifts = near + np.arange(-2 * reach, 2 * reach + 1) / 2.0 / bins
    drifts = drifts[np.abs(drifts) <= FASTEST]
    first = 2 * max(centre - low - reach, 0)
    power = np.stack([np.square(np.abs(fft(
        band * np.exp(-1j * math.pi * drift * bins * time ** 2),
        2 * band.size)[first:2 * (centre - low + reach)])) for drift in drifts])
    best, top = np.unravel_index(int(np.argmax(power)), power.shape)
    # whole bins, in the width of a bin of the pieces, which is less than of most resonances
    beside = max(round(0.5 * width * seconds), 4)
    around = power[best, int(top) % 2::2]
    around = around[max(int(top) // 2 - beside, 0):int(top) // 2 + beside + 1]
    level = float(power[best, top] / np.median(around))
    if power.size * chance_of_noise(level=10.0 * math.log10(level), span=0.0,
                                    bins=around.size) > false_alarm:
        return None
    return (low + (first + int(top)) / 2.0) / seconds, float(drifts[best]), level
