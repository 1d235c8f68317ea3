"""Flow behind a plate with a hole, and the greatest air power, against the standard's table."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column, rows
from tests.credibility.records import agree, authority, digits
from thrustlapse.bench.orifice import (
    CFM,
    FLOW_FACTOR,
    INCH,
    INCH_OF_WATER,
    PLATES,
    POWER_FACTOR,
    STANDARD_DENSITY,
    orifice_flow,
    peak_air_power,
    pressure_ratio,
    standard_coefficient,
    thin_plate_coefficient,
)

INCH_OF_MERCURY = 0.4912 / 0.03607 * INCH_OF_WATER
"""The standard's own factors to pounds per square inch, so that the pressure ratio is its own."""

STANDARD = {"ambient_pressure": 29.92 * INCH_OF_MERCURY, "density": STANDARD_DENSITY}


@authority(part="bench", what="plates with a hole before a suction machine", status="memory",
           source="coefficients of ASTM F558 from memory, table computed elsewhere; ISO 5167",
           kind="shared")
def test_every_line_of_the_table():
    """Table of 135 lines: every printed digit."""
    for row in rows("orifice_plates"):
        called = f"{row['orifice_in']} in, {row['h_inH2O']} inH2O:"
        got = orifice_flow(diameter=row["orifice_in"] * INCH,
                           suction=row["h_inH2O"] * INCH_OF_WATER, **STANDARD)
        ratio = pressure_ratio(suction=row["h_inH2O"] * INCH_OF_WATER,
                               ambient_pressure=STANDARD["ambient_pressure"])
        for value, name in ((ratio, "r"), (got.coefficient, "K1"), (got.flow / CFM, "flow_cfm"),
                            (got.flow * 1e3, "flow_L_s"), (got.air_power, "air_power_W"),
                            (thin_plate_coefficient(ratio=ratio), "K1_thin_plate_check")):
            yield from digits(row, name, value, times=1.001, what=f"{called} {name}")


@pytest.mark.parametrize("row", rows("orifice_plates"),
                         ids=lambda row: f"{row['orifice_in']}-{row['h_inH2O']}")
def test_which_lines_of_the_table_are_trusted(row) -> None:
    """Small holes and low suction scatter in the standard's own round robin (its note)."""
    got = orifice_flow(diameter=row["orifice_in"] * INCH, suction=row["h_inH2O"] * INCH_OF_WATER,
                       **STANDARD)
    assert bool(got.standard_plate)
    assert bool(got.trusted) == (row["orifice_in"] >= 0.5 and row["h_inH2O"] >= 20)


def test_the_factors_are_unit_arithmetic() -> None:
    """Suction-machine standard: 21.844 is within 0.1 % of pi/4/144 sqrt(2 g rho_w/rho) 60, and
    0.117354 is cfm times inches of water in W."""
    by_units = np.pi / 4 * INCH**2 * np.sqrt(2 * INCH_OF_WATER / STANDARD_DENSITY) / CFM
    assert pytest.approx(by_units, rel=0.001) == FLOW_FACTOR
    assert pytest.approx(CFM * INCH_OF_WATER, rel=2e-5) == POWER_FACTOR


def test_the_metric_standard_agrees() -> None:
    """IEC 60312-1 form (from memory): q = 0.032 alpha d^2 sqrt(h), dm^3/s with mm and kPa; for
    15.875 mm, 14.93 kPa and 0.579 it gives 18.04 L/s and 269.4 W, against 18.07 and 269.6."""
    q = 0.032 * 0.579 * 15.875**2 * np.sqrt(14.93)
    got = orifice_flow(diameter=0.015875, suction=14.93e3, **STANDARD)
    assert q == pytest.approx(18.04, abs=0.02)
    assert float(got.flow) * 1e3 == pytest.approx(q, rel=0.003)
    assert float(got.air_power) == pytest.approx(q * 14.93, rel=0.003)


def test_standard_constants_and_a_thin_plate_differ_by_three_per_cent_where_trusted() -> None:
    """The two ways to the coefficient, in the range the table's note gives."""
    suction = np.arange(20.0, 91.0, 10.0) * INCH_OF_WATER
    ratio = pressure_ratio(suction=suction, ambient_pressure=STANDARD["ambient_pressure"])
    plates = np.arange(2, len(PLATES))[:, None]
    relative = standard_coefficient(ratio=ratio, plate=plates) / thin_plate_coefficient(
        ratio=ratio) - 1.0
    assert -0.012 < relative.min() < relative.max() < 0.03


def test_thinner_air_flows_faster_through_the_same_hole() -> None:
    """Bernoulli: at equal suction the volume flow goes with the root of 1 / density."""
    one, other = (float(orifice_flow(diameter=0.016, suction=1e4, ambient_pressure=1e5,
                                     density=rho).flow) for rho in (1.2, 1.08))
    assert other / one == pytest.approx(np.sqrt(1.2 / 1.08))


def test_a_choked_hole_and_no_suction() -> None:
    got = orifice_flow(diameter=np.array([0.016, 0.016, 0.016]),
                       suction=np.array([6e4, 0.0, -1.0]), ambient_pressure=1e5, density=1.2)
    assert np.isnan(got.flow[[0, 2]]).all()
    assert got.flow[1] == 0.0


def test_deviations_are_those_of_draws() -> None:
    """200 000 draws of hole and suction, thin plate, the coefficient's own share taken off. What is
    told is up to 6 % larger, since it leaves out that the coefficient falls as suction grows."""
    random = np.random.default_rng(5)
    diameter = 0.0161 + 1e-4 * random.standard_normal(200_000)
    suction = 1.2e4 + 300.0 * random.standard_normal(200_000)
    drawn = orifice_flow(diameter=diameter, suction=suction, ambient_pressure=1e5, density=1.2)
    told = orifice_flow(diameter=0.0161, suction=1.2e4, ambient_pressure=1e5, density=1.2,
                        diameter_deviation=1e-4, suction_deviation=300.0)
    for name in ("flow", "air_power"):
        deviation = told.flow_deviation if name == "flow" else told.power_deviation
        own = float(np.sqrt(deviation**2 - (0.015 * getattr(told, name))**2))
        assert 0.99 < own / np.std(getattr(drawn, name)) < 1.06


@authority(part="bench", what="greatest air power of a made-up curve", status="independent",
           source="synthetic curve and its fits, made elsewhere; see peak_air_power.csv")
def test_greatest_air_power_of_a_known_curve():
    """With all points, and with those about the peak; flow times suction line by line."""
    for some, power, flow in (("all points", 404.7, 56.4), ("middle points", 406.3, 57.3)):
        keep = column("peak_air_power", "middle") >= (1 if some == "middle points" else 0)
        got = peak_air_power(flow=column("peak_air_power", "flow_cfm")[keep] * CFM,
                             air_power=column("peak_air_power", "air_power_W")[keep])
        yield from agree(f"{some}: greatest air power", got.power, power, share=0.001, unit="W",
                         why="the printed points leave 0.1 %")
        yield from agree(f"{some}: flow there", got.flow / CFM, flow, share=0.002, unit="cfm",
                         why="a flat peak")
        assert got.within
    for row in rows("peak_air_power"):
        yield from agree(f"{row} air power", row["flow_cfm"] * row["suction_inH2O"] * POWER_FACTOR,
                         row["air_power_W"], share=0.001, unit="W",
                         why="the printed inputs leave 0.1 %")


@given(pressure=st.floats(500.0, 3e4), free=st.floats(0.005, 0.1),
       places=st.lists(st.floats(0.05, 0.95), min_size=3, max_size=8, unique_by=lambda x: round(
           x, 2)))
def test_a_straight_fan_line_peaks_at_a_quarter(pressure, free, places) -> None:
    """Closed form: p = p0 (1 - Q/Q0) has its greatest air power p0 Q0 / 4 at Q0 / 2."""
    flow = free * np.array(places)
    got = peak_air_power(flow=flow, air_power=flow * pressure * (1.0 - flow / free))
    assert got.power == pytest.approx(pressure * free / 4.0, rel=1e-6)
    assert got.flow == pytest.approx(free / 2.0, rel=1e-6)


@pytest.mark.parametrize(("flow", "power"), [([1.0, 2.0], [1.0, 2.0]), ([1, 1, 2], [1, 2, 3]),
                                             ([1, 2, 3], [4, 1, 4]), ([1, 2, np.nan], [1, 2, 3])])
def test_readings_without_a_peak_are_refused(flow, power) -> None:
    with pytest.raises(ValueError, match=r"curve|between"):
        peak_air_power(flow=np.array(flow, float), air_power=np.array(power, float))


@authority(part="bench", what="catalogue units between line and parabola", status="closed form",
           source="p0 Q0 / 4 and 0.385 p0 Q0 of a catalogue's two ends, evaluated elsewhere")
def test_catalogue_units_have_a_peak_between_line_and_parabola():
    """Between p0 Q0/4 (a straight line) and 0.385 p0 Q0 (a parabola) they reach 24 to 53 % of their
    watts, as worked out with the table."""
    for row in rows("centrifugal_suction_units"):
        p0, q0 = row["max_static_kPa"] * 1e3, row["max_flow_m3_min"] / 60.0
        flow = q0 * np.linspace(0.4, 0.75, 8)
        line = peak_air_power(flow=flow, air_power=flow * p0 * (1 - flow / q0)).power
        parabola = peak_air_power(flow=flow, air_power=flow * p0 * (1 - (flow / q0)**2)).power
        shares = {1: (24, 36), 2: (27, 41), 3: (34, 53)}[int(row["unit"])]
        yield from agree(f"unit {row}: parabola", parabola, 0.385 * p0 * q0, share=0.005, unit="W",
                         why="eight points of a parabola")
        for value, share, name in zip((line, parabola), shares, ("line", "parabola"), strict=True):
            yield from agree(f"unit {row}: share of its watts by the {name}",
                             100 * value / row["power_W"], share, within=0.6, unit="%",
                             why="printed in per cent")
