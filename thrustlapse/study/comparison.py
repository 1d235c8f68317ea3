"""The result of a comparison: what every figure, table and verdict is drawn from.

Frozen records of arrays and numbers, SI throughout. Nothing here is recomputed by a reader.
"""

from __future__ import annotations

from dataclasses import dataclass, field

from thrustlapse.aircraft.level_flight import LevelFlight
from thrustlapse.arrays import Array
from thrustlapse.notebook_view import NotebookView
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.study.aircraft_study_record import AircraftStudy
from thrustlapse.study.flight_study_record import FlightStudy
from thrustlapse.study.lapse import ReducedLapse
from thrustlapse.study.nozzle_size import NozzleStudy
from thrustlapse.study.uncertainty_results import UncertaintyStudy

INSTALLED = "installed thrust"
ON_AIRFRAME = "on this airframe"
AS_BUILT = "as built"
BEST_EXIT = "best at each airspeed"


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
class BestNozzle:
    """Exit diameter of most installed thrust at each airspeed [m], that thrust [N], and the power
    drawn with it [W], all units."""

    best_diameter: Array
    best_thrust: Array
    electrical_power: Array


@dataclass(frozen=True, kw_only=True)
class BreakEven:
    """What ``candidate`` would need at each airspeed to tie with ``rival``; NaN where meaningless.

    ``kind`` is :data:`INSTALLED` or :data:`ON_AIRFRAME` (installed thrust less induced drag at its
    own mass); ``exit`` :data:`AS_BUILT` or :data:`BEST_EXIT`. The power is the candidate's own at
    the pack. Chain efficiency is thrust times the mean of airspeed and jet speed over power: it
    has ``own_chain_efficiency``, and would need one of the others, with its jet speed held (the
    exit grows) or its exit held (the jet gets faster). One change at a time: ``needed_jet_speed``
    with its own efficiency and power, ``needed_power`` with its own efficiency and exit,
    ``allowed_drag_area``, the most its own external drag may be (below zero: short even without),
    ``allowed_mass`` the most it may weigh installed, None in installed thrust.

    No value where either of the two does not draw the power all are held to, where the rival has
    no thrust left to tie with, where the candidate does not push, and on the airframe below the
    stall.
    """

    kind: str
    candidate: str
    exit: str
    rival: str
    own_chain_efficiency: Array
    needed_chain_efficiency_jet_held: Array
    needed_chain_efficiency_exit_held: Array
    needed_jet_speed: Array
    needed_power: Array
    allowed_drag_area: Array
    allowed_mass: Array | None


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
class Comparison(NotebookView):
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
    best_nozzles: dict[str, BestNozzle] = field(default_factory=dict)
    break_even: tuple[BreakEven, ...] = ()
