"""What the command ``when`` needs: the point to write, where it goes, and a bar."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

from thrustlapse.scenario.units import QuantityFault, to_si
from thrustlapse.study.sizing.domain import Tell


class PointError(ValueError):
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


def design_place(folder: Path, point: Point) -> Path:
    """Where its scenario goes: beside the folder, which holds only what a write-up does."""
    return folder.with_name(
        f"{folder.name}-{point.name.replace(' ', '-')}-{point.airspeed:g}mps-{point.power:g}W.toml")


@contextmanager
def progress(terminal: bool) -> Iterator[Tell | None]:
    """A bar for each kind, on a terminal only."""
    if not terminal:
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress, TextColumn, TimeRemainingColumn

    bar = Progress(TextColumn("{task.description}"), BarColumn(),
                   TextColumn("{task.percentage:.0f} %"), TimeRemainingColumn(),
                   console=Console(stderr=True))
    tasks: dict[str, object] = {}
    with bar:
        def tell(kind: str, share: float) -> None:
            if kind not in tasks:
                tasks[kind] = bar.add_task(kind, total=1.0)
            bar.update(tasks[kind], completed=share)  # type: ignore[arg-type]

        yield tell
