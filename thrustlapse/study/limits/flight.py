"""What went wrong in a flight, and what would mend it."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.aircraft.thrust_surface import ERROR_ALLOWED
from thrustlapse.glossary import read_as
from thrustlapse.study.comparison import Comparison, Finding
from thrustlapse.study.flight_study_record import Flown

BOOKS_ALLOWED = 1e-4
"""Relative error of the energy balance above which it is said (judgement; usually below 1e-6)."""

REMEDIES = (
    ("pack empty", "a fuller or larger pack, or shorter legs"),
    ("no longer hold", "a fuller pack, or a slower cruise"),
    ("stall", "more launch speed, a lower load factor, or less weight on the wing"),
    ("ground", "more height before it"),
    ("nothing is known", "a map, a table or a pack curve that reaches further"),
    ("cannot reach", "more thrust or less drag, or a lower airspeed in that leg"),
    ("cannot hold", "more thrust or less drag, or a gentler leg"),
    ("climb", "more thrust or less mass, or another airspeed of the climb"),
)
"""Words of a reason, and what to change."""


def flight_findings(comparison: Comparison) -> Iterator[Finding]:
    """Findings about each candidate's flight; none where none is flown."""
    study = comparison.flights
    if study is None:
        return
    for name, reason in study.not_flown.items():
        yield Finding(rank="check", subject=name, text=f"no flight: {reason}", value=None,
                      limit=None, unit="", change=remedy(reason))
    for name, one in study.flights.items():
        yield from _broken_off(name, one)
        yield from _hot(name, one)
        yield from _doubtful(name, one)


def remedy(reason: str) -> str:
    """What to change for a reason."""
    return next((change for words, change in REMEDIES if words in reason),
                "look at this leg again")


def _broken_off(name: str, one: Flown) -> Iterator[Finding]:
    broken = [place for place, leg in enumerate(one.legs) if not leg.completed]
    if not broken:
        return
    first, leg = broken[0], one.legs[broken[0]]
    late = len([place for place in broken[1:] if one.legs[place].reason.startswith("not begun")])
    text = f"{leg.name}, leg {first} of its flight, is not flown to its end: {leg.reason}"
    if late:
        text += f"; {late} {'leg' if late == 1 else 'legs'} after it not begun"
    yield Finding(rank="check", subject=name, text=text, value=None, limit=None, unit="",
                  change=remedy(leg.reason))


def _hot(name: str, one: Flown) -> Iterator[Finding]:
    for word, values, change in (
            ("motor", one.track.motor_temperature, "shorter full power, more cooling, or a larger "
             "motor"),
            ("pack", one.track.pack_temperature, "less current, or cells of less resistance")):
        event = next((event for event in one.events if event.name == f"{word} hot"), None)
        if event is not None:
            hottest = float(np.nanmax(values))
            yield Finding(rank="check", subject=name, value=hottest, limit=None, unit="K",
                          text=f"{event.text} after {event.time:.0f} s of flight; the {word} gets "
                               f"to {read_as(hottest, 'degC'):.0f} °C", change=change)


def _doubtful(name: str, one: Flown) -> Iterator[Finding]:
    worst = max(one.thrust_error, one.current_error)
    if not worst < ERROR_ALLOWED:
        yield Finding(rank="note", subject=name, value=worst, limit=ERROR_ALLOWED, unit="",
                      text=f"its flight rests on an interpolated machine that is {100 * worst:.2g} "
                           "% off the matched one at worst",
                      change="nothing need be done unless the flight decides something")
    if not one.books_miss < BOOKS_ALLOWED:
        yield Finding(rank="check", subject=name, value=one.books_miss, limit=BOOKS_ALLOWED,
                      unit="", text=f"the energy balance of its flight is off "
                      f"by {100 * one.books_miss:.2g} %", change="do not trust its flight")
