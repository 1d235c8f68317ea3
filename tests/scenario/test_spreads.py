"""Quantities with a spread: what they mean, and what is refused with the fix."""

from __future__ import annotations

import copy
import pickle
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import triang, truncnorm

from thrustlapse.distributions import FORMS, Spread
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.spread_text import Uncertain, has_spread, read_spread
from thrustlapse.scenario.units import QuantityFault

STORY = Path("scenarios/three_ways_to_push.toml").read_text(encoding="utf-8")


@pytest.mark.parametrize(("kind", "text", "form", "nominal", "deviation"), [
    ("length", "24 mm ± 0.2 mm", "normal", 0.024, 0.0002),
    ("length", "24 ± 0.2 mm", "normal", 0.024, 0.0002),
    ("length", "(24 +- 0.2) mm", "normal", 0.024, 0.0002),
    ("length", "0.024 m +/- 200 um", "normal", 0.024, 0.0002),
    ("voltage", "14.8 V ± 2 %", "normal", 14.8, 0.296),
    ("ratio", "80 % ± 3 %", "normal", 0.8, 0.03),
    ("ratio", "0.80, 3 % uncertain", "normal", 0.8, 0.024),
    ("power", "400 W, 12 % uncertain", "normal", 400.0, 48.0),
    ("temperature", "15 degC ± 2 degC", "normal", 288.15, 2.0),
    ("temperature", "59 degF ± 9 degF", "normal", 288.15, 5.0),
    ("torque constant", "2.3 mN m/A ± 5 %", "normal", 2.3e-3, 1.15e-4),
    ("power", "400 W, 12 % uncertain, lognormal", "lognormal", 400.0,
     float(np.sqrt(np.log1p(0.0144)))),
])
def test_plus_minus_is_one_standard_deviation(kind: str, text: str, form: str, nominal: float,
                                              deviation: float) -> None:
    spread = read_spread(text, kind)
    assert spread.form == form
    assert spread.nominal == pytest.approx(nominal)
    assert spread.deviation == pytest.approx(deviation)


@pytest.mark.parametrize(("kind", "text", "form", "nominal", "low", "high"), [
    ("ratio", "0.30 .. 0.45", "uniform", 0.375, 0.30, 0.45),
    ("ratio", "30..45 %", "uniform", 0.375, 0.30, 0.45),
    ("length", "14 mm .. 1.5 cm", "uniform", 0.0145, 0.014, 0.015),
    ("ratio", "0.36, 0.30 .. 0.45", "triangular", 0.36, 0.30, 0.45),
    ("ratio", "0.30 .. 0.45, triangular", "triangular", 0.375, 0.30, 0.45),
    ("length", "24 mm ± 0.2 mm, uniform", "uniform", 0.024, 0.0238, 0.0242),
    ("temperature", "15 degC .. 20 degC", "uniform", 290.65, 288.15, 293.15),
])
def test_ranges_have_ends(kind: str, text: str, form: str, nominal: float, low: float,
                          high: float) -> None:
    spread = read_spread(text, kind)
    assert (spread.form, spread.ends) == (form, pytest.approx((low, high)))
    assert spread.nominal == pytest.approx(nominal)


@pytest.mark.parametrize(("kind", "text", "words"), [
    ("ratio", "0.8 ± 3 %", "two ways"),
    ("length", "24 mm ± 0.2", "no unit"),
    ("length", "24 mm ± 0 mm", "no width"),
    ("length", "24 mm ± -1 mm", "negative"),
    ("length", "24 mm ± 0.2 mm, gaussian", "not understood"),
    ("length", "24 mm ± 0.2 kg", "unit of a mass"),
    ("length", "5 mm .. 4 mm", "ends where it begins"),
    ("length", "5 mm, 6 mm .. 7 mm", "outside its own range"),
    ("ratio", "0.3 .. 0.4, normal", "a range has ends"),
    ("ratio", "0.35, 0.3 .. 0.4, uniform", "no likeliest"),
    ("length", "9**9 ± 3 mm", "no unit"),
    ("temperature", "15 degC, 5 % uncertain", "no zero"),
    ("ratio", "-0.1, 5 % uncertain, lognormal", "above zero"),
    ("length", "1 mm ± " + "9" * 200 + " mm", "longer than"),
])
def test_what_is_no_spread_says_why(kind: str, text: str, words: str) -> None:
    with pytest.raises(QuantityFault, match=words):
        read_spread(text, kind)


@given(st.text(alphabet="0123456789.±+-/% ,()emVW*uncertain", max_size=120))
def test_any_text_is_read_or_refused_and_quickly(text: str) -> None:
    if has_spread(text):
        try:
            assert np.isfinite(read_spread(text, "length").nominal)
        except QuantityFault as fault:
            assert fault.problem


@given(st.sampled_from(FORMS), st.floats(0.5, 50.0), st.floats(0.01, 0.2))
def test_draws_have_the_mean_and_width_they_are_said_to_have(form: str, value: float,
                                                             width: float) -> None:
    """Closed forms: uniform w / sqrt(3), symmetric triangle w / sqrt(6) of the half-width w."""
    half = width * value
    spread = (Spread(nominal=value, form=form, deviation=half if form == "normal" else width)
              if form.endswith("normal")
              else Spread(nominal=value, form=form, low=value - half, high=value + half))
    draws = spread.quantile((np.arange(20000) + 0.5) / 20000)
    deviation = {"normal": half, "lognormal": value * np.exp(width**2 / 2)
                 * np.sqrt(np.expm1(width**2)), "uniform": half / np.sqrt(3.0),
                 "triangular": half / np.sqrt(6.0)}[form]
    middle = value * np.exp(width**2 / 2) if form == "lognormal" else value
    assert np.mean(draws) == pytest.approx(middle, rel=1e-4)
    assert np.std(draws) == pytest.approx(deviation, rel=2e-3)
    assert np.all(np.diff(draws) > 0.0)


def test_a_spread_that_a_bound_cuts_has_the_quantiles_of_the_truncated_normal() -> None:
    """SciPy's truncated normal is the reference; a peak off the middle, its triangular one."""
    u = np.linspace(0.001, 0.999, 97)
    cut = Spread(nominal=0.98, form="normal", deviation=0.008, low=0.97, high=1.0)
    assert cut.quantile(u) == pytest.approx(
        truncnorm((0.97 - 0.98) / 0.008, (1.0 - 0.98) / 0.008, loc=0.98, scale=0.008).ppf(u),
        rel=1e-12)
    leaning = Spread(nominal=0.98, form="triangular", low=0.94, high=1.0, peak=1.0)
    assert leaning.quantile(u) == pytest.approx(triang(1.0, loc=0.94, scale=0.06).ppf(u), rel=1e-12)


def test_an_uncertain_number_is_its_nominal_value_everywhere() -> None:
    text = STORY.replace('exit_diameter = "15 mm"', 'exit_diameter = "15 mm ± 0.2 mm"')
    plain, spread = read_text(STORY), read_text(text)
    for name in plain.candidates:
        a, b = (operate(one.candidates[name], airspeed=np.array([0.0, 30.0])).net_thrust
                for one in (plain, spread))
        assert np.array_equal(a, b)
    (only,) = spread.spreads
    assert only.key == "candidates.blower.nozzle.exit_diameter"
    assert only.deviation == pytest.approx(2e-4)
    assert plain.spreads == ()


def test_an_uncertain_number_survives_copies() -> None:
    number = Uncertain(2.0, read_spread("2.0 ± 0.1", "ratio"))
    for other in (copy.deepcopy(number), pickle.loads(pickle.dumps(number))):
        assert other == 2.0
        assert repr(other.spread) == repr(number.spread)


@pytest.mark.parametrize(("old", "new", "words"), [
    ('exit_diameter = "15 mm"', 'exit_diameter = "15 mm ± 5 mm"', "the spread reaches -5 mm"),
    ('exit_diameter = "15 mm"', 'exit_diameter = "15 mm ± 5 mm"', "lognormal"),
    ("span_efficiency = 0.78", 'span_efficiency = "0.78 .. 1.4"', "the spread reaches 1.4"),
    ('state_of_charge = "70 %"', 'state_of_charge = "95 % ± 3 %"', "the spread reaches"),
    ('highest = "90 m/s"', 'highest = "90 m/s ± 2 m/s"', "carries no spread"),
    ("0.10, 0.14, 0.18", '"0.10 ± 0.01", 0.14, 0.18', "entries of a list carry no spread"),
    ('chemistry = "NMC"', 'curve = [["0 %", "3 V ± 0.1 V"], ["100 %", "4 V"]]', "carry no spread"),
    ("[comparison]", "[uncertainty]\nsamples = 1000\n[comparison]", "512 or 1024"),
    ("[comparison]", "[uncertainty]\nsamples = 64\n[comparison]", "128"),
    ("[comparison]", "[uncertainty]\nsampels = 256\n[comparison]", 'did you mean "samples"'),
    ("[comparison]", '[uncertainty]\nseed = "now"\n[comparison]', "not a whole number"),
])
def test_spreads_that_cannot_be_are_refused_with_the_fix(old: str, new: str, words: str) -> None:
    assert old in STORY
    with pytest.raises(ScenarioError, match=words) as caught:
        read_text(STORY.replace(old, new, 1))
    assert all(fault.line > 0 for fault in caught.value.faults)
