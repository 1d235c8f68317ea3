"""The answer of a sizing study in plain words, composed only from its numbers."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.report.articles import with_articles
from thrustlapse.report.number_format import (
    area,
    listed,
    newtons,
    number,
    percent,
    sentence,
    short_speed,
)
from thrustlapse.report.table import NONE, Table
from thrustlapse.study.limits.efficiency_check import (
    LARGE_USUAL,
    PROPELLER_USUAL,
    SMALL,
    SMALL_USUAL,
)
from thrustlapse.study.sizing.domain import WhenResult
from thrustlapse.study.sizing.flips import ranked
from thrustlapse.study.sizing.kinds import ENDS, MEANING, VARIABLES
from thrustlapse.study.sizing.merit import RUNNING

SURE = 0.95
"""Chance from which a lead counts as settled [-]."""

SETTLED = 0.5
"""Share of a kind's points at which the optimiser must have come to rest for an answer [-]."""

AGREED = 0.01
"""Difference of two runs of the optimiser that is told [-]."""

DRAG_AREAS = np.geomspace(1e-4, 0.1, 25)
"""Drag areas of aircraft whose top speeds are told [m^2]."""

OFTEN = 0.05
"""Share of a kind's designs on an end of a range from which it is told [-]."""

TELLING = 10.0
"""Ratio of thrusts beyond which the figure says only how little is left of the other [-]."""

CUT_ROWS = 6
"""Airspeeds of a table of designs."""


def headline(result: WhenResult) -> str:
    """Who leads where, in a sentence or two."""
    leader = result.leader
    led = {name: float(np.mean(leader == place)) for place, name in enumerate(result.names)}
    pulls = float(np.mean(leader >= 0))
    if pulls == 0.0:
        return "No kind of machine makes thrust anywhere in this domain"
    parts = [f"{name} at {percent(share / pulls)}" for name, share in
             sorted(led.items(), key=lambda pair: -pair[1]) if share > 0.0]
    nowhere = [name for name, share in led.items() if share == 0.0]
    text = (f"{_first_look(result)}reely sized at every point, the best machine is "
            f"{listed(parts)} of the {int(np.sum(leader >= 0))} points where anything makes thrust")
    if nowhere:
        text += f"; {listed(nowhere)} {'leads' if len(nowhere) == 1 else 'lead'} nowhere"
    return with_articles(text, result.names)


def _first_look(result: WhenResult) -> str:
    """Word of warning where the optimiser has not come to rest at most points."""
    settled = [np.mean(one.converged[np.isfinite(one.value)]) for one in result.best.values()
               if np.isfinite(one.value).any()]
    return "F" if min(settled, default=1.0) > SETTLED else "A first look that has not settled: f"


def sentences(result: WhenResult) -> tuple[str, ...]:
    """What bears the headline out: how near each other kind comes, how sure, and on what bounds."""
    said = []
    for name in result.names:
        said += [text for text in (_near(result, name), _sure(result, name)) if text]
    said += [text for name in result.names if (text := _bounds(result, name))]
    said += [text for name in ("blower",) if name in result.best and (text := _flip(result, name))]
    said += [text for text in (_flattered(result), _aircraft(result), _unsettled(result)) if text]
    return tuple(sentence(with_articles(text, result.names)) for text in said)


def read_aloud(result: WhenResult, name: str = "blower") -> str:
    """The answer in at most 150 words, to be read aloud: who leads, by how much, how surely, and
    what would have to be true."""
    said = [headline(result)]
    if name in result.best:
        said += [text for text in (_near(result, name), _sure(result, name), _flip(result, name))
                 if text]
    return " ".join(sentence(with_articles(text, result.names)) for text in said)


def _flip(result: WhenResult, name: str) -> str:
    """Which single condition would help a kind most, of those tried."""
    if len(result.flips) < 2:
        return ""
    now, *changed = result.flips
    best = ranked(changed, name)[0]
    if best.led[name] > now.led[name]:
        return (f"of {len(changed)} single changes tried, {name} gains most from {best.words}: it "
                f"then leads at {percent(best.led[name])} of a coarser map's points, and at "
                f"{percent(now.led[name])} as things stand")
    nearest = max(changed, key=lambda one: np.nan_to_num(one.nearest[name], nan=-1.0))
    if not nearest.nearest[name] > now.nearest[name]:
        return f"none of {len(changed)} single changes tried helps {name}"
    return (f"of {len(changed)} single changes tried none lets {name} lead more; with "
            f"{nearest.words} it comes nearest, to {percent(nearest.nearest[name])} of the best "
            "other in flight")


def flip_table(result: WhenResult, name: str = "blower") -> Table:
    """Conditions, those under which a kind leads most first."""
    return Table(
        name="flips", heads=("condition", *(f"led by {each}" for each in result.names),
                             f"best {name} over best other, in flight"),
        rows=tuple((one.words, *(percent(one.led[each]) for each in result.names),
                    percent(one.nearest[name]) if np.isfinite(one.nearest[name]) else NONE)
                   for one in ranked(result.flips, name)),
        caption="What would flip it: one condition changed at a time, every design optimised anew. "
        "Led: of the points of a map of every second airspeed and power where anything pulls.")


def _place(result: WhenResult, at: tuple[int, int]) -> str:
    return (f"{short_speed(float(result.domain.airspeed[at[1]]))} and "
            f"{number(float(result.domain.power[at[0]]))} W")


def _best_place(values: Array) -> tuple[int, int]:
    row, column = np.unravel_index(int(np.nanargmax(values)), values.shape)
    return int(row), int(column)


def _near(result: WhenResult, name: str) -> str:
    ratio = result.ratio(name)
    # at rest every aircraft stands: the question is about flight
    ratio = np.where(result.domain.airspeed > 0.0, ratio, np.nan)
    if not np.any(np.isfinite(ratio)):
        return ""
    at = _best_place(ratio)
    best = float(ratio[at])
    if best <= 0.0:
        return f"{name} makes no thrust anywhere that another kind does"
    if best > 1.0:
        where = np.argwhere(ratio > 1.0)
        speeds = result.domain.airspeed[where[:, 1]]
        low, high = short_speed(float(speeds.min())), short_speed(float(speeds.max()))
        where_led = f"at {low}" if low == high else f"between {low} and {high}"
        times = number(best) if best <= TELLING else f"more than {TELLING:g}"
        return (f"{name} leads {where_led}, by most at {_place(result, at)}, with "
                f"{times} times the thrust of the best other kind")
    return (f"{name} comes nearest to leading at {_place(result, at)}, with {percent(best)} of "
            "the thrust of the best other kind")


def _sure(result: WhenResult, name: str) -> str:
    place = result.names.index(name)
    led = result.leader == place
    if not led.any():
        chance = float(np.nanmax(result.chance[name]))
        drawn = f"in {result.draws} draws of what is not known {name} is best nowhere"
        return f"{drawn} in more than {percent(chance)} of them" if chance > 0.0 else drawn
    settled = float(np.mean(result.chance[name][led] >= SURE))
    return (f"the lead of {name} is settled (at least {percent(SURE)} of {result.draws} draws) at "
            f"{percent(settled)} of the points where it leads")


def _bounds(result: WhenResult, name: str) -> str:
    """Which ends of the ranges a kind's best designs press against where they pull, how often, and
    why the range ends there."""
    one = result.best[name]
    with np.errstate(invalid="ignore"):
        here = one.value > 0.0
    on = np.array([[key in names for key in one.design] for names in one.on_bound]
                  ).reshape(*here.shape, -1)
    said = []
    for place, (key, values) in enumerate(one.design.items() if here.any() else ()):
        upper = VARIABLES[one.kind][key].share(values) > 0.5
        for high in (False, True):
            share = float(np.mean((on[..., place] & (upper == high))[here]))
            if share >= OFTEN:
                why = ENDS.get((one.kind, key, high), "")
                said.append(f"{'greatest' if high else 'least'} {MEANING[key][0]} "
                            f"({percent(share)}{': ' if why else ''}{why})")
    return (f"where they pull, at an end of their range are best designs of {name}: {listed(said)}"
            if said else "")


def _flattered(result: WhenResult) -> str:
    """How far the rotors of the best designs exceed what such machines have been found at."""
    parts = []
    for name, one in result.best.items():
        with np.errstate(invalid="ignore"):
            found = np.where(one.value > 0.0, one.running["rotor_efficiency"], np.nan)
        if not np.isfinite(found).any():
            continue
        usual = PROPELLER_USUAL[1] if one.kind == "propeller" else np.where(
            one.design["diameter"] < SMALL, SMALL_USUAL[1], LARGE_USUAL[1])
        with np.errstate(invalid="ignore"):
            share = float(np.mean((found > usual)[np.isfinite(found)]))
        if share > 0.0:
            parts.append(f"{name} at {percent(share)} of the points where it pulls, up to "
                         f"{percent(float(np.nanmax(found)))}")
    if not parts:
        return ""
    return ("rotors computed here are more efficient than any such machine was found to be (up to "
            f"{percent(SMALL_USUAL[1])} of blowers and fans below {1e3 * SMALL:g} mm, "
            f"{percent(LARGE_USUAL[1])} above, {percent(PROPELLER_USUAL[1])} of model propellers): "
            f"{listed(parts)}")


def _aircraft(result: WhenResult) -> str:
    if result.drag_area is None:
        return "without an airframe the weight of a unit costs nothing here"
    flown = {}
    for name in result.names:
        with np.errstate(invalid="ignore"):
            there = ((result.threshold(name)[-1] >= result.drag_area)
                     & (result.domain.airspeed > 0.0))
        if there.any():
            flown[name] = float(result.domain.airspeed[np.flatnonzero(there)[-1]])
    if not flown:
        return (f"with {area(result.drag_area)} of drag area this aircraft flies level with none "
                "of them at the highest power")
    power = number(float(result.domain.power[-1]))
    return (f"this aircraft, with {area(result.drag_area)}, flies level at {power} W at up to "
            + listed([f"{short_speed(value)} ({name})" for name, value in flown.items()])
            + ", by the airspeeds looked at")


def _unsettled(result: WhenResult) -> str:
    """How far the optimiser can be relied on: what two runs of it say at the same points."""
    agreed, parts = [], []
    for name, one in result.best.items():
        apart = one.apart[np.isfinite(one.apart) & (one.value > 0.0)]
        if not apart.size:
            continue
        if apart.max() > AGREED:
            parts.append(f"{name} at {percent(float(np.mean(apart > AGREED)))} of them, by up to "
                         f"{percent(float(apart.max()))}")
        agreed.append(apart)
    if not agreed:
        return ""
    every = np.concatenate(agreed)
    made = (f"two runs of the optimiser from different beginnings, at {every.size} points of all "
            "kinds together,")
    if not parts:
        return f"{made} differ by at most {100.0 * float(every.max()):.2g} %"
    return (f"{made} differ by more than {percent(AGREED)}: {listed(parts)}; there the better of "
            "the two is given, and a better design may exist")


def tables(result: WhenResult) -> tuple[Table, ...]:
    """Thrust by kind along the middle power, and each kind's designs along it."""
    row = result.domain.power.size // 2
    power = number(float(result.domain.power[row]))
    columns = np.unique(np.linspace(0, result.domain.airspeed.size - 1, CUT_ROWS).round()
                        ).astype(int)
    heads = ("airspeed", *result.names, *(f"chance of {name}" for name in result.names))
    rows = tuple((short_speed(float(result.domain.airspeed[at])),
                  *(_newtons(one.value[row, at]) for one in result.best.values()),
                  *(percent(float(result.chance[name][row, at])) for name in result.names))
                 for at in columns.tolist())
    made = [Table(name="cut", heads=heads, rows=rows, caption=f"At {power} W: installed thrust "
                  "of each kind's best less the induced drag of its own weight, and the share of "
                  "draws in which it is the best.")]
    for name, one in result.best.items():
        made.append(Table(
            name=f"designs-{name}", heads=("airspeed", *(MEANING[key][0] for key in one.design),
                                           *(RUNNING[key][0] for key in one.running)),
            rows=tuple((short_speed(float(result.domain.airspeed[at])),
                        *(_value(MEANING[key][1], values[row, at])
                          for key, values in one.design.items()),
                        *(_value(RUNNING[key][1], values[row, at])
                          for key, values in one.running.items()))
                       for at in columns.tolist()),
            caption=f"The best {name} at {power} W, by airspeed: a design of its own in each row."))
    return tuple(made)


def _newtons(value: float) -> str:
    return newtons(float(value)) if np.isfinite(value) else NONE


def _value(unit: str, value: float) -> str:
    if not np.isfinite(value):
        return NONE
    if unit == "rad/s":
        return f"{number(float(value) * 30e-3 / np.pi)} krpm"
    if unit == "m":
        return f"{number(1e3 * float(value))} mm"
    if unit == "rad":
        return f"{number(float(np.rad2deg(value)))}°"
    return f"{number(float(value))} {unit}".rstrip()
