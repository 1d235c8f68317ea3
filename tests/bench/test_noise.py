"""Chances of noise against closed forms, SciPy's integrals and noise itself."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import integrate, optimize, stats

from thrustlapse.bench.noise import FLOOR_BINS, chance_of_noise, level_of_noise, unevenness
from thrustlapse.bench.tone import NOISE_ERROR

MIDDLE = (FLOOR_BINS + 1) // 2


@pytest.mark.parametrize("ratio", [1.0, 4.0, 16.0, 30.0])
def test_the_chance_of_one_bin_is_exact(ratio) -> None:
    """Two independent ways: the median's law as an order statistic, integrated; and the median as a
    sum of exponential parts (Renyi 1953, from memory), whose transform is a product."""
    median = stats.beta(MIDDLE, MIDDLE)  # of the share below it
    exceeds, _ = integrate.quad(lambda share: (1.0 - share) ** ratio * median.pdf(share), 0.0, 1.0,
                                epsabs=0.0, epsrel=1e-10)
    parts = np.arange(MIDDLE, FLOOR_BINS + 1)
    found = chance_of_noise(level=10.0 * math.log10(ratio), span=0.0)
    assert found == pytest.approx(exceeds, rel=1e-8)
    assert found == pytest.approx(float(np.prod(parts / (parts + ratio))), rel=1e-10)
    # at the median itself one in two lies above; beyond, more than above one that is surely known
    assert found > 2.0 ** -ratio if ratio > 1.0 else found == pytest.approx(0.5)


def test_noise_itself_is_as_seldom_8_db_over_its_median() -> None:
    """200,000 draws of 81 bins and one more, at 8 dB over their median: within three errors."""
    random = np.random.default_rng(3)
    over = 10.0 ** 0.8
    hits = sum(int(np.sum(random.standard_exponential(10_000) > over * np.median(
        random.standard_exponential((10_000, FLOOR_BINS)), axis=1))) for _ in range(20))
    expected = 200_000 * chance_of_noise(level=8.0, span=0.0)
    assert abs(hits - expected) < 3.0 * math.sqrt(expected)


@pytest.mark.parametrize("span", [0.5, 2.0, 10.0])
def test_between_bins_too(span) -> None:
    """The highest place of a finely read transform of white noise, over the mean, which is the
    median of many bins by ln 2: Rice's rule is an upper bound, nearly met where the chance is
    small."""
    random = np.random.default_rng(5)
    length, finer, runs, level = 256, 16, 8_000, 7.0
    noise = random.standard_normal((runs, length)) + 1j * random.standard_normal((runs, length))
    power = np.square(np.abs(np.fft.fft(noise, finer * length, axis=1))) / (2.0 * length)
    place = 40 * finer
    hits = int(np.sum(power[:, place:place + round(span * finer) + 1].max(axis=1) > level))
    bound = runs * math.exp(-level) * (1.0 + span * math.sqrt(math.pi / 3.0 * level))
    assert bound * 0.85 - 3.0 * math.sqrt(bound) < hits < bound + 3.0 * math.sqrt(bound)
    # the same span over a median of 81 bins, at the level whose chance in one bin is the same
    one = next(decibel for decibel in np.arange(5.0, 15.0, 1e-3)
               if chance_of_noise(level=decibel, span=0.0) <= math.exp(-level))
    assert chance_of_noise(level=one, span=span) * runs == pytest.approx(bound, rel=3e-3)


def test_a_chance_is_never_above_one() -> None:
    assert chance_of_noise(level=-20.0, span=100.0) == pytest.approx(1.0)


@pytest.mark.parametrize("uneven", [0.0, 0.3, 0.6])
def test_noise_that_a_room_has_coloured(uneven) -> None:
    """Bins of noise of uneven power, by draws: how uneven is found from their levels over medians
    of 81, and so is the chance far out, which without it would be several times too small."""
    random = np.random.default_rng(9)
    every = []
    for _ in range(30):
        power = random.standard_exponential((10_000, FLOOR_BINS)) * np.exp(
            uneven * random.standard_normal((10_000, FLOOR_BINS)))
        every.append(power[:, 0] / np.median(power, axis=1))
    level = 10.0 * np.log10(np.concatenate(every))
    found = unevenness(level)
    assert found == pytest.approx(uneven, abs=0.08 if uneven == 0.0 else 0.05)
    expected = level.size * chance_of_noise(level=11.0, span=0.0, uneven=uneven)
    assert abs(int(np.sum(level > 11.0)) - expected) < 3.0 * math.sqrt(expected)
    if uneven > 0.0:
        assert expected > 3.0 * level.size * chance_of_noise(level=11.0, span=0.0)


def test_the_chance_over_uneven_noise_is_the_mean_over_its_gains() -> None:
    """SciPy's integral over a normal law, the median's law as an order statistic, at one level."""
    uneven, ratio = 0.4, 20.0

    def beyond(power: float) -> float:
        return float(stats.norm.expect(lambda x: np.exp(-power * np.exp(-uneven * x))))

    median = optimize.brentq(lambda power: beyond(power) - 0.5, 0.3, 1.0)

    def over(gain: float) -> float:
        part = np.arange(MIDDLE, FLOOR_BINS + 1)
        return float(np.prod(part / (part + ratio * median / math.log(2.0) / gain)))

    expected = stats.norm.expect(lambda x: over(math.exp(uneven * x)))
    assert chance_of_noise(level=10.0 * math.log10(ratio), span=0.0, uneven=uneven) == (
        pytest.approx(expected, rel=1e-6))


@pytest.mark.parametrize(("freedom", "chance"), [(2.0, 1e-3), (20.0, 1e-3), (200.0, 1e-3)])
def test_the_level_that_noise_exceeds_by_a_chance(freedom, chance) -> None:
    """Means of spectra drawn from their law, over the median of 81 of them, of which neighbours
    under a Hann window leave 81 / 1.94 independent (42, near enough: 41)."""
    random = np.random.default_rng(8)
    over = 10.0 ** (level_of_noise(chance=chance, freedom=freedom) / 10.0)
    hits = sum(int(np.sum(random.chisquare(freedom, 20_000) > over * np.median(
        random.chisquare(freedom, (20_000, 41)), axis=1))) for _ in range(20))
    expected = 400_000 * chance
    assert 0.75 * expected < hits < 1.33 * expected


@pytest.mark.parametrize("power", [20.0, 100.0, 1000.0])
def test_how_far_noise_moves_a_peak_between_bins(power) -> None:
    """3,000 tones anywhere between bins, of a given power over the mean noise in their bin under a
    Hann window: the parabola's top misses by the stated share of a bin over the root of that."""
    random = np.random.default_rng(6)
    length, runs = 512, 3_000
    window = np.hanning(length + 1)[:-1]
    place = 100.0 + random.uniform(-0.5, 0.5, runs)
    time = np.arange(length)
    # at the bin a tone of amplitude a has (a n / 2)^2, noise of deviation s 2 s^2 times 3 n / 8
    amplitude = math.sqrt(power * 2.0 * 0.375 * length) / (length / 2.0)
    heard = amplitude * np.exp(2j * math.pi * (place[:, None] * time / length
                                               + random.uniform(size=(runs, 1))))
    heard += random.standard_normal((runs, length)) + 1j * random.standard_normal((runs, length))
    level = np.log(np.square(np.abs(np.fft.fft(heard * window, axis=1)[:, 95:106])))
    top = 1 + np.argmax(level[:, 1:-1], axis=1)
    left, middle, right = (level[np.arange(runs), top + step] for step in (-1, 0, 1))
    miss = 95 + top + 0.5 * (left - right) / (left - 2.0 * middle + right) - place
    # the peak's bin holds less than the tone's power where the tone lies between bins
    shown = np.exp(middle) / (2.0 * 0.375 * length)
    spread = 1.4826 * float(np.median(np.abs(miss * np.sqrt(shown))))
    bias = 0.03 * math.sqrt(power)  # stated apart
    assert 0.87 * NOISE_ERROR < spread < math.hypot(1.1 * NOISE_ERROR, bias)
