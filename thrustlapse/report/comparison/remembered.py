"""The one sentence a person remembers: who starts with how much, what is left, and who passes whom.

It takes two candidates out of a comparison: the weaker at rest of a crossover with thrust left, and
the one it passes; where none is passed, the weakest at rest and the strongest. Every number in it
stands in the results: thrusts at rest and at one airspeed of the comparison, and the crossover.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, BoolArray
from thrustlapse.report.articles import with_articles
from thrustlapse.report.comparison.ranking import (
    airframe_crossings,
    changes_lead,
    pulls,
    short_at_rest,
    thrust_crossings,
    tops,
)
from thrustlapse.report.number_format import (
    area,
    listed,
    newtons,
    number,
    percent,
    sentence,
    short_speed,
)
from thrustlapse.study.comparison import ON_AIRFRAME, Comparison, Crossover

SAME_POWER = 0.005
"""Relative difference of two powers below which they are given as one number."""


@dataclass(frozen=True, kw_only=True)
class Moment:
    """The two candidates of the sentence, the crossover between them, and an airspeed to tell.

    ``place`` is that airspeed's place in the comparison; None where there is none in motion at
    which both push.
    """

    subject: str
    rival: str | None
    crossing: Crossover | None
    place: int | None


def moment(comparison: Comparison) -> Moment | None:
    """Whom the sentence is about; None where no candidate pushes at rest."""
    short = {one.name for one in short_at_rest(comparison)}
    rest = {name: thrust for name in comparison.candidates if name not in short
            and (thrust := thrust_at_rest(comparison, name)) > 0.0}
    if not rest:
        return None
    ranked = sorted(rest, key=lambda name: rest[name])
    for found in (airframe_crossings(comparison), thrust_crossings(comparison)):
        passes = [one for one in found if pulls(one) and {*one.between} <= {*rest}
                  and rest[one.winner_above] < rest[one.winner_below]]
        if passes:
            told = max(passes, key=lambda one: (changes_lead(comparison, one), one.net_thrust))
            return Moment(subject=told.winner_above, rival=told.winner_below, crossing=told,
                          place=_place(comparison, told.winner_above, told.winner_below,
                                       told.airspeed))
    subject, rival = ranked[0], ranked[-1] if len(ranked) > 1 else None
    fastest = max((top.speed for top in tops(comparison)), default=float(comparison.airspeed[-1]))
    return Moment(subject=subject, rival=rival, crossing=None,
                  place=_place(comparison, subject, rival or subject, fastest))


def thrust_at_rest(comparison: Comparison, name: str) -> float:
    """Installed thrust at rest [N]."""
    return float(comparison.candidates[name].at_rest.installed_thrust.item())


def counted(comparison: Comparison, name: str) -> BoolArray:
    """Airspeeds at which a candidate has a value, on the power all are held to."""
    result = comparison.candidates[name]
    return np.asarray(np.isfinite(result.curve.installed_thrust)
                      & (result.short_of_reference == 0.0))


def _thrust(comparison: Comparison, name: str) -> Array:
    """Installed thrust over the airspeeds, where it counts [N]."""
    return np.where(counted(comparison, name),
                    comparison.candidates[name].curve.installed_thrust, np.nan)


def _place(comparison: Comparison, subject: str, rival: str, near: float) -> int | None:
    x = comparison.airspeed
    with np.errstate(invalid="ignore"):
        good = np.flatnonzero((x > 0.0) & (_thrust(comparison, subject) > 0.0)
                              & (_thrust(comparison, rival) > 0.0))
    return int(good[np.argmin(np.abs(x[good] - near))]) if good.size else None


def remembered(comparison: Comparison) -> str:
    """The sentence; empty where nothing is known that could be remembered."""
    about = moment(comparison)
    if about is None:
        return ""
    text = _start(comparison, about)
    if about.rival is None:
        text += _kept_alone(comparison, about.subject, about.place)
        return sentence(with_articles(text, comparison.candidates))
    text += _kept(comparison, about.subject, about.rival, about.place)
    text += (_never(comparison, about.subject, about.rival) if about.crossing is None else
             f", and passes {about.rival} at {short_speed(about.crossing.airspeed)}"
             + _needs(comparison, about.crossing))
    return sentence(with_articles(text + _third(comparison, about), comparison.candidates))


def _start(comparison: Comparison, about: Moment) -> str:
    watts = [comparison.candidates[name].at_rest.electrical_power.item()
             for name in (about.subject, about.rival) if name is not None]
    power = ""
    if np.isfinite(watts).all():
        alike = max(watts) - min(watts) <= SAME_POWER * max(watts)
        power = (f"at {number(watts[0])} W, " if alike else
                 f"at {number(watts[0])} W against {number(watts[1])} W, ")
    own = thrust_at_rest(comparison, about.subject)
    if about.rival is None:
        return f"{power}{about.subject} starts with {newtons(own)}"
    share = own / thrust_at_rest(comparison, about.rival)
    return f"{power}{about.subject} starts with {percent(share)} of the thrust of {about.rival}"


def _share(comparison: Comparison, name: str, place: int) -> str:
    left = float(comparison.candidates[name].curve.installed_thrust[place])
    return percent(left / thrust_at_rest(comparison, name))


def _kept_alone(comparison: Comparison, name: str, place: int | None) -> str:
    if place is None:
        return ""
    return (f" and keeps {_share(comparison, name, place)} of it, installed, at "
            f"{short_speed(float(comparison.airspeed[place]))}")


def _kept(comparison: Comparison, subject: str, rival: str, place: int | None) -> str:
    if place is None:
        return ""
    return (f", keeps {_share(comparison, subject, place)} of its own, installed, at "
            f"{short_speed(float(comparison.airspeed[place]))} where {rival} keeps "
            f"{_share(comparison, rival, place)}")


def _needs(comparison: Comparison, crossing: Crossover) -> str:
    """What an aircraft needs to get beyond a crossover, and what this one has."""
    if comparison.drag_area is None:
        return ""
    if crossing.kind != ON_AIRFRAME or crossing.drag_area_threshold is None:
        return ", but not on this airframe above its stall, once induced drag is taken off"
    return (f" on an airframe below {area(crossing.drag_area_threshold)} of drag area (this one "
            f"has {area(comparison.drag_area)})")


def _never(comparison: Comparison, subject: str, rival: str) -> str:
    """How far the weaker stays behind, and why nothing is said beyond."""
    x, own, other = comparison.airspeed, _thrust(comparison, subject), _thrust(comparison, rival)
    with np.errstate(invalid="ignore"):
        ahead, going = own > other, (own > 0.0) & (other > 0.0)
    if x.size == 1 or not going[0]:
        return ""
    end = x.size if going.all() else int(np.argmin(going))
    if ahead[:end].any():
        return f", and is ahead of it at {short_speed(float(x[int(np.argmax(ahead))]))}"
    text = f", and does not pass it up to {short_speed(float(x[end - 1]))}"
    if end == x.size:
        return f"{text}, the fastest asked for"
    lost, left = (subject, own) if not own[end] > 0.0 else (rival, other)
    if left[end] <= 0.0:
        return f"{text}, beyond which {lost} does not push"
    if np.isfinite(comparison.candidates[lost].curve.installed_thrust[end]):
        return f"{text}, beyond which {lost} does not draw that power"
    return f"{text}, beyond which nothing is known of {lost}"


def _third(comparison: Comparison, about: Moment) -> str:
    """The strongest of the others at the airspeed told."""
    place = about.place
    others = [name for name in comparison.candidates if name not in (about.subject, about.rival)]
    if place is None or not others:
        return ""
    airspeed = short_speed(float(comparison.airspeed[place]))
    there = {name: float(_thrust(comparison, name)[place]) for name in others
             if counted(comparison, name)[place]}
    if not there:
        return f"; of {listed(others)} nothing is known at {airspeed} on that footing"
    most = max(there, key=lambda name: there[name])
    if there[most] <= 0.0:
        return f"; {most} does not push at {airspeed}"
    own = float(comparison.candidates[about.subject].curve.installed_thrust[place])
    return (f"; {most} {'still ' if there[most] > own else ''}makes {newtons(there[most])} at "
            f"{airspeed}")
