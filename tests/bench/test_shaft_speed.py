"""Aliases of what repeats, every one of them, and the plausible one."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import rows
from tests.credibility.records import agree, authority
from thrustlapse.bench.shaft_speed import StrobeReading, alias, choose_speed, counted, unaliased

RPM = math.tau / 60.0


@authority(part="bench", what="a shaft under a stroboscope", status="worked",
           source="NPTEL measurement course, Ex 14.2")
def test_the_stroboscope_table():
    """At half the rate both signs are printed; the sheet's -17 for 13 rev/s is the other alias of
    the smaller +13, so it is compared a whole rate further on."""
    for row in rows("stroboscope_alias"):
        got = float(alias(frequency=row["true_rev_per_s"], rate=row["strobe_hz"]))
        printed = row["printed_apparent_rev_per_s"]
        ours, theirs = ((abs(got), 15.0) if printed == "+/-15" else
                        (got, printed + row["strobe_hz"]) if row["true_rev_per_s"] == 13 else
                        (got, printed))
        yield from agree(f"{row} rev/s seen", ours, theirs, within=1e-9, unit="rev/s",
                         why="whole numbers")
        ladder = unaliased(apparent=got, rate=row["strobe_hz"], highest=700.0, signed=True)
        assert row["true_rev_per_s"] in ladder


@given(true=st.floats(0.0, 5e4), rate=st.floats(10.0, 5e3))
def test_the_ladder_holds_the_truth_and_nothing_that_looks_otherwise(true, rate) -> None:
    seen = float(alias(frequency=true, rate=rate))
    assert -0.5 * rate <= seen <= 0.5 * rate * (1 + 1e-12)
    for signed in (True, False):
        given_ = seen if signed else abs(seen)
        ladder = unaliased(apparent=given_, rate=rate, highest=5e4 + 1.0, signed=signed)
        assert np.min(np.abs(ladder - true)) < 1e-6 * max(true, 1.0)
        looks = alias(frequency=ladder, rate=rate)
        near = np.abs(looks - given_) if signed else np.abs(np.abs(looks) - given_)
        assert np.max(np.minimum(near, rate - near)) < 1e-5


def test_nine_blades_on_a_slow_video_need_a_second_rate() -> None:
    """82 500 rpm, 9 blades: 12 375 Hz; 240 and 234 frames a second seen to 0.2 Hz."""
    true = 82_500 * RPM
    strobes = [StrobeReading(apparent=float(alias(frequency=12_375.0, rate=rate)), rate=rate,
                             repeats=9, deviation=0.2, signed=True) for rate in (240.0, 234.0)]
    alone = choose_speed(strobes[0], lowest=20_000 * RPM, highest=120_000 * RPM)
    assert alone.place == -1
    assert math.isnan(alone.speed)
    assert len(alone.rivals) == alone.candidates.size > 50
    assert np.min(np.abs(alone.candidates - true)) < 1e-6
    both = choose_speed(strobes[0], others=(strobes[1],), lowest=20_000 * RPM,
                        highest=120_000 * RPM)
    assert len(both.rivals) < 4
    decided = choose_speed(strobes[0], others=(strobes[1],), lowest=20_000 * RPM,
                           highest=120_000 * RPM, expected=80_000 * RPM,
                           expected_deviation=6_000 * RPM)
    assert decided.speed == pytest.approx(true)
    assert any("within three deviations" in reason for reason in decided.reasons)


def test_an_expected_speed_that_fits_two_chooses_none() -> None:
    seen = StrobeReading(apparent=30.0, rate=240.0, repeats=9, deviation=0.1)
    choice = choose_speed(seen, highest=150_000 * RPM, expected=80_000 * RPM)
    assert choice.place == -1
    assert any("not enough to choose" in reason for reason in choice.reasons)


def test_a_wrong_number_of_blades_shows() -> None:
    seen = StrobeReading(apparent=0.0, rate=3000.0, repeats=1, deviation=0.1)
    choice = choose_speed(seen, lowest=1.0, highest=200_000 * RPM, expected=80_000 * RPM,
                          expected_deviation=500 * RPM)
    assert choice.place == -1
    assert any("number of blades" in reason for reason in choice.reasons)


def test_strobe_readings_that_contradict_each_other() -> None:
    first = StrobeReading(apparent=10.0, rate=100.0, repeats=1, deviation=0.01, signed=True)
    second = StrobeReading(apparent=40.0, rate=100.0, repeats=1, deviation=0.01, signed=True)
    choice = choose_speed(first, others=(second,), highest=1000.0)
    assert choice.rivals == ()
    assert any("contradict" in reason for reason in choice.reasons)


def test_a_fast_camera_has_one_candidate() -> None:
    seen = StrobeReading(apparent=1375.0, rate=10_000.0, repeats=1, deviation=1.0)
    choice = choose_speed(seen, highest=150_000 * RPM)
    assert choice.speed == pytest.approx(82_500 * RPM)
    assert choice.deviation == pytest.approx(60 * RPM)


def test_counting_longer_sees_finer() -> None:
    short, long = (counted(passes=3.0 * k, frames=24.0 * k, rate=240.0, repeats=9, signed=True)
                   for k in (1, 10))
    assert short.apparent == long.apparent == 30.0
    assert short.deviation == pytest.approx(10 * long.deviation)


def test_two_unsigned_strobe_readings_keep_the_truth() -> None:
    random = np.random.default_rng(2)
    for true in random.uniform(20_000, 120_000, 40) * RPM:
        passing = true * 7 / math.tau
        seen = [StrobeReading(apparent=abs(float(alias(frequency=passing, rate=rate))), rate=rate,
                              repeats=7, deviation=0.3) for rate in (240.0, 191.0)]
        choice = choose_speed(seen[0], others=(seen[1],), highest=130_000 * RPM)
        kept = choice.candidates[list(choice.rivals)]
        assert np.min(np.abs(kept - true)) < 1e-6
