"""One word per quantity: every field of every result has one, with the unit its key carries."""

from __future__ import annotations

import ast
import math
import re
import typing
from dataclasses import fields, is_dataclass
from pathlib import Path
from typing import Any

import pytest

import thrustlapse.glossary as glossary
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.report.comparison.results_file import CURVE_COLUMNS
from thrustlapse.report.comparison.terminal import POINT_WORDS
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flight_study_record import FlightStudy
from thrustlapse.study.uncertainty_results import UncertaintyStudy


def records(kind: Any, found: set[type] | None = None) -> set[type]:
    """Every dataclass reachable from a type."""
    found = set() if found is None else found
    if is_dataclass(kind) and isinstance(kind, type) and kind not in found:
        found.add(kind)
        for hint in typing.get_type_hints(kind).values():
            records(hint, found)
    for inner in typing.get_args(kind):
        records(inner, found)
    return found


def test_every_field_of_every_result_has_a_word() -> None:
    # statistics of quantities have names of their own kind, told in study/uncertainty_results.py
    # and those of flights in study/flight_study_record.py
    told = records(Comparison) - records(UncertaintyStudy) - records(FlightStudy)
    names = {item.name for record in told for item in fields(record)}
    assert len(names) > 100
    assert names - set(glossary.QUANTITIES) == set()


@pytest.mark.parametrize("name", [*CURVE_COLUMNS, *POINT_WORDS])
def test_columns_are_words_of_an_operating_point(name: str) -> None:
    assert hasattr(OperatingPoint, name) or name in {item.name for item in fields(OperatingPoint)}
    assert glossary.quantity(name).name == name


def test_keys_are_distinct_and_fit_for_any_language() -> None:
    keys = [word.key for word in glossary.QUANTITIES.values()]
    assert len(set(keys)) == len(keys)
    assert all(re.fullmatch(r"[A-Za-z][A-Za-z0-9_]*", key) for key in keys)


# names agreed with those who read the files
@pytest.mark.parametrize(("name", "key"), [
    ("airspeed", "airspeed_m_s"), ("net_thrust", "net_thrust_N"),
    ("electrical_power", "electrical_power_W"), ("shaft_power", "shaft_power_W"),
    ("shaft_speed", "shaft_speed_rad_s"), ("mass_flow", "mass_flow_kg_s"),
    ("jet_speed", "jet_speed_m_s"), ("installed_thrust", "installed_thrust_N"),
    ("top_speed", "top_speed_m_s"), ("drag_area_threshold", "drag_area_threshold_m2"),
    ("drive_limit", "drive_limit"), ("severity", "severity"), ("flags", "flags"),
    ("pressure_ratio", "pressure_ratio"), ("torque", "torque_N_m"), ("density", "density_kg_m3"),
])
def test_agreed_keys(name: str, key: str) -> None:
    assert glossary.key(name) == key


# by definition of the units: 1 rpm = 2 pi / 60 rad/s, 0 degC = 273.15 K
@pytest.mark.parametrize(("name", "value", "shown"), [
    ("shaft_speed", 75e3 * 2.0 * math.pi / 60.0, 75.0), ("temperature", 288.15, 15.0),
    ("mass_flow", 0.0241, 24.1), ("diameter", 0.019, 19.0), ("drag_area", 0.0032, 32.0),
    ("pressure", 101325.0, 101.325), ("duty", 0.64, 64.0), ("installed_mass", 0.62, 620.0),
    ("torque", 0.047, 47.0), ("net_thrust", 2.5, 2.5),
])
def test_people_read_other_units(name: str, value: float, shown: float) -> None:
    assert glossary.display(name, value) == pytest.approx(shown, rel=1e-12)


def test_an_unknown_word_says_where_words_belong() -> None:
    with pytest.raises(KeyError, match="glossary"):
        glossary.quantity("thurst")


def test_the_glossary_imports_nothing_of_the_package() -> None:
    tree = ast.parse(Path(glossary.__file__).read_text(encoding="utf-8"))
    sources = {node.module for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)}
    assert not any((source or "").startswith("thrustlapse") for source in sources)
