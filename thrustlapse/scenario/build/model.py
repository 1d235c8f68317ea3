"""A scenario as the rest of the package uses it: parts in SI, built and checked."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_plan import FlightPlan
from thrustlapse.aircraft.operating_needs import AircraftUse
from thrustlapse.arrays import Array
from thrustlapse.distributions import Sampling, Spread
from thrustlapse.notebook_view import NotebookView
from thrustlapse.power.pack import Pack
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.register import Assumed
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.scenario.build.sampled import drawn_parts
from thrustlapse.scenario.schema.scenario import ScenarioSection


@dataclass(frozen=True, kw_only=True)
class Scenario(NotebookView):
    """Everything one scenario file says.

    ``airspeeds`` in m/s, rising. ``dimensions`` holds the candidates whose map was computed from
    their dimensions. ``pack`` is None on a bench supply. ``wiring`` is
    what stands behind it, where given. ``aircraft_use`` says what the
    airframe's drag rests on and what is asked of its performance; None without an airframe.
    ``digest`` is the SHA-256 of the file's bytes (of the digests, its own first, where it includes
    others), ``text`` its text with that of included files as comments, so that a result can be
    traced to what was asked. ``section`` is the checked file itself, from which :meth:`drawn`
    builds the parts anew. ``spreads`` are the quantities that are not known exactly, ``assumed``
    those that nobody gave, with the register's spread, and ``sampling`` says how they are to be
    worked through. ``same_part`` names the first candidate that has the same part: (candidate,
    table) -> candidate, with the table "" for the whole machine. ``doubts`` are sentences about
    numbers of the file that may not be meant as they are read.
    """

    title: str
    question: str
    note: str
    invented: bool
    site: Site
    pack: Pack | None
    pack_current_rating: float | None
    wiring: Wiring | None = None
    airframe: Airframe | None
    aircraft_use: AircraftUse | None
    comparison: Basis
    airspeeds: Array
    candidates: dict[str, Candidate]
    dimensions: dict[str, Dimensions]
    path: Path
    text: str
    digest: str
    spreads: tuple[Spread, ...] = ()
    assumed: tuple[Assumed, ...] = ()
    same_part: Mapping[tuple[str, str], str] = field(default_factory=dict)
    sampling: Sampling
    flight: FlightPlan | None = None
    doubts: tuple[str, ...] = ()
    section: ScenarioSection = field(repr=False, compare=False)

    def drawn(self, values: Mapping[str, Array | float]) -> Scenario:
        """Same scenario with arrays for some keys, see :func:`.drawn.drawn_parts`.

        ``dimensions`` stay those of the file.
        """
        section, parts = drawn_parts(self.section, values, file=str(self.path), text=self.text)
        return replace(self, section=section, **parts)

    @property
    def searches(self) -> bool:
        """Whether the file has a table ``[search]``."""
        return self.section.search is not None
