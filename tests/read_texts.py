"""Bench files and flight logs from a text."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TypeVar

from thrustlapse.aircraft.flight_log import FlightLog
from thrustlapse.bench.readings import BenchReadings
from thrustlapse.scenario.readings.bench_file import read_bench
from thrustlapse.scenario.readings.log_file import read_log

R = TypeVar("R")


def bench_of_text(text: str) -> BenchReadings:
    """Readings of a bench file's text."""
    return _read(text, read_bench)


def log_of_text(text: str) -> FlightLog:
    """Readings of a flight log's text."""
    return _read(text, read_log)


def _read(text: str, read: Callable[[Path], R]) -> R:
    with TemporaryDirectory() as folder:
        file = Path(folder) / "readings.csv"
        file.write_text(text, encoding="utf-8", newline="")
        return read(file)
