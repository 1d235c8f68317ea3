"""Drifts of made rotors, whose truth is known, and what they look like among other sounds."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from thrustlapse.arrays import Array
from thrustlapse.bench.drift import steadied
from thrustlapse.bench.tone import find_tones

RATE = 44_100.0


def rotor(*, seconds: float, drift: float, lines: dict[float, float], seed: int,
          fixed: dict[float, float] | None = None, rate: float = RATE) -> Array:
    """White noise of 1 in 1 Hz; lines [Hz, halfway] of a level over it [dB] that drift, and such
    that do not."""
    random = np.random.default_rng(seed)
    time = np.arange(round(seconds * rate)) / rate
    turned = time + 0.5 * drift * time * (time - time[-1])
    heard = random.standard_normal(time.size) * math.sqrt(rate / 2.0)
    for clock, ones in ((turned, lines), (time, fixed or {})):
        for pitch, level in ones.items():
            # power a^2 / 2 against 1 in 1 Hz
            heard += math.sqrt(2.0) * 10.0 ** (level / 20.0) * np.sin(
                math.tau * (pitch * clock + random.random()))
    return heard


def test_a_recording_read_as_fast_as_its_rotor_turns_is_steady() -> None:
    """Closed form: sin 2 pi f (t + d t (t - T) / 2) becomes sin 2 pi f t, for every line alike."""
    rate, drift = 44_100.0, 1e-3
    time = np.arange(round(3.0 * rate)) / rate
    turned = time + 0.5 * drift * time * (time - time[-1])
    for pitch in (300.0, 5_000.0):
        found = steadied(np.sin(math.tau * pitch * turned), rate=rate, drift=drift)
        inside = slice(100, -100)
        assert found[inside] == pytest.approx(np.sin(math.tau * pitch * time)[inside], abs=2e-3)
    same = np.sin(time)
    assert steadied(same, rate=rate, drift=0.0) is same


def test_a_drift_is_found_as_sharply_as_noise_allows() -> None:
    """A line of 20 dB over 1 Hz at 9 kHz for 5 s, of any drift: the least deviation of a drift is
    sqrt(90 / (pi^2 snr)) / (f T^2), snr the power over that of noise in 1/T (bound of Cramer and
    Rao for a chirp, from memory: Djuric and Kay 1990 has 90 / (pi^2 snr)); with half a bin's steps
    over the line, of which the error is a share of 1 / sqrt(12)."""
    random = np.random.default_rng(2)
    snr, bins = 100.0 * 5.0, 9_000.0 * 5.0 ** 2
    least = math.hypot(math.sqrt(90.0 / math.pi ** 2 / snr), 0.5 / math.sqrt(12.0)) / bins
    missed = []
    for seed in range(25):
        true = random.uniform(-1.1e-3, 1.1e-3)
        heard = rotor(seconds=5.0, drift=true, lines={9_000.0: 20.0}, seed=seed)
        missed.append((find_tones(samples=heard, rate=RATE).drift - true) / least)
    assert 0.5 < np.sqrt(np.mean(np.square(missed))) < 1.6


def test_a_faint_rotor_s_drift_is_found_beside_louder_tones_of_fixed_pitch() -> None:
    """A blade pass of 22 dB over 1 Hz that crosses 80 Hz stands out of no short piece; a controller
    40 dB louder stands still, and its pitch is no rotor's."""
    heard = rotor(seconds=10.0, drift=9e-4, lines={9_000.0: 22.0, 1_000.0: 12.0}, seed=1,
                  fixed={16_000.0: 60.0})
    found = find_tones(samples=heard, rate=RATE)
    assert found.drift == pytest.approx(9e-4, abs=0.3 / (9_000.0 * 100.0))
    assert np.min(np.abs(found.frequency - 9_000.0)) < 0.02
    # its line at 1 kHz is 12 + 10 dB over the noise in a tenth of a hertz
    assert np.min(np.abs(found.frequency - 1_000.0)) < 0.05


def test_most_lines_tell() -> None:
    """Three lines of one rotor against one tone that glides another way."""
    three = rotor(seconds=5.0, drift=5e-4, seed=1,
                  lines={600.0: 40.0, 4_200.0: 40.0, 8_400.0: 30.0})
    other = rotor(seconds=5.0, drift=-8e-4, seed=2, lines={11_000.0: 45.0})
    assert find_tones(samples=three + other, rate=RATE).drift == pytest.approx(5e-4, rel=0.01)


@pytest.mark.parametrize("lines", [{}, {9_000.0: 30.0}, {500.0: 30.0, 4_500.0: 25.0}])
def test_what_stands_still_does_not_drift(lines) -> None:
    """Noise alone, and steady rotors."""
    for seed in range(5):
        heard = rotor(seconds=4.0, drift=0.0, lines=lines, seed=seed)
        assert find_tones(samples=heard, rate=RATE).drift == 0.0


def test_a_resonance_is_no_line() -> None:
    """Noise through a resonator of 3 Hz at 6 kHz rises well over what is beside, as a room may
    have it; the whole's transform about it is as uneven as noise, so it tells no drift."""
    random = np.random.default_rng(4)
    ring = signal.lfilter(*signal.iirpeak(6_000.0, 2_000.0, fs=RATE), 10.0 * random.standard_normal(
        round(5.0 * RATE)))
    found = find_tones(samples=ring + random.standard_normal(ring.size), rate=RATE)
    assert found.level.max() > 10.0
    assert found.drift == 0.0


def test_a_long_recording_is_not_taken_to_drift_evenly() -> None:
    heard = rotor(seconds=21.0, drift=1e-4, lines={2_000.0: 40.0}, seed=1, rate=8_000.0)
    assert find_tones(samples=heard, rate=8_000.0).drift == 0.0
