"""Quantities in everyday units, and the traps that a whole-quantity reader falls into."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.scenario.units import KINDS, QuantityFault, registry, to_si, unit_names

# exact by definition: SI brochure, inch and pound agreement of 1959; or built of those
EXACT = [
    ("24 mm", "length", 0.024), ("3 in", "length", 0.0762), ("120 ft", "length", 36.576),
    ("4.5 cm^2", "area", 4.5e-4), ("43.2 ft^2", "area", 43.2 * 0.3048**2),
    ("210 g", "mass", 0.210), ("1 lb", "mass", 0.45359237),
    ("75 krpm", "shaft speed", 75e3 * math.tau / 60), ("60 km/h", "speed", 60 / 3.6),
    ("30 kt", "speed", 30 * 1852 / 3600), ("400 W", "power", 400.0),
    ("1 hp", "power", 745.6998715822702), ("5 Ah", "charge", 18000.0),
    ("15 degC", "temperature", 288.15), ("59 degF", "temperature", 288.15),
    ("2.5 kPa", "pressure", 2500.0), ("1013.25 hPa", "pressure", 101325.0),
    ("30 cfm", "volume flow", 30 * 0.3048**3 / 60), ("12 L/s", "volume flow", 0.012),
    ("4200 rpm/V", "speed constant", 4200 * math.tau / 60),
    ("2.3 mN m/A", "torque constant", 2.3e-3), ("80 %", "ratio", 0.8), ("37 deg", "angle",
                                                                       math.radians(37)),
    ("1 PS", "power", 735.49875), ("2 inWC", "pressure", 498.17782), ("5 Nm/A", "torque constant",
                                                                      5.0),
    ("0.1 V s/rad", "torque constant", 0.1), ("1 rev/s", "shaft speed", math.tau),
    ("24mm", "length", 0.024), ("+.5 m", "length", 0.5), ("2.5e1 mm", "length", 0.025),
    ("4.5 cm2", "area", 4.5e-4), ("4.5 cm²", "area", 4.5e-4), ("20 °C", "temperature", 293.15),
    ("24\u00a0mm", "length", 0.024), ("−3 V", "voltage", -3.0),
    ("20 mohm", "resistance", 0.02), ("20 mΩ", "resistance", 0.02), (0.3, "length", 0.3),
]


@pytest.mark.parametrize(("text", "kind", "si"), EXACT, ids=lambda value: str(value))
def test_everyday_units(text, kind, si) -> None:
    assert to_si(text, kind) == pytest.approx(si, rel=1e-12)


@pytest.mark.parametrize(("text", "kind", "said"), [
    ("21 ± 0.2 mm", "length", "±"),  # a whole-quantity reader makes 4.2 mm of it
    ("9**9**9 m", "length", ""),  # and hangs on this
    ("1600 Hz", "shaft speed", "rpm"),  # and takes 1 Hz for 1 rad/s
    ("75 kHz", "shaft speed", "rpm"),
    ("3 nm/A", "torque constant", "N m"),  # and takes Nm for a number metre
    ("1,5 mm", "length", "comma"), ("mm", "length", "number"),
    ("nan mm", "length", ""), ("inf W", "power", ""), ("1e999 m", "length", ""),
    ("5 parsec", "length", "unknown unit"), ("5 m m", "length", "not of a length"),
    ("", "length", ""), (True, "length", ""), ([1], "length", ""),
    ("5 MM", "length", 'did you mean "mm"'),  # no megametres by a slip of the shift key
    ("4200 KV", "speed constant", 'did you mean "rpm/V"'),
    ("20 C", "temperature", 'did you mean "degC"'),
    ("5 Wh", "charge", "Ah"), ("210 gf", "mass", "forces"),
    ("5 A s/rad/s s", "current over speed", "two ways"), ("5 J/(kg K)", "power", "brackets"),
    ("3 degC/s", "temperature", "offset"), ("5 m^9", "length", "unknown unit"),
    ("1 000 W", "power", "gap"), ("1_000 W", "power", ""), ("0x10 m", "length", ""),
    ("٣ mm", "length", "number"), (10**400, "length", "finite"), (None, "length", ""),
    ("5 " + "m" * 500, "length", ""),
])
def test_traps_are_refused_with_words(text, kind, said) -> None:
    with pytest.raises(QuantityFault) as caught:
        to_si(text, kind)
    assert said in str(caught.value)


def test_cubic_feet_a_minute_are_not_centi_femtometres() -> None:
    """Fan trade: 1 cfm = 0.47195 L/s (trade units, blower catalogue)."""
    assert to_si("1 cfm", "volume flow") == pytest.approx(0.47195e-3, rel=1e-5)


@given(number=st.floats(min_value=1e-6, max_value=1e9), kind=st.sampled_from(sorted(KINDS)))
def test_a_number_written_out_is_read_back(number, kind) -> None:
    units = KINDS[kind].shown or (KINDS[kind].unit,)
    for unit in units:
        once = to_si(f"{number!r} {unit}".strip(), kind)
        twice = to_si(f"{2.0 * number!r} {unit}".strip(), kind)
        assert np.isfinite(once)
        if unit != "degC":
            assert twice == pytest.approx(2.0 * once, rel=1e-12)


@given(st.text(max_size=40), st.sampled_from(sorted(KINDS)))
def test_any_text_is_a_number_or_refused(text, kind) -> None:
    try:
        assert math.isfinite(to_si(text, kind))
    except QuantityFault as fault:
        assert fault.accepted


def test_units_are_those_of_an_independent_list() -> None:
    """Against the unit library's own definitions (NIST SP 811 values), which we do not load."""
    pint = pytest.importorskip("pint")
    theirs = pint.UnitRegistry(cache_folder=None)
    checked = 0
    for name in sorted(unit_names() - {"%"} - NOT_THEIRS):
        ours = registry().Quantity(1.0, name).to_base_units()
        other = theirs.Quantity(1.0, name).to_base_units()
        # their base unit of mass is the kilogram here too; their angles have no dimension
        assert ours.magnitude == pytest.approx(other.magnitude, rel=1e-9), name
        checked += 1
    assert checked > 120


NOT_THEIRS = {
    "CFM", "RPM", "Nm", "mNm", "newton_metre", "millinewton_metre", "Ohm", "mOhm", "PS", "cfm",
    "degree_celsius", "degree_fahrenheit", "inWC", "mmWC", "kmh", "mil", "rev"}
"""Names of the trade that the library lacks or takes for something else (Nm: a number metre)."""
