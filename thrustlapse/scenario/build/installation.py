"""External drag of a unit, with a sentence for every figure that the file does not give."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.aircraft.build_up import build_up
from thrustlapse.propulsor.candidate import Installation
from thrustlapse.scenario.build.defaults_log import DefaultsLog, shown
from thrustlapse.scenario.schema.drag import parts_of
from thrustlapse.scenario.schema.propulsor import (
    AxialFanSection,
    BlowerSection,
    CandidateSection,
    DuctedPropellerSection,
    InstallationSection,
    PropellerSection,
    disc,
)

POD_WIDTH = {"blower": 1.7, "axial fan": 1.15, "propeller": 0.18}
"""Diameter of casing, duct or motor pod over the rotor's tip diameter (judgement)."""

POD_DRAG = 0.12
"""Drag coefficient of a smooth pod on its frontal area; streamlined nacelles have 0.06 to 0.15
(from memory)."""

BASE_SHARE = {"blower": 0.10, "axial fan": 0.05, "propeller": 0.05}
"""Blunt rear over the pod's frontal area (judgement)."""

BASE_DRAG = 0.13
"""Drag coefficient of a base behind a body (judgement, after slender bodies in Hoerner)."""

SCRUBBED = {"blower": 2.0, "axial fan": 2.0, "propeller": 0.5, "ducted propeller": 2.0}
"""Airframe surface in the jet over jet area, or in the slipstream over disc area (judgement)."""

SCRUBBING_FRICTION = 0.005
"""Turbulent skin friction at a Reynolds number of a few hundred thousand (flat-plate formulas)."""


FRICTION_SPEED = 20.0
"""Airspeed at which the friction of a unit's outer parts is worked out where there is no aircraft
[m/s]; judgement."""


def build_installation(section: CandidateSection, defaults: DefaultsLog, *, air: Air,
                       friction_speed: float = FRICTION_SPEED) -> Installation:
    """External drag of one unit of a candidate.

    ``friction_speed`` [m/s] is where the skin friction of its parts, if any, is worked out.
    """
    if isinstance(section, DuctedPropellerSection):
        made = _whole_unit(section, defaults)
    else:
        made = _by_kind(section, defaults)
    parts = section.installation.parts
    if not parts:
        return made
    listed = DefaultsLog()
    built = build_up(parts_of(parts, listed), air=air, airspeed=friction_speed, allowance=0.0)
    area, low, high = (float(one) for one in (built.drag_area, built.low, built.high))
    defaults.sentences += [*listed.sentences, f"outer drag area {shown(area, 'area')}, from "
                           f"{shown(low, 'area')} to {shown(high, 'area')}: "
                           f"its {len(parts)} parts at {shown(friction_speed, 'speed')}"]
    return replace(made, pod_drag_area=area)


def _by_kind(section: BlowerSection | AxialFanSection | PropellerSection,
             defaults: DefaultsLog) -> Installation:
    given, kind = section.installation, section.kind
    ducted = isinstance(section, BlowerSection | AxialFanSection)
    tip = section.diameter if isinstance(section, PropellerSection) else section.rotor.tip_diameter
    width = POD_WIDTH[kind] * tip if given.pod_diameter is None else given.pod_diameter
    across = disc(width)
    how = (f"{POD_WIDTH[kind]:g} times the tip diameter wide (judgement)"
           if given.pod_diameter is None else f"{shown(width, 'length')} wide")
    frontal = defaults.default(
        given.frontal_area, across if ducted else disc(tip),
        f"frontal area {shown(across if ducted else disc(tip), 'area')}: "
        + (f"a casing {how}" if ducted else "the propeller's disc"))
    base = 0.0 if given.parts else BASE_SHARE[kind] * across
    base_area = defaults.default(given.base_area, base,
                                 "no base drag beside its parts" if given.parts else
                                 f"base area {shown(base, 'area')}: {100 * BASE_SHARE[kind]:g} "
                                 "% of the pod's frontal area (judgement)")
    stream = disc(tip) if isinstance(section, PropellerSection) else section.exit_area
    return Installation(
        pod_drag_area=_pod(given, across, how, defaults), base_area=base_area,
        base_drag_coefficient=_base_drag(given, base_area, defaults),
        scrubbed_area=_scrubbed_area(given, kind, stream, defaults),
        scrubbing_friction=_friction(given, defaults), frontal_area=frontal)


def _whole_unit(section: DuctedPropellerSection, defaults: DefaultsLog) -> Installation:
    """Coefficients of a whole ducted unit have the drag of duct and struts inside their thrust."""
    given = section.installation
    jet = section.exit_area_ratio * disc(section.diameter)
    inside = "the coefficients are of the whole unit, duct and struts included"
    if given.pod_diameter is not None:
        pod = _pod(given, disc(given.pod_diameter), f"{shown(given.pod_diameter, 'length')} wide",
                   defaults)
    else:
        pod = 0.0 if given.parts else defaults.default(
            given.pod_drag_area, 0.0, f"no pod drag beside the thrust: {inside}")
    base_area = defaults.default(given.base_area, 0.0, f"no base drag beside the thrust: {inside}")
    return Installation(
        pod_drag_area=pod, base_area=base_area,
        base_drag_coefficient=_base_drag(given, base_area, defaults),
        scrubbed_area=_scrubbed_area(given, section.kind, jet, defaults),
        scrubbing_friction=_friction(given, defaults),
        frontal_area=defaults.default(given.frontal_area, jet, "frontal area "
                                      f"{shown(jet, 'area')}: the duct's exit area"))


def _pod(given: InstallationSection, across: float, how: str, defaults: DefaultsLog) -> float:
    if given.parts:
        return 0.0  # they take its place
    coefficient = POD_DRAG if given.pod_drag_coefficient is None else given.pod_drag_coefficient
    judged = "" if how.endswith("(judgement)") or given.pod_drag_coefficient is not None \
        else " (judgement)"
    area = coefficient * across
    if given.pod_diameter is not None and given.pod_drag_coefficient is not None:
        return area
    return defaults.default(given.pod_drag_area, area,
                            f"pod drag area {shown(area, 'area')}: {np.mean(coefficient):g} on the "
                            f"frontal area of a pod {how}{judged}")


def _base_drag(given: InstallationSection, base_area: float, defaults: DefaultsLog) -> float:
    if given.base_drag_coefficient is None and np.all(base_area == 0.0):
        return BASE_DRAG
    return defaults.default(given.base_drag_coefficient, BASE_DRAG,
                            f"base drag coefficient {BASE_DRAG:g} on the base area (judgement, "
                            "after slender bodies in Hoerner)")


def _scrubbed_area(given: InstallationSection, kind: str, stream: float,
                   defaults: DefaultsLog) -> float:
    wet = SCRUBBED[kind] * stream
    what = "slipstream" if kind == "propeller" else "jet"
    area = "the disc" if kind == "propeller" else "the exit"
    return defaults.default(given.scrubbed_area, wet,
                            f"{shown(wet, 'area')} of airframe rubbed by the {what}: "
                            f"{SCRUBBED[kind]:g} times {area} area (judgement)")


def _friction(given: InstallationSection, defaults: DefaultsLog) -> float:
    if given.scrubbed_area is not None and np.all(given.scrubbed_area == 0.0):
        return SCRUBBING_FRICTION
    return defaults.default(given.scrubbing_friction, SCRUBBING_FRICTION,
                            f"skin friction coefficient {SCRUBBING_FRICTION:g} of the surface "
                            "rubbed (turbulent flat plate)")
