"""The whole scenario file: question, site, pack, airframe, comparison, airspeeds, candidates."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from thrustlapse.air.atmosphere import Site, site_from_readings
from thrustlapse.aircraft.top_speed import HIGHEST_MACH
from thrustlapse.arrays import Array, Values, plain
from thrustlapse.power.drive import Drive, allowed_power
from thrustlapse.power.motor import constant_efficiency_motor
from thrustlapse.power.pack import (
    CURVES,
    CellCurve,
    Pack,
    Supply,
    cell_curve,
    greatest_power,
    resistance_from_half_charge,
    typical_resistance,
)
from thrustlapse.power.pack import supply as pack_supply
from thrustlapse.propulsor.anchored import jet_power
from thrustlapse.propulsor.basis import AS_GIVEN, EQUAL_POWER, FOOTINGS, Basis
from thrustlapse.scenario.build.aircraft import build_aircraft, complete
from thrustlapse.scenario.faults import listed, near_miss
from thrustlapse.scenario.fields import Count, Flag, Pairs, Quantity, Text, Word
from thrustlapse.scenario.schema.airframe import AirframeSection
from thrustlapse.scenario.schema.airspeed import AirspeedSection
from thrustlapse.scenario.schema.flight import FlightSection
from thrustlapse.scenario.schema.motor import EfficiencyMotorSection
from thrustlapse.scenario.schema.propulsor import CandidateSection
from thrustlapse.scenario.schema.readings import FULL_VOLTAGE, KnownReadingsSection
from thrustlapse.scenario.schema.search import SearchSection
from thrustlapse.scenario.schema.uncertainty import UncertaintySection
from thrustlapse.scenario.schema.when import WhenSection
from thrustlapse.scenario.schema.wiring import WiringSection
from thrustlapse.scenario.section import Problem, Section

Ratio = Annotated[float, Quantity("ratio", 0.0, 1.0)]

NAME = re.compile(r"[A-Za-z0-9](?:[A-Za-z0-9 _-]{0,38}[A-Za-z0-9])?")
KEPT = re.compile(r"(?i)con|prn|aux|nul|(com|lpt)[0-9]")
"""Names that one family of file systems keeps for devices: files are called after candidates."""

NAME_FORM = ("letters A to Z, digits, spaces, - and _, at most 40, a letter or digit at both ends; "
             "no name that a file system keeps for a device, such as con, nul or com1")


class SiteSection(Section):
    """Where and on what day; the standard day at sea level unless told otherwise."""

    altitude: Annotated[float, Quantity("length", -400.0, 15e3)] = Field(
        0.0, description="Height of the site above mean sea level")
    temperature: Annotated[float, Quantity("temperature", 203.15, 333.15)] | None = Field(
        None, description="Air temperature there on the day; standard unless given")
    pressure: Annotated[float, Quantity("pressure", 1e4, 1.1e5)] | None = Field(
        None, description="Station pressure there, not reduced to sea level; standard unless given")

    def site(self) -> Site:
        """The site."""
        return site_from_readings(altitude=self.altitude, temperature=self.temperature,
                                  pressure=self.pressure)


class PackSection(Section):
    """Cells, wiring, and how full they are."""

    ONE_OF = (("chemistry", "curve"), ("cell_resistance", "resistance_curve"))
    FILLED = ("chemistry", "cell_resistance", "state_of_charge", "mass")
    chemistry: Annotated[str, Word(tuple(CURVES), advice=(
        "for a lithium polymer pack NMC is near; else give the cell's own curve"))] | None = Field(
        None, description="Cell chemistry with a published open-circuit curve")
    curve: Annotated[tuple[tuple[float, float], ...], Pairs(
        Quantity("ratio", 0.0, 1.0), Quantity("voltage", 0.5, 5.0))] | None = Field(
        None, description="Open-circuit curve of a cell: pairs of state of charge and voltage")
    curve_source: Annotated[str, Text(300)] = Field(
        "", description="Where that curve was read")
    series: Annotated[int, Count(1, 1000)] = Field(description="Cells in series")
    parallel: Annotated[int, Count(1, 1000)] = Field(1, description="Strings in parallel")
    cell_capacity: Annotated[float, Quantity("charge", 36.0, 3.6e6)] = Field(
        description="Charge of one cell")
    cell_resistance: Annotated[float, Quantity("resistance", 0.0, 10.0)] | None = Field(
        None, description="Internal resistance of one cell at half charge; it grows as a typical "
        "cell's does as the charge falls")
    resistance_curve: Annotated[tuple[tuple[float, float], ...], Pairs(
        Quantity("ratio", 0.0, 1.0), Quantity("resistance", 1e-6, 10.0))] | None = Field(
        None, description="Internal resistance of one cell: pairs of state of charge and "
        "resistance")
    state_of_charge: Ratio = Field(description="Share of the charge still in the cells")
    lead_resistance: Annotated[float, Quantity("resistance", 0.0, 10.0)] = Field(
        0.0, description="Pack leads, connector and switch, shared by all units")
    mass: Annotated[float, Quantity("mass", 1e-3, 1e4)] = Field(
        description="Mass of the pack with its leads")
    current_rating: Annotated[float, Quantity("current", 1e-2, 1e5)] | None = Field(
        None, description="Current the pack, its connector and switch stand; unchecked if absent")

    def cell_curve(self) -> CellCurve:
        """Open-circuit curve of a cell."""
        if self.curve is None:
            return cell_curve(self.chemistry or "")
        charge, volts = np.array(self.curve).T
        return CellCurve(state_of_charge=charge, voltage=volts, source=self.curve_source)

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.given("curve_source") and not self.given("curve"):
            yield Problem(path=("curve_source",), problem="given without a curve",
                          accepted="curve_source together with curve")
        if len(self.given("chemistry", "curve")) != 1 or self.chemistry == "":
            return
        curve = self.cell_curve()
        if np.any(np.diff(curve.state_of_charge) <= 0.0) or np.any(np.diff(curve.voltage) < 0.0):
            yield Problem(path=("curve",), problem="the curve folds back",
                          accepted="pairs with rising state of charge and voltage that never falls")
        elif not self.given("curve") or np.all(np.isfinite(curve.state_of_charge)):
            yield from self._outside(curve.state_of_charge, "the cell's curve")
        if self.resistance_curve is not None:
            charge = np.array(self.resistance_curve)[:, 0]
            if np.any(np.diff(charge) <= 0.0):
                yield Problem(path=("resistance_curve",), problem="the curve folds back",
                              accepted="pairs with rising state of charge")
            elif np.all(np.isfinite(charge)):
                yield from self._outside(charge, "its resistance_curve")

    def _outside(self, charge: Array, what: str) -> Iterator[Problem]:
        if np.any((self.state_of_charge < charge[0]) | (self.state_of_charge > charge[-1])):
            yield Problem(path=("state_of_charge",), problem=f"outside {what}",
                          accepted=f"from {100 * charge[0]:g} % to {100 * charge[-1]:g} %")

    def pack(self) -> Pack:
        """The pack."""
        half: Values = self.cell_resistance if self.cell_resistance is not None else 0.0
        curve = typical_resistance()
        if self.resistance_curve is not None:
            charge, ohms = np.array(self.resistance_curve).T
            half, curve = resistance_from_half_charge(state_of_charge=charge, resistance=ohms,
                                                      source="given in the scenario")
        return Pack(curve=self.cell_curve(), series=self.series * 1.0,
                    parallel=self.parallel * 1.0, cell_resistance=half, resistance_curve=curve,
                    cell_capacity=self.cell_capacity, state_of_charge=self.state_of_charge,
                    lead_resistance=self.lead_resistance)

    def known(self) -> bool:
        """Whether everything its voltage depends on was read without a fault."""
        inside = self.cell_resistance if self.resistance_curve is None else self.resistance_curve
        if inside is None:
            return False
        values = np.concatenate([np.ravel(value) for value in (
            inside, self.state_of_charge, self.lead_resistance)])
        return bool(len(self.given("chemistry", "curve")) == 1 and self.chemistry != ""
                and len(self.given("cell_resistance", "resistance_curve")) == 1
                and bool(np.all(np.isfinite(values))) and np.all(np.asarray(self.series) > 0)
                and bool(np.all(np.asarray(self.parallel) > 0))
                and not list(self.check())
                and bool(np.all(np.isfinite(self.cell_curve().state_of_charge))))


class SupplySection(Section):
    """A bench supply: one voltage behind one resistance."""

    voltage: Annotated[float, Quantity("voltage", 0.1, 2000.0)] = Field(
        description="Voltage without load")
    resistance: Annotated[float, Quantity("resistance", 0.0, 10.0)] = Field(
        description="Resistance of supply and leads, shared by all units")
    mass: Annotated[float, Quantity("mass", 0.0, 1e4)] = Field(
        description="Mass that flies along; 0 on the bench")
    current_rating: Annotated[float, Quantity("current", 1e-2, 1e5)] | None = Field(
        None, description="Current it stands; unchecked if absent")
    ideal: Annotated[bool, Flag()] = Field(
        False, description="True where the voltage is not known; no current or voltage is then "
        "told, and only machines known by their readings can run on it")
    as_read: Annotated[bool, Flag()] = Field(
        False, description="True where it has the voltage that each machine's readings state, in "
        "place of its own")


class ComparisonSection(Section):
    """On which footing candidates are compared."""

    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (("reference", "electrical_power"),)
    footing: Annotated[str, Word(FOOTINGS)] = Field(AS_GIVEN, description="Footing")
    reference: Annotated[str, Text(40)] | None = Field(
        None, description="Name of the candidate whose electrical power the others are held to")
    electrical_power: Annotated[float, Quantity("power", 0.1, 1e7)] | None = Field(
        None, description="Electrical power, all units, that every candidate is held to")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        told = self.given("reference", "electrical_power")
        if self.footing == EQUAL_POWER and not told:
            yield Problem(path=("footing",), problem="needs to know which power",
                          accepted="reference = the name of a candidate, or electrical_power, "
                          "beside it")
        if self.footing not in (EQUAL_POWER, "") and told:
            yield Problem(path=(told[0],), problem=f'of no use with footing "{self.footing}"',
                          accepted=f'only with footing = "{EQUAL_POWER}"')

    def basis(self) -> Basis:
        """The comparison's basis."""
        return Basis(footing=self.footing, reference=self.reference,
                     electrical_power=self.electrical_power)


class ScenarioSection(Section):
    """A scenario file."""

    ONE_OF = (("pack", "supply"),)
    FILLED = ("supply", "airspeed")
    title: Annotated[str, Text(200)] = Field(description="What this is about, in a line")
    question: Annotated[str, Text(2000)] = Field("", description="The question to be answered")
    note: Annotated[str, Text(5000)] = Field("", description="Where the numbers come from")
    invented: Annotated[bool, Flag()] = Field(
        False, description="True for a story that is made up; every write-up then says so")
    site: SiteSection = Field(SiteSection(), description="Where and on what day")
    pack: PackSection | None = Field(None, description="The pack that feeds each candidate")
    supply: SupplySection | None = Field(None, description="A bench supply in place of the pack")
    wiring: WiringSection | None = Field(
        None, description="Wire, connector, switch and fuse of the pack, to be checked")
    airframe: AirframeSection | None = Field(
        None, description="The aircraft; without it there is no top speed")
    flight: FlightSection | None = Field(
        None, description="A flight that every candidate flies; none is flown without it")
    comparison: ComparisonSection = Field(ComparisonSection(), description="The footing")
    airspeed: AirspeedSection = Field(description="Airspeeds")
    uncertainty: UncertaintySection = Field(
        UncertaintySection(), description="How the spreads of the file are worked through")
    candidates: dict[str, CandidateSection] = Field(
        min_length=1, description="What is compared, by name")
    search: SearchSection | None = Field(
        None, description="A search over many designs, for the command search")
    when: WhenSection = Field(
        WhenSection(), description="Where every kind is sized anew, for the command when")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        yield from self._check_names()
        yield from self._check_airspeeds()
        yield from self._check_supply()
        yield from self._check_readings()
        yield from self._check_drag()
        yield from self._check_flight()
        if self.when.masses and self.airframe is None:
            yield Problem(path=("when", "masses"), problem="masses of no aircraft: there is no "
                          "airframe, whose mass they stand in for",
                          accepted="a table [airframe], or no masses")
        name = self.comparison.reference
        if name and name not in self.candidates:
            yield Problem(path=("comparison", "reference"), problem="no candidate has that name",
                          accepted=listed(self.candidates), hint=near_miss(name, self.candidates))

    def _check_names(self) -> Iterator[Problem]:
        seen: dict[str, str] = {}
        for name in self.candidates:
            if not NAME.fullmatch(name) or KEPT.fullmatch(name):
                yield Problem(path=("candidates", name), problem="not a usable name",
                              accepted=NAME_FORM)
            plain = re.sub("[ _-]+", "-", name.casefold())
            if plain in seen:
                yield Problem(path=("candidates", name), problem="differs from "
                              f'"{seen[plain]}" only by case, spaces, - and _',
                              accepted="names that can be told apart")
            seen.setdefault(plain, name)
        earlier: list[str] = []
        for name, candidate in self.candidates.items():
            other = candidate.same_machine_as
            if other is not None and (other not in earlier
                                      or self.candidates[other].kind != candidate.kind):
                yield Problem(path=("candidates", name, "same_machine_as"),
                              problem="no earlier candidate of this kind has that name",
                              accepted=listed([each for each in earlier
                                               if self.candidates[each].kind == candidate.kind])
                              or "nothing: it is the first of its kind",
                              hint=near_miss(other, earlier))
            earlier.append(name)

    def _check_airspeeds(self) -> Iterator[Problem]:
        section = self.airspeed
        site = self.site.site()
        top = HIGHEST_MACH * float(np.min(site.air().speed_of_sound))
        for key, value in (("lowest", section.lowest), ("highest", section.highest),
                           ("at", max(section.at or (0.0,)))):
            if value is not None and value > top:
                yield Problem(path=("airspeed", key), problem=f"above Mach {HIGHEST_MACH:g}, which "
                              f"is {top:.1f} m/s here", accepted="subsonic airspeeds")

    def _check_flight(self) -> Iterator[Problem]:
        """A flight needs an aircraft and a pack, and names candidates that exist."""
        section = self.flight
        if section is None:
            return
        if self.airframe is None:
            yield Problem(path=("flight",), problem="nothing to fly: there is no airframe",
                          accepted="a table [airframe], or no [flight]")
        if self.pack is None and self.supply is not None:
            yield Problem(path=("flight",), problem="a bench supply does not fly",
                          accepted="a table [pack], or no [flight]")
        if self.pack is not None and np.all(np.isfinite(self.pack.state_of_charge)) \
                and section.least_state_of_charge >= np.min(self.pack.state_of_charge):
            yield Problem(path=("flight", "least_state_of_charge"),
                          problem="the pack counts as empty from the start",
                          accepted="less than state_of_charge in [pack]")
        for name in section.motors:
            if name not in self.candidates:
                yield Problem(path=("flight", "motors", name), problem="no candidate has that name",
                              accepted=listed(self.candidates),
                              hint=near_miss(name, self.candidates))

    def _check_drag(self) -> Iterator[Problem]:
        """Drag that cannot be: readings that no polar explains."""
        section = self.airframe
        if section is None or section.drag is None or not complete(section) \
                or not complete(self.site):
            return
        try:
            build_aircraft(section, site=self.site.site(), source_mass=0.0)
        except ValueError as error:
            key = "readings" if "readings" in type(section.drag).model_fields else "glide_ratio"
            yield Problem(
                path=("airframe", "drag", key), problem=str(error),
                accepted="readings of steady flight in still air, without thrust",
                hint="one doubtful reading can do it; a short run needs the induced factor held, "
                "by span and span_efficiency or by induced_factor")

    def electrical_source(self) -> Supply:
        """The pack or bench supply, as a single unit sees it."""
        if self.supply is not None:
            return Supply(voltage=self.supply.voltage, resistance=self.supply.resistance)
        assert self.pack is not None
        found = pack_supply(self.pack.pack())
        return replace(found, voltage=plain(found.voltage), resistance=plain(found.resistance),
                       full_voltage=plain(found.full_voltage))

    def _check_readings(self) -> Iterator[Problem]:
        """Jets that carry more than the watts they were read with, in the air of the day."""
        density = self.site.site().air().density
        for name, candidate in self.candidates.items():
            read = getattr(candidate, "readings", None)
            if not isinstance(read, KnownReadingsSection):
                continue
            jet = jet_power(thrust=read.thrust, density=density,
                            exit_area=np.pi / 4.0 * np.square(read.exit_diameter))
            if np.any(jet > np.asarray(read.electrical_power)):
                yield Problem(
                    path=("candidates", name, "readings", "thrust"),
                    problem="beyond its own energy balance: such a jet alone carries "
                    f"{float(f'{np.max(jet):.3g}'):g} W, more than the electrical power",
                    accepted="thrust with its unit, the watts of the same moment, the exit's "
                    "diameter", hint="a kitchen scale reads grams: write the unit, as in thrust = "
                    '"214 gf"')

    def _check_supply(self) -> Iterator[Problem]:
        """A pack that cannot deliver: only motors without a voltage of their own can ask that."""
        if len(self.given("pack", "supply")) != 1 or (self.pack and not self.pack.known()):
            return
        if self.supply is not None and self.supply.ideal:
            for name, candidate in self.candidates.items():
                read = getattr(candidate, "readings", None)
                if read is None or read.supply == FULL_VOLTAGE \
                        or not isinstance(read, KnownReadingsSection):
                    yield Problem(path=("candidates", name), problem="needs a voltage",
                                  accepted="a table [pack] or [supply], voltage in its readings, "
                                  "or a ducted machine known by its readings alone",
                                  hint="" if candidate.kind != "propeller" else
                                  "a propeller unloads in flight, and the voltage is what keeps "
                                  "its shaft from running away")
        source = self.electrical_source()
        most = float(np.min(greatest_power(voltage=source.voltage, resistance=source.resistance)))
        loss_free = constant_efficiency_motor(efficiency=1.0)
        for name, candidate in self.candidates.items():
            limits = candidate.drive
            if not isinstance(candidate.motor, EfficiencyMotorSection) or np.any(
                    np.asarray(candidate.count) < 1):
                continue
            drive = Drive(motor=loss_free,  # what the pack allows does not depend on it
                          power_limit=_or_infinite(limits.power_limit),
                          supply_current_limit=_or_infinite(limits.supply_current_limit))
            shared = Supply(voltage=source.voltage, resistance=source.resistance,
                            units=candidate.count * 1.0)
            _, _, reachable = allowed_power(drive, shared)
            if not np.all(reachable) and limits.given("power_limit", "supply_current_limit"):
                key = limits.given("power_limit", "supply_current_limit")[0]
                yield Problem(
                    path=("candidates", name, "drive", key), problem="the pack cannot deliver it: "
                    f"at its terminals it gives {most:.4g} W at the very most",
                    accepted=f"{most / np.max(candidate.count):.4g} W or less for each of "
                    f"{np.max(candidate.count)}, and far less to be kind to the pack",
                    hint="more cells in series or in parallel, or less resistance")


def _or_infinite(value: float | None) -> float:
    return float("inf") if value is None else value
