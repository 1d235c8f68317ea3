"""Stress in the rotor at the fastest it turns, running, flown or shut, against its material."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.strength import (
    FORMS,
    MATERIALS,
    OVERSPEED,
    RotorMaterial,
    limit_tip_speed,
    rotor_stress,
)
from thrustlapse.study.comparison import Finding
from thrustlapse.study.limits.limit import ANY_NUMBER, Limit, Reading
from thrustlapse.study.limits.states import States

STRESS_MARGIN = 2.0
"""Strength over stress below which a rotor deserves a shielded spin test (common practice)."""

WHERE = {-2: "with the inlet blocked", -1: "with the outlet blocked"}
"""States of a shut machine by their place from the end of :func:`speeds`."""


def speeds(states: States) -> Array | None:
    """Shaft speeds of a ducted rotor, running and last the two shut ones, (case, element) [rad/s].

    Nothing is known here of what a propeller stands.
    """
    shut = states.shut
    if shut is None:
        return None
    running = states.each("shaft_speed")
    cases = np.broadcast_shapes(running.shape[:-1], shut.shaft_speed.shape[:-1])
    return np.concatenate([np.broadcast_to(part, (*cases, part.shape[-1]))
                           for part in (running, shut.shaft_speed)], axis=-1)


def tip_speeds(states: States) -> Array | None:
    """Tip speeds of a ducted rotor where :func:`speeds` are finite [m/s]."""
    found, unit = speeds(states), states.candidate.unit
    if found is None or not isinstance(unit, Ducted):
        return None
    return np.asarray(0.5 * np.asarray(unit.rotor.tip_diameter)
                      * np.where(np.isinf(found), np.nan, found))


def material(states: States) -> RotorMaterial | None:
    """What the rotor is made of, where that is said."""
    name = states.candidate.ratings.rotor_material
    return None if name is None else MATERIALS[name]


def stress(states: States) -> Array | None:
    """Stress at each of :func:`speeds` [Pa]."""
    stuff, tips, ratings = material(states), tip_speeds(states), states.candidate.ratings
    if stuff is None or tips is None:
        return None
    return rotor_stress(stuff, tip_speed=tips, bore_ratio=ratings.rotor_bore_ratio,
                        form=ratings.rotor_form)


def _strength(states: States) -> Values | None:
    stuff = material(states)
    return None if stuff is None else stuff.strength


def _stress_words(at: Reading) -> str:
    ratings, tips, stuff = at.states.candidate.ratings, tip_speeds(at.states), material(at.states)
    assert tips is not None
    assert stuff is not None
    return (f"rotor stress about {at.value / 1e6:.0f} MPa at {np.ravel(tips)[at.place]:.0f} m/s "
            f"tip speed {WHERE.get(at.place, 'running')}, {at.value * OVERSPEED**2 / 1e6:.0f} MPa "
            f"at 115 % of it, against {stuff.strength / 1e6:.0f} MPa for {ratings.rotor_material}"
            + (f"; {stuff.printing}" if stuff.printing else ""))


def _stress_source(at: Reading) -> str:
    stuff = material(at.states)
    assert stuff is not None
    return (f"{stuff.strength_kind}, typical value from memory; "
            f"{FORMS[at.states.candidate.ratings.rotor_form]}; 115 % as in API 617")


def _stress_remedy(at: Reading) -> str:
    stuff, ratings = material(at.states), at.states.candidate.ratings
    assert stuff is not None
    allowed = float(np.min(limit_tip_speed(stuff, bore_ratio=ratings.rotor_bore_ratio,
                                           form=ratings.rotor_form)))
    return f"keep the tip below {allowed / OVERSPEED:.0f} m/s; shield the plane of rotation"


def _no_material(states: States) -> Finding | None:
    tips = tip_speeds(states)
    if tips is None or not np.isfinite(tips).any():
        return None  # an open rotor, or the drive cannot turn it, and another finding says so
    flat = np.ravel(tips)
    place = int(np.nanargmax(flat))
    return Finding(rank="check", subject=states.candidate.name, value=float(flat[place]),
                   limit=None, unit="m/s", text=f"the rotor's tip reaches {flat[place]:.0f} m/s "
                   f"{WHERE.get(place - flat.size, 'running')}",
                   about="no material is given to check it against",
                   change="name the rotor's material in the scenario")


LIMITS = (
    Limit(name="rotor stress", unit="Pa", value=stress, bound=_strength,
          meaning="the rotor's stress at 115 % of its fastest speed, blocked or running, exceeds "
                  "its material's strength",
          ranks={"stop": 1.0 - 1.0 / OVERSPEED**2, "check": 1.0 - 1.0 / STRESS_MARGIN,
                 "note": np.inf},
          text=_stress_words, source=_stress_source, remedy=_stress_remedy, unrated=_no_material),
    Limit(name="runaway", meaning="nothing holds the shaft speed of the shut machine",
          unit="rad/s", value=speeds, bound=lambda _: ANY_NUMBER, ranks={"stop": 0.0},
          text=lambda at: f"nothing holds the shaft speed {WHERE.get(at.place, 'running')}: the "
                          "map takes no power without flow, and the drive has no voltage or speed "
                          "limit of its own", source="",
          remedy="give the map a power without flow, or the drive a speed_limit"),
)
