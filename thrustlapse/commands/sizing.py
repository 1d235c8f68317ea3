"""The command ``when``: the point to write, where it goes, a bar, and the work."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console
from rich.progress import BarColumn, Progress, TaskID, TextColumn, TimeRemainingColumn

from thrustlapse.commands.console import say, write_new
from thrustlapse.report.number_format import sentence
from thrustlapse.report.sizing.words import headline, sentences
from thrustlapse.report.sizing.write_up import write_when
from thrustlapse.rotor.stage_map import NoMap
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.units import QuantityFault, to_si
from thrustlapse.sizing import NoDesign, Place, domain_of, nearest, when, write_design
from thrustlapse.study.chunk_folder import MANIFEST
from thrustlapse.study.sizing.domain import Tell, WhenResult
from thrustlapse.study.sizing.walk import ROUGH


class SizingError(ValueError):
    """A study that cannot be made or written, in words."""


class PointError(SizingError):
    """A point that cannot be read."""


@dataclass(frozen=True, kw_only=True)
class Point:
    """An airspeed [m/s], a power [W] and a kind."""

    airspeed: float
    power: float
    name: str


def read_point(text: str) -> Point:
    """The point of ``40 m/s, 400 W, blower``.

    Raises
    ------
    PointError
    """
    parts = [part.strip() for part in text.split(",")]
    if len(parts) != 3:
        raise PointError(f'--write {text!r}: three parts are wanted, such as "40 m/s, 400 W, '
                         'blower"')
    try:
        return Point(airspeed=to_si(parts[0], "speed"),
                     power=to_si(parts[1], "power"), name=parts[2])
    except QuantityFault as error:
        raise PointError(f"--write {text!r}: {error}") from None


def design_file(folder: Path, place: Place, name: str) -> Path:
    """Where its scenario goes: beside the folder, which holds only what a write-up does."""
    return folder.with_name(f"{folder.name}-{name.replace(' ', '-')}-{place.airspeed:.3g}mps-"
                            f"{place.power:.0f}W.toml")


@contextmanager
def progress(terminal: bool) -> Iterator[Tell | None]:
    """A bar for each kind, on a terminal only."""
    if not terminal:
        yield None
        return
    bar = Progress(TextColumn("{task.description}"), BarColumn(),
                   TextColumn("{task.percentage:.0f} %"), TimeRemainingColumn(),
                   console=Console(stderr=True))
    tasks: dict[str, TaskID] = {}
    with bar:
        def tell(kind: str, share: float) -> None:
            if kind not in tasks:
                tasks[kind] = bar.add_task(kind, total=1.0)
            bar.update(tasks[kind], completed=share)

        yield tell


def run_when(scenario: Scenario, folder: Path, *, rough: bool = False, point: str | None = None,
             processes: int = 1, cluster: str | None = None, resume: bool = False,
             terminal: bool = False) -> tuple[str, ...]:
    """Make the study, write it up, and say what was found.

    A first look is written before, with a word; on a ``terminal`` a bar shows how it is refined.

    Raises
    ------
    SizingError, StoreError, ClusterError, ReportError
    """
    asked = None if point is None else read_point(point)
    looked = _looked(folder, rough=rough, resume=resume)

    def look(first: WhenResult) -> None:
        page = write_when(first, folder, scenario_text=scenario.text)
        say(f"a first look, which is refined now: {page}", err=True)

    try:
        if asked is not None:  # before the work, not after it
            nearest(domain_of(scenario), airspeed=asked.airspeed, power=asked.power)
        with progress(terminal) as tell:
            result = when(scenario, plan=ROUGH if rough else None, processes=processes,
                          cluster=cluster, folder=None if rough else folder, resume=resume,
                          tell=tell, look=None if looked else look)
        written = [str(write_when(result, folder, scenario_text=scenario.text))]
        if asked is not None:
            at = nearest(result.domain, airspeed=asked.airspeed, power=asked.power)
            file = design_file(folder, at, asked.name)
            write_new(file, write_design(scenario, result, place=at, name=asked.name))
            written.append(str(file))
    except (NoDesign, NoMap) as error:
        raise SizingError(str(error)) from None
    return (sentence(headline(result)), *sentences(result), "", f"written: {', '.join(written)}")


def _looked(folder: Path, *, rough: bool, resume: bool) -> bool:
    """Whether no first look is wanted before the work: it is the work, or an earlier run's is
    there."""
    begun = (folder / MANIFEST).exists()
    if rough and begun:
        raise SizingError(f"--rough: {folder} holds a whole study; give another folder")
    if rough and resume:
        raise SizingError("--rough: a first look takes seconds, and is not gone on with; leave "
                          "--resume out")
    return rough or (begun and (folder / "index.html").exists())
