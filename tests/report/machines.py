"""Invented machines, and a scenario of them built by hand, for tests of what a person reads."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache

import numpy as np

from tests.machines import BLOWER, CLOSED_FORM_PROPELLER, FAN, circle, kt
from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.build_up import Body, Surface, wire
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.drag_basis import DragBasis, Recipe
from thrustlapse.aircraft.flight_plan import FlightPlan
from thrustlapse.aircraft.operating_needs import AircraftUse
from thrustlapse.arrays import Array
from thrustlapse.distributions import Sampling, Spread
from thrustlapse.power.pack import Pack, Supply, cell_curve
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import Candidate, Installation, Ratings
from thrustlapse.register import Assumed
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import Comparison

SITE = Site(altitude=100.0)
AS_GIVEN = Basis(footing="as given", reference=None, electrical_power=None)
SUPPLY = Supply(voltage=24.0, resistance=0.09, units=1.0)


def blower(name: str = "blower", *, power: float = 400.0, exit_diameter: float = 0.019,
           assumptions: tuple[str, ...] = ("discharge coefficient 0.96 (common practice)",)
           ) -> Candidate:
    unit = replace(
        BLOWER, nozzle=replace(BLOWER.nozzle, exit_area=circle(exit_diameter)),
        drive=replace(BLOWER.drive, power_limit=power, motor_lead_resistance=0.0), supply=SUPPLY)
    return Candidate(name=name, kind="blower", unit=unit, count=1, installed_mass=0.62,
                     installation=Installation(frontal_area=circle(0.06), pod_drag_area=3.4e-4),
                     site=SITE,
                     ratings=Ratings(rotor_material="aluminium 7075-T6", supply_current=40.0),
                     assumptions=assumptions)


def fan(name: str = "ducted fan") -> Candidate:
    motor = replace(FAN.drive.motor, torque_constant=kt(3600.0))
    unit = replace(FAN, drive=replace(FAN.drive, motor=motor, power_limit=400.0), supply=SUPPLY)
    return Candidate(name=name, kind="axial fan", unit=unit, count=1, installed_mass=0.58,
                     installation=Installation(frontal_area=circle(0.062), pod_drag_area=3.6e-4),
                     site=SITE)


def propeller(name: str = "propeller", *, power: float = 400.0) -> Candidate:
    rotor = CLOSED_FORM_PROPELLER
    unit = replace(rotor, drive=replace(rotor.drive, power_limit=power), supply=SUPPLY)
    return Candidate(name=name, kind="propeller", unit=unit, count=1, installed_mass=0.55,
                     installation=Installation(frontal_area=circle(0.035), pod_drag_area=1.2e-4,
                                               scrubbed_area=0.008, scrubbing_friction=0.005),
                     site=SITE)


AIRFRAME = Airframe(mass=0.9, wing_area=0.16, minimum_drag_coefficient=0.02, induced_factor=0.06,
                    greatest_lift=1.0, launch_speed=18.0)


PACK = Pack(curve=cell_curve("NMC"), series=6.0, parallel=1.0, cell_resistance=0.014,
            cell_capacity=2.6 * 3600.0, state_of_charge=0.9, lead_resistance=0.006)

RECIPE = Recipe(
    parts=(Surface(name="wing", area=0.15, chord=0.14, thickness_ratio=0.09, most_laminar=0.5),
           Body(name="fuselage with a long name of its own", length=0.9, width=0.08, height=0.07),
           wire(name="aerial", diameter=0.001, length=0.5)),
    form_factors="Hoerner", friction="Prandtl-Schlichting", allowance=0.1)

USE = AircraftUse(
    drag_basis=DragBasis(source="parts", low=0.014, high=0.026, deviation=0.003, recipe=RECIPE,
                         span_efficiency=0.8, reference_speed=22.0,
                         told=("finish of wing: made up for the tests",)),
    source_mass=0.35, cruise_speeds=(20.0, 200.0))


@dataclass(frozen=True, kw_only=True)
class HandMade:
    """A scenario built without a file."""

    candidates: dict[str, Candidate]
    airframe: Airframe | None = AIRFRAME
    airspeeds: np.ndarray = field(default_factory=lambda: np.linspace(0.0, 110.0, 56))
    comparison: Basis = AS_GIVEN
    title: str = "Three ways to push a small wing"
    question: str = "Does the blower win at high airspeed?"
    note: str = "A story made up for the tests."
    invented: bool = True
    doubts: tuple[str, ...] = ()
    site: Site = SITE
    pack: Pack | None = PACK
    pack_current_rating: float | None = 60.0
    wiring: Wiring | None = None
    aircraft_use: AircraftUse | None = USE
    flight: FlightPlan | None = None
    dimensions: dict[str, Dimensions] = field(default_factory=dict)
    spreads: tuple[Spread, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    same_part: dict[tuple[str, str], str] = field(default_factory=dict)
    sampling: Sampling = field(default_factory=lambda: Sampling(samples=0))
    digest: str = "0" * 64

    def drawn(self, values: Mapping[str, Array | float]) -> HandMade:
        raise AssertionError(f"nothing is drawn here, yet {sorted(values)} were")


def hand_made(*candidates: Candidate, **changes: object) -> HandMade:
    return HandMade(candidates={one.name: one for one in candidates}, **changes)  # type: ignore[arg-type]


@cache
def three() -> Comparison:
    """Blower, ducted fan and propeller on one airframe."""
    return compare(hand_made(blower(), fan(), propeller()))


@cache
def two() -> Comparison:
    return compare(hand_made(blower(), propeller()))


@cache
def single() -> Comparison:
    return compare(hand_made(blower()))


@cache
def without_airframe() -> Comparison:
    return compare(hand_made(blower(), propeller(), airframe=None))


@cache
def equal_power() -> Comparison:
    """All held to the pack power of the blower."""
    basis = Basis(footing="same electrical power", reference="blower", electrical_power=None)
    return compare(hand_made(blower(), fan(), propeller(), comparison=basis))


@cache
def five() -> Comparison:
    """Five candidates with long names."""
    return compare(hand_made(
        blower("salvaged vacuum blower with 22 mm exit", exit_diameter=0.022),
        blower("salvaged vacuum blower with 17 mm exit", exit_diameter=0.017),
        fan("50 mm ducted fan with stator"),
        propeller("7 x 5 inch propeller - geared 2 to 1"),
        replace(blower("blower with half the power limit", power=200.0), count=1)))
