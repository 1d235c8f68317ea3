"""What every command needs: stop with words, read a quantity, write a file that is not there."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, NoReturn

import click

if TYPE_CHECKING:
    from concurrent.futures import Executor

    from thrustlapse.scenario.build.model import Scenario
    from thrustlapse.study.comparison import Comparison

FAULTY = 2
"""Exit code for anything wrong with what the person gave."""


class Place(click.Path):
    """A path given on the command line; an empty one would mean the current folder."""

    def __init__(self) -> None:
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None,
                ctx: click.Context | None) -> Any:
        if not str(value).strip():
            self.fail('an empty name; give a file or folder, "." for this folder', param, ctx)
        return super().convert(value, param, ctx)


def say(text: str, *, err: bool = False) -> None:
    """Print a text; what a terminal might obey is written out, since files have their say in it."""
    from thrustlapse.scenario.faults import printable

    told = "\n".join(map(printable, text.split("\n")))
    stream = sys.stderr if err else sys.stdout
    click.echo(_typed(told, stream.encoding), err=err)


PLAIN = str.maketrans({"±": "+-", "\u2212": "-", "–": "-", "²": "^2", "³": "^3", "·": " ", "×": "x",
                       "°": " deg ", "µ": "u", "…": "...", "“": '"', "”": '"', "’": "'"})
"""Signs that an old console cannot print, and what it prints in their place."""


def _typed(text: str, encoding: str | None) -> str:
    """A text in the signs that a console of an encoding has."""
    name = encoding or "utf-8"
    try:
        text.encode(name)
    except UnicodeEncodeError:
        return text.translate(PLAIN).encode(name, "replace").decode(name)
    return text


def stop(message: str) -> NoReturn:
    """Say what is wrong and leave, with no traceback."""
    say(message, err=True)
    raise SystemExit(FAULTY)


@contextmanager
def faults_told() -> Iterator[None]:
    """Within it, what is wrong with a file or folder of the person's stops the command in words."""
    from thrustlapse.report.atomic_write import ReportError
    from thrustlapse.scenario.faults import ScenarioError

    try:
        yield
    except (ScenarioError, ReportError) as error:
        stop(str(error))


def read(file: Path) -> Scenario:
    """The scenario of a file, or a stop that lists its faults."""
    from thrustlapse.scenario.files.read import read_scenario

    with faults_told():
        return read_scenario(file)


def compared(scenario: Scenario, helper: Executor | None = None) -> Comparison:
    """The comparison of a scenario; draws that break a rule between keys stop it in words."""
    from thrustlapse.study.compare import compare

    with faults_told():
        return compare(scenario, helper)


def written(answer: Comparison, scenario: Scenario, folder: Path,
            helper: Executor | None = None) -> Path:
    """A comparison as a folder of page, figures and data; the page's file."""
    from thrustlapse.report.comparison.write_up import write_report
    from thrustlapse.study.live_table import live_table

    with faults_told():
        return write_report(answer, folder, scenario_text=scenario.text,
                            live=live_table(scenario, answer), helper=helper)


def quantity(option: str, text: str, kind: str, *, low: float | None = None) -> float:
    """A quantity given on the command line, in SI, or a stop that says what is wrong with it."""
    from thrustlapse.scenario.units import KINDS, QuantityFault, to_si

    try:
        value = to_si(text, kind)
    except QuantityFault as fault:
        stop(f"{option} {text!r}: {fault}")
    if low is not None and value < low:
        stop(f"{option} {text!r}: must be at least {low:g} {KINDS[kind].unit}")
    return value


def spread_quantity(option: str, text: str, kind: str) -> tuple[float, float | None]:
    """A quantity with its standard deviation, None where it states none, or a stop."""
    from thrustlapse.scenario.readings.strobe_reading import with_deviation
    from thrustlapse.scenario.units import QuantityFault

    try:
        return with_deviation(text, kind)
    except QuantityFault as fault:
        stop(f"{option} {text!r}: {fault}")


def write_new(file: Path, text: str) -> None:
    """Write a file, never over an existing one."""
    try:
        with file.open("x", encoding="utf-8") as stream:
            try:
                stream.write(text)
                stream.flush()
            except BaseException:  # half a starter is worse than none
                file.unlink(missing_ok=True)
                raise
    except FileExistsError:
        stop(f"{file}: already there, and left as it is. Give another name.")
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        stop(f"{file}: cannot be written ({reason}). Give a folder you may write to.")
