"""Measured propellers predicted from their label and their highest static reading alone.

    python -m tests.rotor.label_propellers [--keep]

The label is diameter, pitch and blade count; the reading is thrust, shaft power and shaft speed of
the highest static point. Of every blade design nothing is used that it had a part in: the
section's constants are fitted to the other designs (``left_out_propellers``), and the generic
planform is the mean of the other blades that the package's is the mean of. Printed for each
propeller are rms errors over the measured peaks and the share of points, the reading itself apart,
that the stated 95 % band holds; then the same of a band as wide as the errors of the other designs.
``--keep`` writes the table beside this file.
"""

from __future__ import annotations

import csv
import sys
from collections.abc import Iterator
from dataclasses import replace
from itertools import combinations
from pathlib import Path

import numpy as np
from scipy.interpolate import PchipInterpolator

from tests.rotor.left_out_propellers import (
    SUSPECT,
    LeftOut,
    anchored_prediction,
    by_design,
    design,
    deviations,
    fitted_without,
    highest_static,
    inside,
    rms,
)
from tests.rotor.measured_propellers import Tested, measured_propellers
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads
from thrustlapse.rotor.propeller.error import LABELLED_BAND
from thrustlapse.rotor.propeller.geometry import (
    GENERIC_CHORD,
    GENERIC_PITCH_RATIO,
    GENERIC_STATIONS,
    UNKNOWN_SECTION,
    BladeGeometry,
    generic_blade,
)
from thrustlapse.rotor.stage_map import Band

KEPT = Path(__file__).with_suffix(".csv")
COLUMNS = ("propeller", "design", "points", "ct_rms_percent", "cp_rms_percent", "ct_held_percent",
           "cp_held_percent", "loading_rms_percent", "excess_rms_percent")
TWO_SIDED = 1.96


def shapes() -> dict[str, np.ndarray]:
    """Chord over tip radius and local over nominal pitch at the generic stations, by design."""
    found = {}
    for one in measured_propellers():
        blade, stations = one.geometry, np.array(GENERIC_STATIONS)
        assert blade.pitch is not None
        share = np.asarray(blade.radius) / blade.tip_radius
        chord, angle = (PchipInterpolator(share, values)(np.clip(stations, share[0], share[-1]))
                        for values in (blade.chord, blade.angle))
        found[design(one)] = np.stack([
            chord / blade.tip_radius,
            2.0 * np.pi * stations * blade.tip_radius * np.tan(angle) / blade.pitch])
    return found


def of_the_mean() -> tuple[str, ...]:
    """The five designs whose mean the generic planform is: those that come nearest to it."""
    own, known = np.stack([GENERIC_CHORD, GENERIC_PITCH_RATIO]), shapes()
    return min(combinations(sorted(known), 5), key=lambda names: float(np.sum(np.square(
        np.mean([known[name] for name in names], axis=0) - own))))


def labelled(one: Tested) -> BladeGeometry:
    """The propeller by its label, on a planform and a section that its design had no part in."""
    pitch = one.geometry.pitch
    assert pitch is not None
    known, five = shapes(), of_the_mean()
    chord, ratio = np.mean([known[name] for name in five if name != design(one)], axis=0)
    made = generic_blade(diameter=one.geometry.diameter, pitch=pitch, blades=one.geometry.blades)
    radius = np.asarray(made.radius)
    return replace(
        made, chord=chord * made.tip_radius, angle=np.arctan2(ratio * pitch, 2.0 * np.pi * radius),
        section=fitted_without(design(one))[UNKNOWN_SECTION])


def predicted(only: str = "") -> tuple[LeftOut, ...]:
    """Every propeller (of a design) by its label, scaled to its highest static reading."""
    found = []
    for one in measured_propellers():
        if one.name in SUSPECT or only not in ("", design(one)):
            continue
        loads = blade_loads(labelled(one), air=SEA_LEVEL, shaft_speed=one.shaft_speed,
                            advance_ratio=one.advance_ratio)
        found.append(anchored_prediction(LeftOut(
            name=one.name, design=design(one), tested=one, thrust=loads.thrust,
            power=loads.power)))
    return tuple(found)


def held(one: LeftOut, band: Band = LABELLED_BAND) -> np.ndarray:
    """Whether a band holds each point but the reading: (CT and CP, points)."""
    there = np.arange(one.thrust.size) != highest_static(one.tested)
    return np.stack([part[there] for part in inside(one, band, TWO_SIDED)])


def pooled(found: tuple[LeftOut, ...], *, own: bool) -> np.ndarray:
    """Share of all points held, CT and CP [-]: by the band that the package states (``own``), or
    by that of the errors of all other designs."""
    bands = {}
    for name in {one.design for one in found}:
        load, above = np.sqrt(np.mean([np.square(deviations(one)) for one in found
                                       if one.design != name], axis=0))
        bands[name] = LABELLED_BAND if own else replace(LABELLED_BAND, head=load, power=above)
    return np.asarray(np.concatenate([held(one, bands[one.design]) for one in found],
                                     axis=1).mean(axis=1))


def table(found: tuple[LeftOut, ...]) -> Iterator[dict[str, str]]:
    """Rows of the table."""
    for one in found:
        numbers = (*rms(one), *held(one).mean(axis=1), *deviations(one))
        yield dict(zip(COLUMNS, (one.name, one.design, str(held(one).shape[1]),
                                 *(f"{100.0 * number:.1f}" for number in numbers)), strict=True))


def summary(found: tuple[LeftOut, ...]) -> Iterator[str]:
    """Means over designs, and shares pooled."""
    yield "mean over designs of rms CT {:.1f} %, CP {:.1f} %".format(*100.0 * by_design(found))
    for own, words in ((True, "the stated 95 %"), (False, "95 % of the other designs' errors")):
        yield "pooled inside {}: CT {:.1f} %, CP {:.1f} %".format(
            words, *100.0 * pooled(found, own=own))


def main() -> None:
    """Print the table; ``--keep`` writes it too."""
    found = predicted()
    rows = list(table(found))
    for row in rows:
        print(*(f"{key} {value}" for key, value in row.items()), sep=", ")
    print("\n".join(summary(found)))
    if "--keep" in sys.argv:
        with KEPT.open("w", newline="", encoding="utf-8") as file:
            writer = csv.DictWriter(file, COLUMNS, lineterminator="\n")
            writer.writeheader()
            writer.writerows(rows)


if __name__ == "__main__":
    main()
