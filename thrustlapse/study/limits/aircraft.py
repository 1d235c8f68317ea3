"""What is doubtful or impossible about the aircraft: its drag, and whether it can climb."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.study.aircraft_study_record import DragSource
from thrustlapse.study.comparison import Comparison, Finding

LEAST_USUAL, MOST_USUAL = 0.015, 0.06
"""CDmin of complete small aircraft: 0.018 to 0.045 (NASA/UMN; Gryte et al. 2018; Beard and McLain
2012), with a margin."""

EFFICIENCIES = (0.5, 1.0)
"""Span efficiency of complete small aircraft: 0.6 to 0.9 (same sources), with a margin."""

DOUBTFUL = 0.25
"""Relative standard deviation of CDmin from which it is called poorly known (judgement)."""

SCATTER = 2.0
"""Scatter of readings over what they state from which it is told (judgement)."""

FRICTION_MOVES = 0.08
"""Relative change of the built-up drag between its reference speed and top speed that is told:
half of it is about the error in top speed."""

WEAK_CLIMB = 1.0
"""Rate of climb below which an aircraft has little to turn and climb on [m/s] (judgement)."""


def aircraft_findings(comparison: Comparison) -> Iterator[Finding]:
    """Findings about the airframe's drag, and about each candidate's climb."""
    if comparison.aircraft is None:
        return
    yield from _drag(comparison.aircraft.drag_source)
    for name, one in comparison.aircraft.performances.items():
        level = comparison.candidates[name].level
        flies = level is not None and bool(np.isfinite([level.top_speed, level.lowest_bound]).any())
        if flies and np.isnan(one.best_climb_rate):
            yield Finding(
                rank="check", subject=name, value=None, limit=None, unit="m/s",
                text="it flies level, but nothing is known of its climb",
                change="a map or table that reaches the airspeeds between stall and top speed")
        elif flies and one.best_climb_rate < WEAK_CLIMB:
            yield Finding(
                rank="check", subject=name, value=one.best_climb_rate, limit=WEAK_CLIMB,
                unit="m/s", least=True, source="judgement",
                text="it flies level but hardly climbs: "
                     f"{max(one.best_climb_rate, 0.0):.2f} m/s at best",
                change="more power, or less mass and drag, before anyone turns with it")
        if one.climb_reason and one.best_climb_rate > 0.0:
            yield Finding(
                rank="note", subject=name, value=None, limit=None, unit="",
                text=f"{one.climb_reason}; its best climb is that of steady straight flight, "
                     f"{one.best_climb_rate:.1f} m/s",
                change="nothing need be done; curves of climb leave out what is no straight line")
        if one.longest is not None and one.longest.endurance == 0.0:
            yield Finding(
                rank="check", subject=name, value=0.0, limit=comparison.aircraft.cut_off_voltage,
                unit="V", text="its pack is at the cut-off voltage from the start",
                change="a fuller pack, or a cut_off_voltage that suits its cells")


def _drag(source: DragSource) -> Iterator[Finding]:
    least = source.minimum_drag_coefficient
    if not LEAST_USUAL <= least <= MOST_USUAL:
        yield Finding(
            rank="check", subject="airframe", value=least, limit=LEAST_USUAL
            if least < LEAST_USUAL else MOST_USUAL, unit="",
            text=f"CDmin {least:.4f}; complete small aircraft have been measured at 0.018 to 0.045",
            change="look at wing area and drag again")
    low, high = EFFICIENCIES
    if source.source != "given" and not low <= source.span_efficiency <= high \
            and np.isfinite(source.span_efficiency):
        yield Finding(
            rank="check", subject="airframe", value=source.span_efficiency,
            limit=low if source.span_efficiency < low else high, unit="",
            text=f"span efficiency {source.span_efficiency:.2f}; complete small aircraft have 0.6 "
                 "to 0.9", change="look at the readings of the slow flights again, and at the mass")
    if not source.separable:
        yield Finding(
            rank="check", subject="airframe", value=None, limit=None, unit="",
            text="the readings cannot tell least drag from induced drag: they span too little "
                 "airspeed", change="glide faster and slower, or give span and span_efficiency")
    if source.scatter > SCATTER:
        yield Finding(
            rank="check", subject="airframe", value=source.scatter, limit=SCATTER, unit="",
            text=f"readings scatter {source.scatter:.1f} times as much as their stated deviation: "
                 "moving air, or a reading that is wrong",
            change="repeat them in still air; the deviations given here are widened accordingly")
    share = source.drag_deviation / least
    if source.source not in ("given", "parts") and share > DOUBTFUL:
        yield Finding(
            rank="check", subject="airframe", value=share, limit=DOUBTFUL, unit="",
            text=f"CDmin is known to {100 * share:.0f} % only, one standard deviation",
            change="more readings, farther apart in airspeed")
    moved = source.drag_area_at_top / source.drag_area - 1.0
    if abs(moved) > FRICTION_MOVES:
        yield Finding(
            rank="note", subject="airframe", value=moved, limit=FRICTION_MOVES, unit="",
            text=f"at the fastest top speed the same parts would have {100 * abs(moved):.0f} % "
                 f"{'less' if moved < 0.0 else 'more'} drag area than at "
                 f"{source.reference_speed:.0f} m/s, where it is worked out",
            change="set reference_speed near the speed that matters")

