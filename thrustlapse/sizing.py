"""When would it win: from a scenario to the best of every kind over a domain."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Mapping
from dataclasses import asdict, dataclass, replace
from functools import cache, partial
from importlib import resources
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse import __version__
from thrustlapse.aircraft.drag import drag_area
from thrustlapse.scenario.build.components import build_parts
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import expanded_tables, read_text
from thrustlapse.scenario.files.sized import sized_text
from thrustlapse.scenario.schema.propulsor import CandidateSection
from thrustlapse.study.chunk_folder import (
    MANIFEST,
    ChunkFolder,
    Manifest,
    StoreError,
    digest_of,
    open_chunks,
)
from thrustlapse.study.sizing.chances import chances
from thrustlapse.study.sizing.domain import Domain, Tell, WhenResult
from thrustlapse.study.sizing.flips import Conditions, flipped
from thrustlapse.study.sizing.kinds import VARIABLES, WITHIN, Kind, Template
from thrustlapse.study.sizing.merit import Rules
from thrustlapse.study.sizing.unit_size import own_induced_drag
from thrustlapse.study.sizing.walk import ROUGH, Plan, best_of
from thrustlapse.study.sizing.work import Work
from thrustlapse.study.workers import hired


def _kind_text() -> str:
    return resources.files("thrustlapse.scenario").joinpath("when_kinds.toml").read_text(
        encoding="utf-8")


@cache
def _kind_sections() -> dict[str, CandidateSection]:
    return read_text(_kind_text(), name="when_kinds.toml").section.candidates


def kind_tables() -> dict[str, Any]:
    """Each kind's table as it stands in its file."""
    found: dict[str, Any] = tomllib.loads(_kind_text())["candidates"]
    return found


def kinds(scenario: Scenario) -> dict[str, Kind]:
    """Every kind of machine on the scenario's pack at its site, by name."""
    sections = _kind_sections()
    parts = build_parts(scenario.section.model_copy(update={"candidates": sections}))
    found, rating = {}, scenario.pack_current_rating
    for name, section in sections.items():
        pod = section.installation.pod_diameter
        assert pod is not None
        candidate = parts["candidates"][name]
        found[name] = Kind(
            template=Template(kind=section.kind, candidate=candidate, pod_diameter=pod),
            variables=dict(VARIABLES[section.kind]),
            current_limit=np.inf if rating is None else WITHIN * rating,
            buried=scenario.section.when.buried and section.kind != "propeller")
    return found


def rules(scenario: Scenario) -> Rules:
    """What every design is held to."""
    frame, asked = scenario.airframe, scenario.section.when
    held = Rules(pack_current_rating=scenario.pack_current_rating, wiring=scenario.wiring,
                 tip_mach_limit=asked.tip_mach_limit,
                 frontal_limit=np.inf if asked.frontal_limit is None else asked.frontal_limit)
    if frame is None:
        return held
    source = scenario.section.pack or scenario.section.supply
    assert source is not None
    return replace(held, airframe=frame, base_mass=float(np.asarray(frame.mass)) + source.mass)


def domain_of(scenario: Scenario) -> Domain:
    """The airspeeds and powers its table ``[when]`` asks for."""
    asked = scenario.section.when
    return Domain(
        airspeed=np.linspace(asked.lowest_airspeed, asked.highest_airspeed,
                             asked.airspeed_points),
        power=np.geomspace(asked.lowest_power, asked.highest_power, asked.power_points))


def conditions(scenario: Scenario) -> Conditions:
    """What its table ``[when]`` asks to be tried."""
    asked = scenario.section.when
    return Conditions(frontal_limits=asked.frontal_limits, altitudes=asked.altitudes,
                      masses=asked.masses)


def _manifest(scenario: Scenario, domain: Domain, plan: Plan) -> Manifest:
    """All that the numbers of a study depend on."""
    study = {"power": {"unit": "W", "values": domain.power.tolist()},
             "airspeed": {"unit": "m/s", "values": domain.airspeed.tolist()},
             "plan": asdict(plan)}
    return Manifest(
        what="sizing study",
        told={"format": "thrustlapse sizing study, its pieces", "format_version": 1,
              "package_version": __version__, "scenario_sha256": scenario.digest,
              "study_sha256": digest_of(study), "study": study},
        differs={"package_version": "it was begun by another version of thrustlapse",
                 "scenario_sha256": "the scenario file has changed since",
                 "study_sha256": "the study has changed since",
                 "format_version": "its folder has another form"})


def _opened(folder: Path, manifest: Manifest, *, resume: bool) -> ChunkFolder:
    """A folder for the pieces; one that holds this very study is gone on with in any case."""
    begun = (folder / MANIFEST).exists()
    if not begun and not resume and (folder / "chunks").exists():
        raise StoreError(f"{folder} holds chunks of something else. Give another folder.")
    return open_chunks(folder, manifest, resume=resume or begun)


def when(scenario: Scenario, *, plan: Plan | None = None, processes: int = 1,
         cluster: str | None = None, folder: Path | str | None = None, resume: bool = False,
         tell: Tell | None = None, look: Callable[[WhenResult], None] | None = None) -> WhenResult:
    """Every kind of machine, freely sized, at its best over airspeed and electrical power.

    Parameters
    ----------
    scenario : Scenario
        Its pack, site, airframe and wiring are what all designs are held to; its table ``[when]``
        gives the domain
    plan : Plan, optional
        How hard it is looked
    processes : int
        Worker processes on this machine; the numbers do not depend on them
    cluster : str, optional
        Address of a running cluster's scheduler, in their place
    folder : path, optional
        Where every piece is kept as soon as it is done; if it holds some of this study, they are
        not worked out again
    resume : bool
        Whether the folder must hold this study
    tell : callable, optional
        ``tell(kind, share)`` as the work goes on
    look : callable, optional
        Given a first look, made in seconds, before the work

    Raises
    ------
    NoMap
        Where no map follows from the kinds' ranges in this air.
    StoreError
        If the folder holds another study or cannot be written, or a worker died.
    ClusterError
        As :func:`.cluster_workers`.
    """
    how, domain = plan or Plan(), domain_of(scenario)
    kept = None if folder is None else _opened(Path(folder), _manifest(scenario, domain, how),
                                               resume=resume)
    with hired(processes=processes, cluster=cluster) as hands:
        if look is not None:
            look(_study(scenario, ROUGH, Work(hands), None))
        return _study(scenario, how, Work(hands, kept), tell)


def _study(scenario: Scenario, how: Plan, work: Work, tell: Tell | None) -> WhenResult:
    every, held = kinds(scenario), rules(scenario)
    domain, draws = domain_of(scenario), scenario.section.when.draws
    if how.most is not None:
        domain = domain.thinned(*how.most)
    best = best_of(every, held, domain, work=work, plan=how, tell=tell)
    changed = () if how.flip is None else flipped(
        every, held, domain, best, work=work, effort=how.flip, asked=conditions(scenario),
        tell=None if tell is None else partial(tell, "what would flip it"))
    air, frame = scenario.site.air(), scenario.airframe
    pressure = 0.5 * float(air.density) * np.square(domain.airspeed)
    base = np.full_like(pressure, np.nan) if frame is None else own_induced_drag(
        frame, base_mass=0.0, unit_mass=held.base_mass, density=air.density,
        airspeed=domain.airspeed)
    return WhenResult(
        title=scenario.title, question=scenario.question, invented=scenario.invented,
        scenario_digest=scenario.digest, version=__version__, domain=domain, best=best,
        chance=chances(every, held, domain, best, draws=draws, work=work), draws=draws,
        base_drag=base, dynamic_pressure=pressure,
        drag_area=None if frame is None else float(np.asarray(drag_area(frame))),
        rules=_rule_words(scenario), flips=changed)


def _rule_words(scenario: Scenario) -> tuple[str, ...]:
    asked = scenario.section.when
    said = [f"relative tip Mach number at most {asked.tip_mach_limit:g}",
            "rotors of aluminium 7075-T6, at 115 % of any speed within their strength, shut too",
            "motors within the heat they shed for long and the speed they can be built for",
            "ducted units buried in the body" if asked.buried else "units in pods of their own"]
    if asked.frontal_limit is not None:
        said.append(f"units at most {1e3 * asked.frontal_limit:g} mm wide")
    if scenario.pack_current_rating is not None:
        said.append(f"the pack's {scenario.pack_current_rating:g} A")
    return tuple(said)


class NoDesign(ValueError):
    """A point of the domain that cannot be written."""


@dataclass(frozen=True, kw_only=True)
class Place:
    """A point of the domain, the nearest to what was asked: airspeed [m/s], power [W], indices."""

    airspeed: float
    power: float
    at: tuple[int, int]


def nearest(domain: Domain, *, airspeed: float, power: float) -> Place:
    """The point of a domain nearest to an airspeed [m/s] and a power [W].

    Raises
    ------
    NoDesign
        Outside the domain.
    """
    for value, axis, word, unit in ((airspeed, domain.airspeed, "airspeed", "m/s"),
                                    (power, domain.power, "power", "W")):
        if value < axis[0] * (1.0 - 1e-9) or value > axis[-1] * (1.0 + 1e-9):
            raise NoDesign(f"{word} {value:g} {unit} is outside the table [when], which goes from "
                           f"{axis[0]:g} to {axis[-1]:g} {unit}")
    row = int(np.argmin(np.abs(np.log(domain.power / power))))
    column = int(np.argmin(np.abs(domain.airspeed - airspeed)))
    return Place(airspeed=float(domain.airspeed[column]), power=float(domain.power[row]),
                 at=(row, column))


def write_design(scenario: Scenario, result: WhenResult, *, place: Place, name: str) -> str:
    """The text of a scenario with the best design of a kind at a point of the domain.

    Raises
    ------
    NoDesign
        Where the kind has no design within the limits there, or no such name.
    """
    if name not in result.best:
        raise NoDesign(f"no kind is called {name!r}; there are {', '.join(result.best)}")
    one, told = result.best[name], f"{place.airspeed:g} m/s and {place.power:.0f} W"
    if not np.isfinite(one.value[place.at]):
        raise NoDesign(f"no {name} at {told} is within every limit")
    return design_text(
        scenario, name=name, power=place.power,
        free={key: float(values[place.at]) for key, values in one.design.items()},
        title=f"Best {name} at {told}, sized by thrustlapse")


def design_text(scenario: Scenario, *, name: str, free: Mapping[str, float], power: float,
                title: str) -> str:
    """The text of a scenario with a design of a kind by its free variables in SI."""
    made = kinds(scenario)[name].built({key: np.array([value]) for key, value in free.items()},
                                       np.array([power]))
    tables = (expanded_tables(scenario.path) if scenario.path.is_file()
              else tomllib.loads(scenario.text))
    return sized_text(tables, name=name, template=kind_tables()[name], candidate=made.candidate,
                      unit_mass=float(made.unit_mass[0, 0]), power=power, title=title)
