"""Measured propellers beside their prediction by blade elements.

    table = compare_measured()             # the extract in tests/authorities
    print(as_text(table))

Nothing here is fitted: the section of each blade is looked up by name, blade angles are those
measured, with the nominal pitch (see ``propeller_geometry.PITCH_WEIGHT``).
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from tests.authority import rows
from thrustlapse.air.atmosphere import Air
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads
from thrustlapse.rotor.propeller.geometry import UNKNOWN_SECTION, BladeGeometry, generic_blade

INCH = 0.0254

KNOWN_SECTIONS = {"9x5.68": "clark y", "9x6.75": "thin moderate", "5x3.75": "thin moderate"}
"""Blades whose section is known: Clark Y from NACA TR 640, the other from memory only."""

SUSPECT = ("9x5.68 3 blades",)
"""Propellers whose data their own table warns about."""

Line = Mapping[str, Any]


@dataclass(frozen=True, kw_only=True)
class Comparison:
    """One propeller, one kind of test: root-mean-square and mean error over the peak [-].

    ``peak`` values are the largest measured CT and CP of the propeller, of all its tests.
    """

    propeller: str
    section: str
    test: str
    points: int
    thrust_rms: float
    thrust_mean: float
    power_rms: float
    power_mean: float


@dataclass(frozen=True, kw_only=True)
class Tested:
    """What was measured of one propeller, with its geometry."""

    name: str
    geometry: BladeGeometry
    shaft_speed: np.ndarray
    advance_ratio: np.ndarray
    thrust: np.ndarray
    power: np.ndarray


def measured_propellers(*, blades: Iterable[Line] | None = None,
                        tests: Iterable[Line] | None = None) -> list[Tested]:
    """Propellers of two tables with the columns of ``propeller_blades`` and ``propeller_tests``."""
    stations: dict[str, list[Line]] = {}
    for line in rows("propeller_blades") if blades is None else blades:
        stations.setdefault(str(line["blade"]), []).append(line)
    points: dict[str, list[Line]] = {}
    for line in rows("propeller_tests") if tests is None else tests:
        points.setdefault(str(line["propeller"]), []).append(line)
    return [_tested(name, lines, stations[str(lines[0]["blade"])])
            for name, lines in points.items()]


def _tested(name: str, lines: list[Line], stations: list[Line]) -> Tested:
    def column(source: list[Line], key: str) -> np.ndarray:
        return np.array([float(line[key]) for line in source])

    first, tip = lines[0], 0.5 * float(lines[0]["diameter_in"]) * INCH
    geometry = BladeGeometry(
        diameter=2.0 * tip, blades=int(first["blades"]), radius=column(stations, "r_over_R") * tip,
        chord=column(stations, "c_over_R") * tip,
        angle=np.deg2rad(column(stations, "angle_deg")),
        section=KNOWN_SECTIONS.get(str(first["blade"]), UNKNOWN_SECTION),
        pitch=float(first["pitch_in"]) * INCH)
    return Tested(name=name, geometry=geometry,
                  shaft_speed=column(lines, "rpm_1min") * np.pi / 30.0,
                  advance_ratio=column(lines, "J"), thrust=column(lines, "CT"),
                  power=column(lines, "CP"))


def only_diameter_and_pitch(tested: Tested) -> BladeGeometry:
    """The same propeller, as somebody without calipers would describe it."""
    pitch = tested.geometry.pitch
    assert pitch is not None
    return generic_blade(diameter=tested.geometry.diameter, pitch=pitch,
                         blades=tested.geometry.blades)


def compare_measured(tested: Iterable[Tested] | None = None, *, air: Air = SEA_LEVEL,
                     geometry: Callable[[Tested], BladeGeometry] = lambda t: t.geometry,
                     ) -> list[Comparison]:
    """Predicted against measured: three lines a propeller (static, tunnel, all)."""
    table = []
    for one in measured_propellers() if tested is None else tested:
        blade = geometry(one)
        found = blade_loads(blade, air=air, shaft_speed=one.shaft_speed,
                            advance_ratio=one.advance_ratio)
        thrust = (found.thrust - one.thrust) / one.thrust.max()
        power = (found.power - one.power) / one.power.max()
        at_rest = one.advance_ratio == 0.0
        for test, chosen in (("static", at_rest), ("tunnel", ~at_rest),
                             ("all", np.ones_like(at_rest))):
            table.append(Comparison(
                propeller=one.name, section=str(blade.section), test=test,
                points=int(chosen.sum()), thrust_rms=_rms(thrust[chosen]),
                thrust_mean=float(np.mean(thrust[chosen])), power_rms=_rms(power[chosen]),
                power_mean=float(np.mean(power[chosen]))))
    return table


def _rms(values: np.ndarray) -> float:
    return float(np.sqrt(np.mean(np.square(values))))


def as_text(table: Iterable[Comparison]) -> str:
    """The comparison as a Markdown table, in per cent of the peak."""
    lines = ["| propeller | section | test | points | CT rms | CT mean | CP rms | CP mean |",
             "| --- | --- | --- | --- | --- | --- | --- | --- |"]
    for one in table:
        lines.append(f"| {one.propeller} | {one.section} | {one.test} | {one.points} "
                     f"| {100 * one.thrust_rms:.1f} | {100 * one.thrust_mean:+.1f} "
                     f"| {100 * one.power_rms:.1f} | {100 * one.power_mean:+.1f} |")
    return "\n".join(lines)
