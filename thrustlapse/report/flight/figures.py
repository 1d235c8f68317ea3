"""Figures of the flight: speed and height, thrust and drag, and the energy ledger as it fills."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from thrustlapse.arrays import Array
from thrustlapse.report.figure_style import (
    draw_curve,
    figure_width,
    name_strip,
    narrow,
    new_figure,
    shortened,
    strip_height,
    styled,
)
from thrustlapse.report.looks import GREY, looks
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flight_study_record import Flown, Track

MOST_PANELS = 6
"""Candidates that get a panel of their own."""

USES = (
    ("pack and leads", ("pack_heat", "lead_heat"), "#8c510a"),
    ("controller and motor heat", ("controller_heat", "motor_heat"), "#d8913b"),
    ("machine and duct", ("machine_heat",), "#E7C66B"),
    ("jet, swirl, stored heat", ("jet_energy", "swirl_energy", "stored_energy"), "#56B4E9"),
    ("its own drag", ("external_work",), "#9d9d9d"),
    ("airframe's drag", ("parasite_work", "induced_work", "compressibility_work"), "#5c5c5c"),
    ("speed and height gained", ("kinetic", "potential"), "#009E73"),
)
"""Where the energy goes: words, books, colour, from below."""


def figure_flight(comparison: Comparison) -> Figure | None:
    """Airspeed and height of every candidate against time, its legs marked by dots."""
    flown = _flown(comparison)
    if not flown:
        return None
    with styled():
        strip = strip_height(comparison.candidates)
        figure = new_figure(4.6 + strip)
        name_strip(figure, looks(comparison.candidates))
        style = looks(comparison.candidates)
        latest = _end(flown)
        for row, (word, name, unit) in enumerate((("Airspeed", "airspeed", "m/s"),
                                                  ("Height above the site", "height", "m"))):
            axes = _panel(figure, top=strip, row=row, rows=2)
            axes.set_title(f"{word} [{unit}]")
            axes.set_xlim(0.0, latest)
            top = 0.0
            for key, one in flown.items():
                values: Array = getattr(one.track, name)
                draw_curve(axes, one.track.time, values, style[key], marked=False, ends=False)
                ends = _leg_ends(one.track)
                axes.plot(one.track.time[ends], values[ends], linestyle="none", marker="o",
                          markersize=3.6, color=style[key].colour, markeredgecolor="white",
                          markeredgewidth=0.5, zorder=4)
                if not one.completed:
                    axes.plot(one.track.time[-1:], values[-1:], linestyle="none", marker="x",
                              markersize=7.0, markeredgewidth=1.6, color=style[key].colour,
                              zorder=5)
                top = max(top, float(np.max(values)))
            axes.set_ylim(0.0, 1.1 * top if top > 0.0 else 1.0)
            if row == 1:
                axes.set_xlabel("time [s]")
            else:
                axes.tick_params(labelbottom=False)
        return figure


def figure_flight_forces(comparison: Comparison) -> Figure | None:
    """Thrust, and drag of airframe and candidate, along the flight; a panel per candidate."""
    flown = _panelled(comparison)
    if not flown:
        return None
    with styled():
        strip = 0.28
        figure = new_figure(strip + 0.45 + 1.75 * len(flown))
        style = looks(comparison.candidates)
        top = max(float(np.max([np.max(one.track.thrust), np.max(_all_drag(one.track))]))
                  for one in flown.values())
        for row, (name, one) in enumerate(flown.items()):
            axes = _panel(figure, top=strip, row=row, rows=len(flown))
            axes.set_title(f"{shortened(name)}: thrust and drag [N]", color=style[name].colour)
            track = one.track
            axes.plot(track.time, track.thrust, color=style[name].colour, linewidth=1.8)
            axes.plot(track.time, track.drag, color=GREY, linewidth=1.2, linestyle=(0, (5, 2)))
            axes.fill_between(track.time, track.drag, _all_drag(track), color=GREY, alpha=0.35,
                              linewidth=0.0)
            axes.set_xlim(0.0, _end(flown))
            axes.set_ylim(min(0.0, 1.1 * float(np.min(track.thrust))), 1.1 * top)
            if row == len(flown) - 1:
                axes.set_xlabel("time [s]")
            else:
                axes.tick_params(labelbottom=False)
        figure.text(0.62 / figure_width(), 1.0 - 0.14 / figure.get_size_inches()[1],
                    "line: thrust · dashed: drag · grey: its own" if narrow() else
                    "line: thrust · dashed: airframe's drag · grey: the candidate's own on top",
                    fontsize=8.0, color=GREY, va="center")
        return figure


def figure_flight_books(comparison: Comparison) -> Figure | None:
    """Where the energy from the pack has gone so far; a panel per candidate."""
    flown = _panelled(comparison)
    if not flown:
        return None
    with styled():
        strip = 0.62 if not narrow() else 0.85
        figure = new_figure(strip + 0.45 + 1.9 * len(flown))
        top = max(float(np.max(_paid(one.track))) for one in flown.values()) / 3600.0
        for row, (name, one) in enumerate(flown.items()):
            axes = _panel(figure, top=strip, row=row, rows=len(flown))
            axes.set_title(f"{shortened(name)}: energy since the launch [Wh]")
            low: Array = np.zeros(one.track.time.size)
            for _, parts, colour in USES:
                high = low + sum((one.track.books[part] for part in parts),
                                 np.zeros(low.size)) / 3600.0
                axes.fill_between(one.track.time, low, high, color=colour, linewidth=0.0)
                low = high
            axes.plot(one.track.time, _paid(one.track) / 3600.0, color="black", linewidth=1.3)
            axes.set_xlim(0.0, _end(flown))
            axes.set_ylim(0.0, 1.1 * top if top > 0.0 else 1.0)
            if row == len(flown) - 1:
                axes.set_xlabel("time [s]")
            else:
                axes.tick_params(labelbottom=False)
        handles = [Patch(color=colour, label=word) for word, _, colour in USES]
        figure.legend(handles=handles, loc="upper center", ncol=2 if narrow() else 3,
                      fontsize=7.5, frameon=False,
                      handlelength=1.2, columnspacing=1.4, borderaxespad=0.1, labelspacing=0.25)
        return figure


def shares(track: Track) -> dict[str, float]:
    """Energy spent by the end of a flight, by the words of the figure [J]."""
    return {word: float(sum(track.books[part][-1] for part in parts)) for word, parts, _ in USES}


def _flown(comparison: Comparison) -> dict[str, Flown]:
    """Flights that have a length in time."""
    study = comparison.flights
    return {} if study is None else {name: one for name, one in study.flights.items()
                                     if one.time > 0.0}


def _panelled(comparison: Comparison) -> dict[str, Flown]:
    return dict(list(_flown(comparison).items())[:MOST_PANELS])


def _end(flown: dict[str, Flown]) -> float:
    return max(one.time for one in flown.values())


def _paid(track: Track) -> Array:
    return np.asarray(track.books["pack_energy"] + track.books["launcher_work"])


def _all_drag(track: Track) -> Array:
    return np.asarray(track.drag + track.external_drag)


def _leg_ends(track: Track) -> Array:
    return np.append(np.flatnonzero(np.diff(track.leg)), track.leg.size - 1)


def _panel(figure: Figure, *, top: float, row: int, rows: int) -> Axes:
    """One of several axes below each other, with margins in inches."""
    wide, high = figure.get_size_inches()
    each = (high - top - 0.45) / rows
    bottom = 0.45 + (rows - 1 - row) * each + 0.12
    return figure.add_axes((0.62 / wide, bottom / high, 1.0 - 0.85 / wide, (each - 0.46) / high))
