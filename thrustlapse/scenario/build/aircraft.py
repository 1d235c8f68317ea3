"""From the airframe's table to its polar in SI, what that rests on, and what is asked of it."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from thrustlapse.air.atmosphere import Site
from thrustlapse.aircraft.drag import Airframe
from thrustlapse.aircraft.drag_basis import (
    DEFAULT_AIRSPEED_SHARE,
    DragBasis,
    Lift,
    drag_of_fit,
    drag_of_glide_ratio,
    drag_of_parts,
    given_drag,
)
from thrustlapse.aircraft.glide import fit_coasting, fit_glides
from thrustlapse.aircraft.operating_needs import AircraftUse, Rolling
from thrustlapse.aircraft.runway import ground_effect
from thrustlapse.scenario.build.defaults_log import DefaultsLog, shown
from thrustlapse.scenario.build.installation import FRICTION_SPEED
from thrustlapse.scenario.fields import Count, Word
from thrustlapse.scenario.schema.airframe import AirframeSection, RunwaySection
from thrustlapse.scenario.schema.drag import (
    CoastSection,
    GivenDragSection,
    GlideRatioSection,
    PartsDragSection,
    SinkSection,
)
from thrustlapse.scenario.section import Section, rule_of

FRICTION_OVER_LAUNCH = 1.5
"""Airspeed at which the friction of parts is worked out, over the launch speed, where none is
given; judgement: between best glide and top speed of most small aircraft."""

ROLL_LIFT = 0.5
"""Lift coefficient of the roll where none is given, as a share of the greatest; judgement: drag of
a small aircraft's roll is a fraction of its thrust either way."""


CENTRED = ("least drag at zero lift; two measured small aircraft have it at a lift coefficient of "
           "0.15 and 0.23, and leaving that out moves drag by up to a third at some lift")
"""Said of a build-up whose lift of least drag is not given: NASA/UMN tunnel polar, UMN file."""


def complete(part: Any) -> bool:
    """Whether everything in a part of the file was read without a fault."""
    if isinstance(part, Section):
        for name, field in type(part).model_fields.items():
            value, rule = getattr(part, name), rule_of(field)
            unread = (isinstance(rule, Word) and value == "") or (
                isinstance(rule, Count) and value == 0)
            if unread or not complete(value):
                return False
        return not list(part.check())
    if isinstance(part, tuple):
        return all(map(complete, part))
    return not isinstance(part, float) or math.isfinite(part)


def friction_speed(section: AirframeSection | None) -> float:
    """Airspeed at which the friction of parts is worked out [m/s]."""
    # of a drawn launch speed its middle: friction hardly knows the difference
    launch = 0.0 if section is None else float(np.median(section.launch_speed))
    if section is None or launch <= 0.0:
        return FRICTION_SPEED
    drag = section.drag
    if isinstance(drag, PartsDragSection) and drag.reference_speed is not None:
        return drag.reference_speed
    return FRICTION_OVER_LAUNCH * launch


def build_aircraft(section: AirframeSection, *, site: Site,
                   source_mass: float) -> tuple[Airframe, AircraftUse]:
    """Airframe in SI and its use.

    Raises
    ------
    ValueError
        Where no polar explains the readings.
    """
    nothing = float("nan")
    blank = Airframe(mass=section.mass, wing_area=section.wing_area,
                     minimum_drag_coefficient=nothing, induced_factor=nothing,
                     lift_of_least_drag=section.lift_coefficient_of_least_drag,
                     greatest_lift=section.greatest_lift_coefficient,
                     launch_speed=section.launch_speed, drag_rise_mach=section.drag_rise_mach)
    lift = Lift(aspect_ratio=section.ratio, span_efficiency=section.span_efficiency,
                induced_factor=section.induced_factor, span=section.span)
    airframe, basis = _drag(section, blank, lift, site)
    rolling, told = _rolling(section.runway, section)
    return airframe, AircraftUse(
        drag_basis=replace(basis, told=(*basis.told, *told)), source_mass=source_mass,
        cruise_speeds=section.cruise_speeds, altitudes=section.altitudes,
        cut_off_voltage=section.cut_off_voltage, rolling=rolling)


def _drag(section: AirframeSection, blank: Airframe, lift: Lift,
          site: Site) -> tuple[Airframe, DragBasis]:
    drag = section.drag
    if drag is None or isinstance(drag, GivenDragSection):
        source = section if drag is None else drag
        least = source.minimum_drag_coefficient
        if least is None:
            assert source.drag_area is not None
            least = source.drag_area / section.wing_area
        return given_drag(blank, lift, minimum_drag_coefficient=least)
    if isinstance(drag, PartsDragSection):
        return _of_parts(section, drag, blank=blank, lift=lift, site=site)
    air = site.air(drag.altitude)
    common: dict[str, Any] = {"mass": drag.mass, "density": float(air.density),
                              "wing_area": section.wing_area}
    if isinstance(drag, GlideRatioSection):
        del common["wing_area"]
        deviation = drag.airspeed_deviation
        return drag_of_glide_ratio(
            blank, lift, glide_ratio=drag.glide_ratio, airspeed=drag.airspeed, best=drag.best,
            glide_deviation=drag.glide_ratio_deviation * drag.glide_ratio,
            airspeed_deviation=DEFAULT_AIRSPEED_SHARE * drag.airspeed if deviation is None
            else deviation, machine_drag_area=drag.machine_drag_area, **common)
    common |= {"airspeed_deviation": drag.airspeed_deviation, "induced_factor": lift.known,
               "lift_of_least_drag": section.lift_coefficient_of_least_drag}
    first, second = np.array(drag.readings).T
    if isinstance(drag, SinkSection):
        fit = fit_glides(airspeed=first, sink=second, sink_deviation=drag.sink_deviation, **common)
    else:
        assert isinstance(drag, CoastSection)
        fit = fit_coasting(time=first, airspeed=second, **common)
    told = () if drag.given("airspeed_deviation") else (
        f"airspeeds read to {shown(drag.airspeed_deviation, 'speed')}, one standard deviation",)
    return drag_of_fit(blank, lift, fit, source=drag.source, told=told,
                       machine_drag_area=drag.machine_drag_area)


def _of_parts(section: AirframeSection, drag: PartsDragSection, blank: Airframe, lift: Lift,
              site: Site) -> tuple[Airframe, DragBasis]:
    told = DefaultsLog()
    recipe, speed = drag.recipe(told), friction_speed(section)
    if drag.reference_speed is None:
        told.sentences.append(f"skin friction worked out at {shown(speed, 'speed')}"
                              + (f", {FRICTION_OVER_LAUNCH:g} times the launch speed"
                                 if section.launch_speed > 0.0 else " (judgement)"))
    if not section.given("lift_coefficient_of_least_drag"):
        told.sentences.append(CENTRED)
    airframe, basis = drag_of_parts(blank, lift, recipe, air=site.air(), airspeed=speed)
    return airframe, replace(basis, told=(*told.sentences, *basis.told))


def _rolling(runway: RunwaySection | None,
             section: AirframeSection) -> tuple[Rolling | None, tuple[str, ...]]:
    if runway is None:
        return None, ()
    told = DefaultsLog()
    lift = told.default(runway.lift_coefficient, ROLL_LIFT * section.greatest_lift_coefficient,
                        f"it rolls at {100 * ROLL_LIFT:g} % of its greatest lift (judgement)")
    share = 1.0
    if runway.wing_height is not None and section.span is not None:
        share = float(ground_effect(height=runway.wing_height, span=section.span))
    return Rolling(friction=runway.surface, lift_coefficient=lift,
                   induced_share=share), tuple(told.sentences)
