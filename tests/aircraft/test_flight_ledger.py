"""The energy books of flights: closed over random legs, and item by item."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import HealthCheck, example, given, settings
from hypothesis import strategies as st

from tests.aircraft.flyers import AIRFRAME
from tests.aircraft.test_flight import (
    CLEAN,
    LEGS,
    MAKERS,
    REAL,
    constant,
    engine,
    flown,
    mass_of,
    whole,
)
from thrustlapse.air.atmosphere import GRAVITY
from thrustlapse.aircraft.flight import fly
from thrustlapse.aircraft.flight_record import SPENT
from thrustlapse.aircraft.legs import (
    Accelerate,
    Climb,
    Coast,
    Cruise,
    Dash,
    Glide,
    HandLaunch,
    RailLaunch,
    Turn,
)

LEG = st.one_of(
    st.builds(Accelerate, airspeed=st.floats(16.0, 27.0)),
    st.builds(Coast, airspeed=st.floats(14.0, 20.0)),
    st.builds(Climb, height=st.floats(10.0, 60.0), hold=st.sampled_from(
        ["true airspeed", "equivalent airspeed"])),
    st.builds(Turn, load_factor=st.floats(1.05, 1.5), angle=st.floats(0.3, 6.0),
              throttle=st.sampled_from(["full", "held"])),
    st.builds(Dash, short_of_top=st.floats(0.005, 0.1)),
    st.builds(Cruise, airspeed=st.floats(15.0, 24.0), time=st.floats(1.0, 60.0)),
    st.builds(Glide, height=st.floats(2.0, 30.0), hold=st.sampled_from(
        ["true airspeed", "equivalent airspeed"]), extra_drag_area=st.floats(0.0, 1e-3)))

LAUNCH = st.one_of(st.builds(HandLaunch, airspeed=st.floats(14.0, 24.0),
                             height=st.floats(1.0, 50.0)),
                   st.builds(RailLaunch, length=st.floats(2.0, 8.0), angle=st.floats(0.0, 0.5),
                             pull=st.floats(60.0, 120.0), height=st.floats(0.0, 2.0)))

DOWN_AND_UP = [Glide(height=6.0, extra_drag_area=1e-3), Climb(height=10.0)]
"""A glide of 3 m and a climb of 4 m: they take little of the pack, and all of it is booked."""

CLOSED = 2e-5
"""Relative miss allowed at the default tolerance; it falls with the tolerance, see below."""


@settings(max_examples=12, suppress_health_check=[HealthCheck.too_slow])
@given(st.sampled_from(sorted(MAKERS)), LAUNCH, st.lists(LEG, min_size=1, max_size=4))
@example("blower", HandLaunch(airspeed=23.4, height=9.0), DOWN_AND_UP)
def test_books_close_over_random_legs(name, launch, legs) -> None:
    """Pack energy and launcher work against every heat, work and energy, at every sample.

    Pack energy, kinetic and potential energy come from the trajectory, all else is summed.
    """
    flight = flown(name, *legs, launch=launch)
    assert flight.books.relative_residual < CLOSED
    assert np.isfinite(flight.books.residual).all()


def test_a_short_flight_books_what_it_takes_of_the_pack() -> None:
    """The charge is held to what the legs take, not to the full pack, of which that is little."""
    launch = HandLaunch(airspeed=23.408, height=15.4775)
    legs = [Glide(height=12.4775, hold="equivalent airspeed", extra_drag_area=1e-3),
            Climb(height=20.4775, hold="equivalent airspeed")]
    assert flown("blower", *legs, launch=launch).books.relative_residual < 0.05 * CLOSED


@pytest.mark.parametrize("name", MAKERS)
def test_the_miss_falls_with_the_tolerance(name) -> None:
    loose = flown(name, *LEGS, tolerance=1e-5).books.relative_residual
    tight = flown(name, *LEGS, tolerance=1e-10).books.relative_residual
    assert tight < 2e-7
    assert tight < 0.05 * loose


def test_dissipation_is_never_negative() -> None:
    books = whole("fan").books
    for name in ("pack_heat", "lead_heat", "controller_heat", "motor_heat", "machine_heat",
                 "jet_energy", "parasite_work", "induced_work", "external_work"):
        assert np.all(np.diff(getattr(books, name)) >= -1e-9), name
        assert getattr(books, name)[0] == 0.0
    assert books.paid[-1] == pytest.approx(sum(getattr(books, name)[-1] for name in SPENT),
                                           rel=1e-6)


def test_books_item_by_item() -> None:
    """Each sum against its own formula, by trapezes on the samples."""
    flight = flown("fan", Accelerate(airspeed=24.0), tolerance=1e-10)
    def sums(rate):
        return np.sum(0.5 * (rate[1:] + rate[:-1]) * np.diff(flight.time))
    books = flight.books
    parts = [(books.external_work, flight.external_drag * flight.airspeed),
             (books.parasite_work + books.induced_work + books.compressibility_work,
              flight.drag * flight.airspeed),
             (books.pack_heat, flight.current**2 * REAL.resistance(flight.state_of_charge)),
             (books.pack_energy, flight.current * REAL.voltage(flight.state_of_charge))]
    for book, rate in parts:
        assert book[-1] == pytest.approx(sums(rate), rel=1e-4)
    mass = mass_of(MAKERS["fan"]())
    assert books.kinetic[-1] == pytest.approx(0.5 * mass * (24.0**2 - 16.0**2), rel=1e-9)
    pushed = flight.thrust * flight.airspeed
    assert sums(pushed) == pytest.approx(books.external_work[-1] + books.parasite_work[-1]
                                         + books.induced_work[-1] + books.kinetic[-1], rel=1e-4)


def test_a_glide_pays_with_height() -> None:
    flight = flown("propeller", Glide(), launch=HandLaunch(airspeed=16.0, height=50.0))
    books = flight.books
    assert books.pack_energy[-1] == 0.0
    assert books.potential[-1] == pytest.approx(-mass_of(MAKERS["propeller"]()) * GRAVITY * 50.0,
                                                rel=1e-9)
    work = books.parasite_work[-1] + books.induced_work[-1] + books.external_work[-1]
    assert work == pytest.approx(-books.potential[-1] - books.kinetic[-1], rel=1e-7)


def test_a_thrust_law_pays_with_its_thrust() -> None:
    flight = fly(constant(4.0), AIRFRAME, HandLaunch(), (Climb(height=50.0, airspeed=16.0),),
                 mass=1.5)
    assert flight.completed
    assert flight.books.relative_residual < 1e-7
    assert flight.books.pack_energy[-1] == pytest.approx(4.0 * 16.0 * flight.time[-1], rel=1e-7)


def test_a_flight_of_the_same_engine_is_the_same_flight() -> None:
    """Pure: flying again, or with another flight between, changes nothing."""
    first = flown("fan", Accelerate(airspeed=20.0))
    flown("fan", *LEGS)
    again = flown("fan", Accelerate(airspeed=20.0))
    assert np.array_equal(first.airspeed, again.airspeed)
    assert engine("fan") is engine("fan")


def test_the_miss_is_told_over_the_largest_store() -> None:
    """Of a craft of 5 g, whose stores change by less than a joule."""
    flight = fly(constant(0.0), CLEAN, HandLaunch(airspeed=12.0, height=0.0),
                 (Coast(airspeed=10.0),), mass=0.005)
    books = flight.books
    assert books.relative_residual == pytest.approx(
        np.abs(books.residual).max() / (0.5 * 0.005 * 44.0), rel=1e-6)
