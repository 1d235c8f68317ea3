"""Stress in the rotor at the fastest it turns, running, flown or shut, against its material."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.propulsor.blocked import blocked_speeds
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.rotor.strength import (
    FORMS,
    MATERIALS,
    OVERSPEED,
    limit_tip_speed,
    rotor_stress,
)
from thrustlapse.study.comparison import CandidateResult, Finding
from thrustlapse.study.limits.states import States, largest

STRESS_MARGIN = 2.0
"""Strength over stress below which a rotor deserves a shielded spin test (common practice)."""


def rotor_findings(result: CandidateResult, candidate: Candidate, states: States
                   ) -> Iterator[Finding]:
    """Stress of a ducted rotor; nothing is known here of what a propeller stands."""
    unit = candidate.unit
    if not isinstance(unit, Ducted):
        return
    radius = 0.5 * float(np.max(np.asarray(unit.rotor.tip_diameter)))
    running = largest(states.shaft_speed)
    air = candidate.site.air()
    outlet, inlet = (float(np.max(speed)) for speed in blocked_speeds(
        unit, pressure=air.pressure, temperature=air.temperature))
    known = [speed for speed in (running, outlet, inlet) if not np.isnan(speed)]
    if not known:
        return  # the drive cannot turn it, and another finding says so
    fastest = max(known)
    tip = radius * fastest
    where = ("with the inlet blocked" if fastest == inlet and inlet > running
             else "with the outlet blocked" if fastest == outlet and outlet > running
             else "running")
    if np.isinf(fastest):
        yield Finding(rank="stop", subject=result.name, value=None, limit=None, unit="",
                      text=f"nothing holds the shaft speed {where}: the map takes no power without "
                           "flow, and the drive has no voltage or speed limit of its own",
                      change="give the map a power without flow, or the drive a speed_limit")
        return
    material = candidate.ratings.rotor_material
    if material is None:
        yield Finding(rank="check", subject=result.name, value=tip, limit=None, unit="m/s",
                      text=f"the rotor's tip reaches {tip:.0f} m/s {where}",
                      about="no material is given to check it against",
                      change="name the rotor's material in the scenario")
        return
    stuff, bore = MATERIALS[material], candidate.ratings.rotor_bore_ratio
    form = candidate.ratings.rotor_form
    stress = float(rotor_stress(stuff, tip_speed=tip, bore_ratio=bore, form=form))
    spun = stress * OVERSPEED**2
    allowed = float(limit_tip_speed(stuff, bore_ratio=bore, form=form))
    rank = ("stop" if spun > stuff.strength
            else "check" if stress * STRESS_MARGIN > stuff.strength else "note")
    yield Finding(
        rank=rank, subject=result.name, value=stress, limit=stuff.strength, unit="Pa",
        text=f"rotor stress about {stress / 1e6:.0f} MPa at {tip:.0f} m/s tip speed {where}, "
             f"{spun / 1e6:.0f} MPa at 115 % of it, against {stuff.strength / 1e6:.0f} MPa for "
             f"{material}" + (f"; {stuff.printing}" if stuff.printing else ""),
        source=f"{stuff.strength_kind}, typical value from memory; {FORMS[form]}; 115 % as in API "
               "617",
        change=f"keep the tip below {allowed / OVERSPEED:.0f} m/s; shield the plane of rotation")
