"""Standard air against printed tables and two independent libraries; sites and barometers."""

import fluids
import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tests.authority import column, rows
from tests.credibility.records import PRINTED, agree, authority
from thrustlapse.air import atmosphere
from thrustlapse.air.atmosphere import Site, site_from_readings, standard_air

FOOT = 0.3048
KNOT = 1852.0 / 3600.0
HEIGHTS = st.floats(-5000.0, 20000.0)


def geometric(height):
    """Geometric altitude of a geopotential height: tables in feet count in the latter."""
    radius = atmosphere.EARTH_RADIUS
    return radius * height / (radius - height)


def properties(altitude):
    """What the printed tables list, by the column names they have here."""
    air = standard_air(altitude=altitude)
    return {"T_K": air.temperature, "p_Pa": air.pressure, "rho_kg_m3": air.density,
            "a_m_s": air.speed_of_sound, "mu_Pa_s": air.viscosity,
            "nu_m2_s": air.viscosity / air.density, "p_bar": air.pressure / 1e5}


def half_units(name, key):
    return np.array([row.half_unit(key) for row in rows(name)])


# Printed tables ------------------------------------------------------------------------------


@authority(part="air", what="standard atmosphere, -5 to 20 km", status="published",
           source="ICAO Doc 7488/3 (1993), tables 1 and 2")
def test_icao_standard():
    """Every digit. Its density at -5 km and -2.5 km is 1.3 half-units off, and above 11 km it
    starts from its own rounded 22632.0 Pa (22632.04 unrounded): pressure and density 1.8e-6 low.
    """
    name = "atmosphere_icao"
    altitude, height = column(name, "h_geometric_m"), column(name, "H_geopotential_m")
    round_height = np.isin(height, (-5000.0, 11000.0, 20000.0))
    altitude = np.where(round_height, geometric(height), altitude)
    known = altitude < 20100.0
    for key in ("T_K", "p_Pa", "rho_kg_m3", "a_m_s", "mu_Pa_s", "nu_m2_s"):
        printed, allowed = column(name, key), half_units(name, key)
        if key == "rho_kg_m3":
            allowed[np.isin(altitude, (-5000.0, -2500.0))] *= 1.3
        if key in ("p_Pa", "rho_kg_m3"):
            allowed[altitude > 11100.0] += 1.8e-6 * printed[altitude > 11100.0]
        ours = properties(altitude)[key]
        yield from agree(f"{key} at", ours[known], printed[known], within=allowed[known],
                         at=[f"{h:.0f} m" for h in altitude[known]],
                         why=PRINTED + ", and the table's own rounding where it has any")
        assert np.isnan(ours[~known]).all()  # the 25 km row lies in a layer that is not here


@authority(part="air", what="geopotential height", status="published", source="ICAO Doc 7488/3")
def test_icao_geopotential_heights():
    high = column("atmosphere_icao", "h_geometric_m")
    yield from agree("of", atmosphere.geopotential(altitude=high),
                     column("atmosphere_icao", "H_geopotential_m"), within=0.5 + 1e-9, unit="m",
                     at=[f"{h:.0f} m" for h in high], why="whole metres")


@authority(part="air", what="US standard atmosphere 1976", status="published",
           source="Mechanical Engineers' Handbook vol. 4, table 6")
def test_us_standard_1976():
    """Four entries it rounds wrongly get 2.2 half-units."""
    name = "atmosphere_us1976"
    altitude = column(name, "z_geometric_m")
    for key in ("T_K", "p_bar", "rho_kg_m3", "a_m_s"):
        wrong = {"rho_kg_m3": (4000.0, 13000.0), "a_m_s": (5000.0, 9000.0)}.get(key, ())
        allowed = half_units(name, key) * np.where(np.isin(altitude, wrong), 2.2, 1.0)
        yield from agree(f"{key} at", properties(altitude)[key], column(name, key),
                         within=allowed, at=[f"{h:.0f} m" for h in altitude], why=PRINTED)


@authority(part="air", what="ratios every 500 ft to 7500 ft", status="published",
           source="Matthews (2002)")
def test_low_altitude_ratios():
    name = "atmosphere_low_altitude_ratios"
    feet = column(name, "altitude_ft")
    here, ground = (properties(geometric(h * FOOT)) for h in (feet, 0.0))
    ratios = {"p_over_p0": here["p_Pa"] / ground["p_Pa"],
              "rho_over_rho0": here["rho_kg_m3"] / ground["rho_kg_m3"],
              "mu_over_mu0": here["mu_Pa_s"] / ground["mu_Pa_s"],
              "nu_over_nu0": here["nu_m2_s"] / ground["nu_m2_s"], "a_m_s": here["a_m_s"]}
    for key, ours in ratios.items():
        allowed = half_units(name, key) * (2.1 if key == "nu_over_nu0" else 2.0) + 1e-9
        yield from agree(f"{key} at", ours, column(name, key), within=allowed,
                         at=[f"{h:.0f} ft" for h in feet],
                         why="one unit of the last digit (nu 1.05): the table is cut off")


@authority(part="air", what="a pilots' table to 50 000 ft", status="published",
           source="a standard-altitude table for pilots")
def test_ratios_in_feet():
    """Its sound and viscosity are off; sqrt(sigma) at 50 000 ft is a misprint, left blank."""
    name = "atmosphere_ratios_feet"
    feet = column(name, "altitude_ft")
    here, ground = (properties(geometric(h * FOOT)) for h in (feet, 0.0))
    sigma = here["rho_kg_m3"] / ground["rho_kg_m3"]
    values = {"sigma_rho_ratio": sigma, "sqrt_sigma": np.sqrt(sigma),
              "delta_p_ratio": here["p_Pa"] / ground["p_Pa"],
              "theta_T_ratio": here["T_K"] / ground["T_K"],
              "T_F": here["T_K"] * 1.8 - 459.67, "a_kt": here["a_m_s"] / KNOT,
              "nu_ft2_s": here["nu_m2_s"] / FOOT**2}
    for key, ours in values.items():
        printed = column(name, key)
        assert np.isfinite(printed).sum() >= 19
        loose = {"a_kt": 5e-4, "nu_ft2_s": 7e-3}.get(key, 0.0)
        exact = [0.0 if text == "" else row.half_unit(key) * (1.0 + 1e-6)
                 for row in rows(name) for text in [row.printed[key]]]
        yield from agree(f"{key} at", ours, printed, within=exact, share=loose,
                         at=[f"{h:.0f} ft" for h in feet],
                         why="the table's own sound and viscosity are this far off" if loose
                         else PRINTED)


# Independent libraries -----------------------------------------------------------------------


@authority(part="air", what="the standard's closed form, evaluated elsewhere",
           status="closed form", source="ICAO's formulas as the open library ambiance has them",
           kind="shared")
def test_closed_form_from_another_library():
    """1e-6, but 2.1e-6 above 11 km, where that library starts from the printed 22632.0 Pa."""
    name = "atmosphere_closed_form"
    altitude = column(name, "h_geometric_m")
    for key in ("T_K", "p_Pa", "rho_kg_m3", "a_m_s", "mu_Pa_s"):
        yield from agree(f"{key} at", properties(altitude)[key], column(name, key),
                         share=np.where(altitude > 11019.0, 2.1e-6, 1e-6),
                         at=[f"{h:.0f} m" for h in altitude],
                         why="1e-6; above 11 km the other starts from a rounded pressure")


@pytest.mark.parametrize("offset", [0.0, 17.0, -25.0])
def test_fluids_agrees_off_standard_too(offset):
    """`fluids` (open library), whose temperature offset leaves the pressure alone as well."""
    site = Site(temperature_offset=offset)
    for altitude in (0.0, 620.0, 3400.0, 10950.0, 12500.0):
        other = fluids.ATMOSPHERE_1976(altitude, dT=offset)
        mine = site.air(altitude)
        assert mine.pressure == pytest.approx(other.P, rel=1.5e-6)  # its layer bases are rounded
        assert mine.temperature == pytest.approx(other.T, rel=1e-6)
        assert mine.density == pytest.approx(other.rho, rel=1e-5)
        assert mine.speed_of_sound == pytest.approx(other.v_sonic, rel=1e-5)
        assert mine.viscosity == pytest.approx(other.mu, rel=1e-6)


# Laws ----------------------------------------------------------------------------------------


@given(altitude=HEIGHTS)
def test_air_is_in_hydrostatic_balance(altitude):
    """dp = -rho g0 dh over geopotential height, by the central difference over 2 m."""
    radius, step = atmosphere.EARTH_RADIUS, 1.0
    h = float(atmosphere.geopotential(altitude=altitude))
    h = min(max(h, -4990.0), 19900.0)
    up, down = (standard_air(altitude=radius * x / (radius - x)).pressure
                for x in (h + step, h - step))
    weight = standard_air(altitude=geometric(h)).density * atmosphere.GRAVITY * 2.0 * step
    assert down - up == pytest.approx(weight, rel=1e-6)


def test_tropopause_has_no_step():
    """Pressure and temperature are continuous at 11 km geopotential."""
    edge = geometric(atmosphere.TROPOPAUSE)
    below, above = standard_air(altitude=edge - 1e-6), standard_air(altitude=edge + 1e-6)
    assert below.pressure == pytest.approx(above.pressure, rel=1e-9)
    assert below.temperature == pytest.approx(above.temperature, rel=1e-9)
    assert above.temperature == pytest.approx(216.65, rel=1e-12)


@given(altitude=HEIGHTS)
def test_pressure_altitude_undoes_the_atmosphere(altitude):
    back = atmosphere.pressure_altitude(pressure=standard_air(altitude=altitude).pressure)
    assert back == pytest.approx(altitude, abs=1e-6)


def test_pressures_the_standard_does_not_have():
    """ICAO Doc 7488/3: 177 687 Pa at -5 km, 5474.87 Pa at 20 km; beyond them no answer."""
    pressure = np.array([0.0, -5.0, np.nan, 5400.0, 5480.0, 177600.0, 178500.0])
    known = np.isfinite(atmosphere.pressure_altitude(pressure=pressure))
    np.testing.assert_array_equal(known, [False] * 4 + [True, True, False])


def test_heights_outside_the_two_layers():
    air = standard_air(altitude=np.array([-5100.0, -5000.0, 20063.0, 20200.0, 1e6, np.nan]))
    for value in (air.pressure, air.temperature, air.density, air.speed_of_sound, air.viscosity):
        np.testing.assert_array_equal(np.isfinite(value), [False, True, True, False, False, False])


# Sites ---------------------------------------------------------------------------------------


@given(altitude=st.floats(-400.0, 5000.0), temperature=st.floats(230.0, 325.0),
       pressure=st.floats(45e3, 108e3))
def test_site_has_the_air_that_was_read_there(altitude, temperature, pressure):
    site = site_from_readings(altitude=altitude, temperature=temperature, pressure=pressure)
    air = site.air()
    assert air.temperature == pytest.approx(temperature, rel=1e-12)
    assert air.pressure == pytest.approx(pressure, rel=1e-9)
    assert air.density == pytest.approx(pressure / (287.05287 * temperature), rel=1e-9)


def test_standard_values_stand_in_for_readings_that_are_missing():
    standard = standard_air(altitude=740.0)
    bare = site_from_readings(altitude=740.0).air()
    warm = site_from_readings(altitude=740.0, temperature=308.0).air()
    low = site_from_readings(altitude=740.0, pressure=91.0e3).air()
    assert (bare.pressure, bare.temperature) == (standard.pressure, standard.temperature)
    assert (float(warm.pressure), float(warm.temperature)) == pytest.approx(
        (float(standard.pressure), 308.0))
    assert (float(low.pressure), float(low.temperature)) == pytest.approx(
        (91.0e3, float(standard.temperature)))


def test_hot_day_thins_the_air_and_a_low_barometer_shifts_its_height():
    """Same height: density falls as 1/T; 100 m of barometer is 100 m of height."""
    hot = Site(altitude=500.0, temperature_offset=20.0).air()
    cool = Site(altitude=500.0).air()
    assert hot.density / cool.density == pytest.approx(float(cool.temperature / hot.temperature))
    shifted = Site(altitude=500.0, pressure_altitude_offset=100.0).air()
    assert shifted.pressure == standard_air(altitude=600.0).pressure
    assert shifted.temperature == cool.temperature


# Shapes and corners --------------------------------------------------------------------------


def test_point_is_batch():
    altitude = np.array([[-5000.0, 0.0, 11019.0], [11020.0, 20000.0, np.nan]])
    batch = properties(altitude)
    for index in np.ndindex(altitude.shape):
        single = properties(altitude[index])
        for key, value in batch.items():
            assert value.shape == altitude.shape
            assert single[key] == pytest.approx(value[index], rel=1e-15, nan_ok=True)


@pytest.mark.parametrize("shape", [(), (0,), (1,), (2, 0)])
def test_shapes_pass_through(shape):
    altitude = np.full(shape, 300.0)
    for value in properties(altitude).values():
        assert np.shape(value) == shape
    assert atmosphere.pressure_altitude(pressure=np.full(shape, 9e4)).shape == shape
    assert Site().air(altitude).density.shape == shape
