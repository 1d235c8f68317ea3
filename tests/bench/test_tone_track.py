"""A tone followed while its speed changes."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thrustlapse.bench.tone_track import follow_tone

RATE = 44_100.0


def blocked(seed: int, loud: float = 0.3):
    """82.5 krpm, 91 from the third to the sixth second, and back; 9 blades; with a steady foreign
    tone beside it."""
    random = np.random.default_rng(seed)
    time = np.arange(round(8 * RATE)) / RATE
    krpm = np.interp(time, [0, 3.0, 3.6, 6.0, 6.6, 8], [82.5, 82.5, 91.0, 91.0, 82.5, 82.5])
    pitch = krpm * 1000.0 / 60.0 * 9
    heard = (loud * np.sin(math.tau * np.cumsum(pitch) / RATE)
             + 0.1 * np.sin(math.tau * 11_000.0 * time) + random.standard_normal(time.size))
    return heard, time, pitch


@pytest.mark.parametrize("seed", range(4))
def test_the_speed_while_the_outlet_is_shut(seed) -> None:
    heard, time, pitch = blocked(seed)
    track = follow_tone(samples=heard, rate=RATE, frequency=12_375.0)
    true = np.interp(track.time, time, pitch)
    known = np.isfinite(track.frequency)
    steady = known & ((track.time < 2.8) | ((track.time > 3.8) & (track.time < 5.8))
                      | (track.time > 6.8))
    assert known.mean() > 0.9
    assert steady.mean() > 0.7
    assert np.std(track.frequency[steady] - true[steady]) < track.deviation
    # a piece in which the speed climbs holds a range of pitches
    assert np.max(np.abs(track.frequency[known] / true[known] - 1.0)) < 0.02


def test_a_tone_that_stops_is_lost_and_not_made_up() -> None:
    random = np.random.default_rng(1)
    time = np.arange(round(4 * RATE)) / RATE
    heard = 0.3 * np.sin(math.tau * 9_000.0 * time) * (time < 2.0) + random.standard_normal(
        time.size)
    track = follow_tone(samples=heard, rate=RATE, frequency=9_000.0)
    assert np.isfinite(track.frequency[track.time < 1.9]).mean() > 0.97
    assert np.isfinite(track.frequency[track.time > 2.1]).mean() < 0.10


@pytest.mark.parametrize(("size", "pitch", "said"), [(1000, 5_000.0, "too short"),
                                                     (100_000, 30_000.0, "half the sampling")])
def test_what_cannot_be_followed(size, pitch, said) -> None:
    with pytest.raises(ValueError, match=said):
        follow_tone(samples=np.ones(size), rate=RATE, frequency=pitch)
