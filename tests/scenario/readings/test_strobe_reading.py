"""What a person saw of a turning wheel, as typed."""

from __future__ import annotations

import pytest

from thrustlapse.scenario.readings.strobe_reading import (
    StrobeReadingFault,
    read_strobe,
    with_deviation,
)


@pytest.mark.parametrize(("text", "apparent", "signed", "deviation"), [
    ("12.5 Hz", 12.5, False, 0.225), ("-12.5 Hz +- 0.5 Hz", -12.5, True, 0.5),
    ("+30 in 240", 30.0, True, 0.1414), ("30 in 240 frames", 30.0, False, 0.1414),
    ("12.5 ± 0.5 Hz", 12.5, False, 0.5), ("0 Hz", 0.0, False, 0.1)])
def test_forms(text, apparent, signed, deviation) -> None:
    seen = read_strobe(text, rate="240", blades=9)
    assert (seen.apparent, seen.signed, seen.rate, seen.repeats) == (apparent, signed, 240.0, 9)
    assert seen.deviation == pytest.approx(deviation, rel=1e-3)


@pytest.mark.parametrize(("text", "rate", "said"), [
    ("fast", "240", "does not begin with a number"), ("12 rpm", "240", "Hz or kHz"),
    ("200 Hz", "240", "faster than 120 Hz"), ("3 in 1", "240", "two frames"),
    ("200 in 240", "240", "half a blade pass"), ("3 Hz", "x", "rate 'x'"),
    ("3 Hz", "0", "10 million"), ("3 Hz +- 0 Hz", "240", "not above 0"),
    ("3 Hz +- x", "240", "begin with a number")])
def test_refusals(text, rate, said) -> None:
    with pytest.raises(StrobeReadingFault, match=said):
        read_strobe(text, rate=rate, blades=9)


def test_a_temperature_and_its_deviation() -> None:
    assert with_deviation("20 degC +- 2 degC", "temperature") == (293.15, 2.0)
