"""What a study needs of a scenario, whoever built it; a reader of files need not know a study."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, ClassVar, Protocol

from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.flight_plan import FlightPlan
from thrustlapse.aircraft.operating_needs import AircraftUse
from thrustlapse.arrays import Array
from thrustlapse.distributions import Sampling, Spread
from thrustlapse.power.pack import Pack
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.basis import Basis
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.register import Assumed
from thrustlapse.rotor.dimensions import Dimensions


class ScenarioLike(Protocol):
    """Every member that a study reads, as a dataclass; the scenario's own record says of each."""

    __dataclass_fields__: ClassVar[dict[str, Any]]

    @property
    def title(self) -> str: ...
    @property
    def question(self) -> str: ...
    @property
    def note(self) -> str: ...
    @property
    def invented(self) -> bool: ...
    @property
    def doubts(self) -> tuple[str, ...]: ...
    @property
    def digest(self) -> str: ...
    @property
    def site(self) -> Site: ...
    @property
    def pack(self) -> Pack | None: ...
    @property
    def pack_current_rating(self) -> float | None: ...
    @property
    def wiring(self) -> Wiring | None: ...
    @property
    def airframe(self) -> Airframe | None: ...
    @property
    def aircraft_use(self) -> AircraftUse | None: ...
    @property
    def flight(self) -> FlightPlan | None: ...
    @property
    def comparison(self) -> Basis: ...
    @property
    def airspeeds(self) -> Array: ...
    @property
    def candidates(self) -> Mapping[str, Candidate]: ...
    @property
    def dimensions(self) -> Mapping[str, Dimensions]: ...
    @property
    def spreads(self) -> tuple[Spread, ...]: ...
    @property
    def assumed(self) -> tuple[Assumed, ...]: ...
    @property
    def same_part(self) -> Mapping[tuple[str, str], str]: ...
    @property
    def sampling(self) -> Sampling: ...

    def drawn(self, values: Mapping[str, Array | float]) -> ScenarioLike:
        """The same scenario with arrays for some keys."""
