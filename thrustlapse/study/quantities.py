"""What an evaluation is asked for: a field of its operating points, or an entry here."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.strength import OVERSPEED
from thrustlapse.study.evaluate import Evaluation
from thrustlapse.study.limits.rotor import material, stress


def _tip_speed(done: Evaluation) -> Array:
    unit = done.cases.candidate.unit
    diameter = unit.rotor.tip_diameter if isinstance(unit, Ducted) else unit.diameter
    return np.asarray(0.5 * done.curve.shaft_speed * diameter)


def _stress_margin(done: Evaluation) -> Array:
    """Strength over stress at 115 % of the fastest speed, running or blocked [-].

    NaN where no material is given, and for propellers, for which no strength is known here.
    """
    found, stuff = stress(done.states), material(done.states)
    columns = done.curve.shape[-1]
    if found is None or stuff is None:
        return np.full((done.cases.count, columns), np.nan)
    shut = np.fmax.reduce(found[..., -2:], axis=-1)[..., None]
    fastest = np.fmax(found[..., 1:1 + columns], shut)
    return np.asarray(stuff.strength / (fastest * OVERSPEED**2))


OF_EVALUATION: dict[str, Callable[[Evaluation], Values]] = {
    "static_thrust": lambda done: done.rest.installed_thrust,
    "top_speed": lambda done: done.top_speed[:, None],
    "spare_thrust": lambda done: done.cases.spare(done.curve),
    "thrust_per_mass": lambda done: (done.curve.installed_thrust
                                     / done.cases.candidate.installed_mass),
    "tip_speed": _tip_speed,
    "stress_margin": _stress_margin,
    "installed_mass": lambda done: done.cases.candidate.installed_mass,
    "frontal_area": lambda done: (done.cases.candidate.count
                                  * np.asarray(done.cases.candidate.installation.frontal_area)),
}
"""Quantities that are no field of an operating point, of shape (case, airspeed) or (case, 1)."""


def value_of(name: str, done: Evaluation) -> Array:
    """A quantity of the glossary over the cases, (case, airspeed) or (case, 1)."""
    found = OF_EVALUATION.get(name)
    return np.asarray(getattr(done.curve, name) if found is None else found(done), dtype=float)
