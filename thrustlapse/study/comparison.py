"""The result of a comparison: what every figure, table and verdict is drawn from.

Frozen records of arrays and numbers, SI throughout. Nothing here is recomputed by a reader.
"""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.aircraft.performance import LevelFlight
from thrustlapse.arrays import Array
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.flight_study_record import FlightStudy
from thrustlapse.study.lapse import ReducedLapse
from thrustlapse.study.nozzle_size import NozzleStudy
from thrustlapse.study.performance_record import AircraftStudy
from thrustlapse.study.uncertain import UncertaintyStudy

INSTALLED = "installed thrust"
ON_AIRFRAME = "on this airframe"


@dataclass(frozen=True, kw_only=True)
class CandidateResult:
    """One candidate over the airspeeds, on the comparison's footing.

    ``measured`` tells which of its values a bench fit found, and how surely.
    ``curve`` over the airspeeds; ``measure`` what the footing compares; ``short_of_reference`` 1
    where its drive cannot draw the reference power. ``drag`` is the airframe's drag at this
    candidate's mass, ``induced_drag`` its lift-dependent part [N]. ``at_rest`` and ``at_top`` are
    single points; ``at_top`` and ``level`` are None without an airframe or a top speed.
    ``output_trust`` and ``power_trust`` are relative standard deviations of the map's head or
    thrust and of its power; None where nothing is stated.
    ``external_drag_areas`` are this candidate's own drag items at its top speed (at the highest
    airspeed where it has none), all units, as drag areas [m^2].
    """

    name: str
    kind: str
    count: int
    installed_mass: float
    frontal_area: float
    output_trust: float | None
    power_trust: float | None
    trust_basis: str
    assumptions: tuple[str, ...]
    curve: OperatingPoint
    measure: Array
    short_of_reference: Array
    at_rest: OperatingPoint
    lapse: ReducedLapse
    nozzle: NozzleStudy | None
    drag: Array | None
    induced_drag: Array | None
    level: LevelFlight | None
    at_top: OperatingPoint | None
    external_drag_areas: dict[str, float]
    measured: tuple[str, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Crossover:
    """An airspeed at which one candidate overtakes another.

    ``kind`` is :data:`INSTALLED` (what the footing compares) or :data:`ON_AIRFRAME` (installed
    thrust less induced drag at its own mass). ``winner_above`` wins just above ``airspeed`` [m/s].
    ``net_thrust`` is a thrust per candidate there [N]: for the first kind installed thrust (of
    ``between[0]`` where the footing compares per mass or area, for thrusts then differ), for the
    second installed thrust less induced drag, for which ``drag_area_threshold`` [m^2] is
    the parasite drag area below which an aircraft gets beyond it.
    """

    kind: str
    between: tuple[str, str]
    winner_below: str
    winner_above: str
    airspeed: float
    net_thrust: float
    drag_area_threshold: float | None


@dataclass(frozen=True, kw_only=True)
class FlipItem:
    """One drag item whose change alone would make ``rival`` as fast as the fastest candidate.

    Drag areas in m^2; ``possible`` when the item is large enough to carry the change.
    """

    rival: str
    item: str
    drag_area: float
    needed: float
    possible: bool


@dataclass(frozen=True, kw_only=True)
class Finding:
    """Something unsafe, impossible or worth knowing: number, limit, and what to change.

    ``rank`` is "stop", "check" or "note". ``text`` is what holds for the subject, ``about`` the
    part of the statement that is the same for every subject, ``source`` what the limit rests on.
    ``least`` where the limit is a lower one.
    """

    rank: str
    subject: str
    text: str
    value: float | None
    limit: float | None
    unit: str
    change: str
    about: str = ""
    source: str = ""
    least: bool = False

    @property
    def margin(self) -> float | None:
        """Room to the limit as a share of it, below zero where it is broken [-]."""
        if self.value is None or self.limit is None or self.limit == 0.0:
            return None
        over = self.value / self.limit - 1.0
        return over if self.least else -over

    @property
    def said(self) -> str:
        """The whole statement."""
        source = f" ({self.source})" if self.source else ""
        return f"{self.text}{f': {self.about}' if self.about else ''}{source}"


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """All answers to one scenario.

    ``aircraft`` is None without an airframe, or where nothing is said of how it is used;
    ``uncertainty`` where no draws were asked for, or nothing is uncertain; ``flights`` where no
    flight is asked for.
    """

    title: str
    question: str
    note: str
    invented: bool
    footing: str
    reference: str | None
    reference_power: float | None
    altitude: float
    temperature: float
    pressure: float
    density: float
    airspeed: Array
    drag_area: float | None
    airframe_mass: float | None
    candidates: dict[str, CandidateResult]
    crossovers: tuple[Crossover, ...]
    other_footings: dict[str, tuple[Crossover, ...]]
    footing_curves: dict[str, dict[str, Array]]
    flip_items: tuple[FlipItem, ...]
    findings: tuple[Finding, ...]
    scenario_digest: str
    version: str
    methods: dict[str, str]
    aircraft: AircraftStudy | None = None
    uncertainty: UncertaintyStudy | None = None
    flights: FlightStudy | None = None
