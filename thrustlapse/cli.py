"""Commands: parse, call, print. Everything heavy is imported inside the command that needs it."""

from __future__ import annotations

import gc
import json
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from difflib import get_close_matches
from pathlib import Path
from typing import TYPE_CHECKING

import click

from thrustlapse import __version__
from thrustlapse.commands import bench_fit  # noqa: F401 - adds a command to the bench
from thrustlapse.commands.bench import bench
from thrustlapse.commands.console import Place, compared, faults_told, say, write_new, written
from thrustlapse.commands.console import quantity as _quantity
from thrustlapse.commands.console import read as _read
from thrustlapse.commands.console import stop as _stop
from thrustlapse.commands.evidence import evidence, following
from thrustlapse.commands.figure import figure
from thrustlapse.commands.live import live
from thrustlapse.commands.log import log
from thrustlapse.commands.reproduce import reproduce
from thrustlapse.commands.workers import long_work, worker_options

if TYPE_CHECKING:
    from thrustlapse.scenario.build.model import Scenario

SCENARIO = Place()


@click.group(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 96})
@click.version_option(__version__, prog_name="thrustlapse")
def main() -> None:
    """Does a high-pressure blower win at high airspeed, and can the aircraft get there?

    Describe the machines, the pack and the airframe in one scenario file, in everyday units, and
    compare centrifugal blowers, ducted fans and propellers on an equal footing.

    \b
    First steps:
      thrustlapse new mine.toml            your machine, from a scale and a wattmeter
      thrustlapse check mine.toml          is every number usable?
      thrustlapse compare mine.toml        the answer, as a page, figures and data
      thrustlapse point mine.toml --candidate NAME --airspeed "40 m/s"
      thrustlapse live mine.toml           the same with handles, in your browser
      thrustlapse figure mine.toml --size column      the thrust figure for a paper
      thrustlapse bench new mine.csv       a file for readings of your own machine
      thrustlapse next mine.toml           what to measure next to settle the verdict

    The answer is an estimate. It clears nothing to run and nothing to fly.
    """
    # what is loaded and drawn is many small parts that live to the end: looking through them for
    # garbage again and again costs a fifteenth of a short command
    gc.set_threshold(200_000)


main.add_command(bench)
main.add_command(log)
main.add_command(live)
main.add_command(figure)
main.add_command(evidence)
main.add_command(following)
main.add_command(reproduce)


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--out", "folder", type=Place(), default=None,
              help="Folder for the write-up  [default: the scenario's name + '-report']")
def compare(file: Path, folder: Path | None) -> None:
    """Compare all candidates of FILE and write the answer up.

    Writes index.html (the page), results.json (every number), curves.csv and figures/ into the
    folder, and prints the verdict.
    """
    from thrustlapse.study.helper import helper

    folder = folder or Path(f"{file.stem}-report")
    with helper("thrustlapse.study.compare", "scipy.stats",
                "thrustlapse.report.comparison.figures") as other, \
            _progress("reading the scenario") as step:
        scenario = _read(file)
        step("matching the candidates")
        answer = compared(scenario, other)
        step("writing the report")
        page = written(answer, scenario, folder, other)
    from thrustlapse.report.comparison.terminal import summary_lines

    for line in summary_lines(answer):
        say(line)
    say(f"\nwritten: {page}")


@main.command()
@click.argument("file", type=SCENARIO)
def check(file: Path) -> None:
    """Check FILE and list every fault at once: line, key, value, what is accepted."""
    scenario = _read(file)
    names = ", ".join(scenario.candidates)
    say(f"{file}: good. Candidates: {names}.")
    from thrustlapse.scenario.files.doubts import starters_left

    for line in dict.fromkeys((*scenario.doubts, *starters_left(scenario.text))):
        say(f"  {line}")
    if scenario.airframe is not None and scenario.aircraft_use is not None:
        from thrustlapse.report.aircraft.airframe_lines import airframe_lines

        for line in airframe_lines(scenario.airframe, scenario.aircraft_use.drag_basis):
            say(f"  airframe: {line}")
    for candidate in scenario.candidates.values():
        for assumption in candidate.assumptions:
            say(f"  {candidate.name}: assumed {assumption}")
    from thrustlapse.report.uncertainty.register_lines import register_lines

    for line in register_lines(scenario.assumed):
        say(f"  {line}")


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--candidate", required=True, metavar="NAME", help="Which candidate of the file")
@click.option("--airspeed", required=True, metavar="SPEED", help='Such as "40 m/s" or "140 km/h"')
@click.option("--altitude", default=None, metavar="HEIGHT",
              help='Such as "100 m"; the site\'s own if not given')
@click.option("--json", "as_json", is_flag=True, help="Print every quantity as JSON")
def point(file: Path, candidate: str, airspeed: str, altitude: str | None, as_json: bool) -> None:
    """One operating point of one candidate, as a table or as JSON."""
    scenario = _read(file)
    _known(scenario, candidate, file)
    speed = _quantity("--airspeed", airspeed, "speed", low=0.0)
    height = None if altitude is None else _quantity("--altitude", altitude, "length")
    from thrustlapse.propulsor.candidate import operate
    from thrustlapse.report.comparison.terminal import point_record, point_table

    result = operate(scenario.candidates[candidate], airspeed=speed, altitude=height)
    if as_json:
        say(json.dumps(point_record(result, candidate), indent=2, allow_nan=False))
        return
    for line in point_table(result, candidate):
        say(line)


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--candidate", required=True, metavar="NAME", help="Which candidate of the file")
@click.option("--out", "folder", type=Place(), default=None,
              help="Folder for the files  [default: the candidate's name + '-machine']")
@click.option("--section", type=click.Choice(["circular", "rectangular"]), default="circular",
              show_default=True, help="Section of the scroll to lay out")
@click.option("--schedule", type=click.Choice(["free vortex", "constant speed"]),
              default="free vortex", show_default=True, help="How the scroll grows")
@click.option("--finish", default="resin print", show_default=True,
              help="Finish of the scroll, such as \"filament print, fine layers\"")
def machine(file: Path, candidate: str, folder: Path | None, section: str, schedule: str,
            finish: str) -> None:
    """Lay the machine of one candidate open: map, losses at every flow, scroll.

    Writes map.csv; for a map computed from dimensions losses.svg and losses.png; for an impeller
    scroll.csv, scroll.svg and scroll.dxf in millimetres, to bring into a drawing program: a scroll
    that suits the wheel at its best flow, not the one whose areas the scenario gives.
    """
    scenario = _read(file)
    _known(scenario, candidate, file)
    from thrustlapse.report.machine.files import machine_lines, write_machine
    from thrustlapse.rotor.wall_friction import FINISHES
    from thrustlapse.study.machine import study_machine

    if finish not in FINISHES:
        _stop(f"--finish {finish!r}: expected one of {', '.join(FINISHES)}")
    folder = folder or Path(f"{candidate}-machine")
    with faults_told():
        study = study_machine(scenario.candidates[candidate], scenario.dimensions.get(candidate),
                              air=scenario.site.air(), section=section, schedule=schedule,
                              finish=finish)
        files = write_machine(study, folder)
    for line in machine_lines(study):
        say(line)
    say(f"\nwritten to {folder}: {', '.join(files)}")


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--long", "whole", is_flag=True, help="The long starter with every key there is")
@click.option("--ask/--no-ask", "asked", default=None,
              help="Seven questions, on a terminal alone; unless given, you may choose there")
def new(file: Path, whole: bool, asked: bool | None) -> None:
    """Write a short commented scenario to FILE (never over an existing file).

    It holds a machine by what a scale, a wattmeter and a ruler say of it. On a terminal seven
    questions fill it in, if wanted; elsewhere nothing is asked, and its numbers are invented.
    """
    from thrustlapse.commands.questions import ask, on_a_terminal
    from thrustlapse.scenario.files.short import short_starter_text, short_text
    from thrustlapse.scenario.files.starter import starter_text

    if whole and asked:
        _stop("--long and --ask: give one of them")
    if asked and not on_a_terminal():
        _stop("--ask: there is no terminal to ask on; leave it out for a starter to change")
    if file.exists():
        _stop(f"{file}: already there, and left as it is. Give another name.")
    if asked is None and not whole and on_a_terminal():
        asked = click.confirm("Seven questions, to fill it in?", default=True)
    write_new(file, starter_text() if whole else short_text(ask()) if asked
              else short_starter_text())
    say(f"{file}: written. " + ("Then" if asked else "Change it, then")
        + f": thrustlapse check {file}")


@main.command()
def schema() -> None:
    """Print the JSON Schema of scenario files, so that an editor completes and checks them."""
    from thrustlapse.scenario.files.json_schema import schema_json

    say(json.dumps(schema_json(), indent=2))


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--out", "folder", type=Place(), required=True,
              help="Folder for the numbers and the write-up; a new one unless resuming")
@worker_options
@click.option("--netcdf", is_flag=True, help="Write all numbers as netCDF-3 files too")
def search(file: Path, folder: Path, processes: int, cluster: str | None, resume: bool,
           netcdf: bool) -> None:
    """Search many designs: the table [search] of FILE says what varies and what counts.

    Every number goes into chunks/ of the folder, with manifest.json to say what it is; then the
    best designs, the trade-off and the kind of machine that wins where are written up in
    index.html, search.json, best.csv, front.csv and figures/. An interrupted search goes on with
    --resume and ends with the same content; so it does on any number of processes.
    """
    scenario = _read(file)
    from thrustlapse.report.search.bar import progress
    from thrustlapse.report.search.files import write_netcdf, write_search
    from thrustlapse.report.search.words import terminal_lines
    from thrustlapse.search import NoSearch, search_scenario

    try:
        with long_work(f"thrustlapse search {file} --out {folder} --resume", processes=processes,
                       cluster=cluster):
            with progress(sys.stderr.isatty()) as tell:
                store, result = search_scenario(scenario, folder, processes=processes,
                                                cluster=cluster, resume=resume, tell=tell)
            page = write_search(result, folder, scenario_text=scenario.text)
            more = write_netcdf(store, folder) if netcdf else []
    except NoSearch as error:
        _stop(f"{file}: {error}")
    for line in terminal_lines(result):
        say(line)
    say(f"\nwritten: {page}" + "".join(f", {path}" for path in more))


@main.command()
@click.argument("file", type=SCENARIO)
@click.option("--out", "folder", type=Place(), required=True,
              help="Folder for the numbers and the write-up; one that holds this very study is "
              "gone on with")
@worker_options
@click.option("--rough", is_flag=True, help="A first look alone: few designs, marked as not "
              "settled")
@click.option("--write", "point", metavar='"40 m/s, 400 W, blower"', default=None,
              help="Also write the best design of a kind at a point as a scenario, into the "
              "folder beside the write-up's")
def when(file: Path, folder: Path, processes: int, cluster: str | None, resume: bool, rough: bool,
         point: str | None) -> None:
    """Size every kind of machine anew over airspeed and power: when would the blower win?

    The aircraft, pack and site are those of FILE; its table [when] gives the domain and what all
    designs are held to, and may be left out. Writes index.html, when.json and figures/: first a
    rough look, within seconds, then the whole. What is worked out is kept in chunks/ as soon as it
    is done, with manifest.json to say what it is. An interrupted study goes on with --resume and
    ends with the same numbers; so it does on any number of processes, or on a cluster.
    """
    scenario = _read(file)
    from thrustlapse.commands.sizing import SizingError, run_when

    try:
        with long_work(f"thrustlapse when {file} --out {folder} --resume", processes=processes,
                       cluster=cluster):
            lines = run_when(scenario, folder, rough=rough, point=point, processes=processes,
                             cluster=cluster, resume=resume, terminal=sys.stderr.isatty())
    except SizingError as error:
        _stop(f"{file}: {error}")
    for line in lines:
        say(line)


def _known(scenario: Scenario, candidate: str, file: Path) -> None:
    if candidate in scenario.candidates:
        return
    near = get_close_matches(candidate, scenario.candidates, n=1)
    hint = f" Did you mean {near[0]!r}?" if near else ""
    _stop(f"--candidate {candidate!r}: {file} has {', '.join(scenario.candidates)}.{hint}")


@contextmanager
def _progress(first: str) -> Iterator[Callable[[str], None]]:
    """A line on a terminal that says what is being done; silent elsewhere."""
    if not sys.stderr.isatty():
        yield lambda _: None
        return
    from rich.console import Console

    with Console(stderr=True).status(first) as status:
        yield lambda text: status.update(text)
