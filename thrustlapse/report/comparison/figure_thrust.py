"""Figures of thrust: against airspeed with drag, as a lapse in reduced form, on every footing."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.arrays import Array
from thrustlapse.glossary import unit_text
from thrustlapse.propulsor.basis import measure_display
from thrustlapse.report.comparison.ranking import changes_lead, thrust_crossings
from thrustlapse.report.figure_labels import Labels
from thrustlapse.report.figure_style import (
    PALE,
    abreast,
    draw_curve,
    folded,
    heading_room,
    name_strip,
    narrow,
    new_figure,
    panel_height,
    place_axes,
    span,
    strip_height,
    styled,
    title_with_remark,
)
from thrustlapse.report.looks import GREY, looks
from thrustlapse.report.uncertainty.figures import draw_lapse_bands, draw_thrust_bands
from thrustlapse.study.comparison import Comparison, Crossover

BELOW_ZERO = 0.12
"""How far the frame reaches below zero thrust, as a share of its height above."""

MOST_LABELLED = 6
"""Crossovers that are given a label; all are marked."""

MOST_DIRECT = 3
"""Candidates whose names stand beside their curves; more are named across the top."""

LONGEST_DIRECT = 48
"""Letters of a name that two lines beside a curve can hold."""


def crowded(comparison: Comparison) -> bool:
    """Whether names go across the top."""
    return (len(comparison.candidates) > MOST_DIRECT
            or max(map(len, comparison.candidates)) > LONGEST_DIRECT)


def figure_thrust(comparison: Comparison) -> Figure:
    """Installed and net thrust of all units against airspeed, with drag, crossovers, top speeds.

    Where all that is marked lies low in the frame, a second panel enlarges that part.
    """
    with styled():
        top = _highest_thrust(comparison)
        marked = [one.net_thrust for one in shown_crossovers(comparison)]
        marked += [thrust for _, _, thrust in marked_tops(comparison)]
        close = 1.5 * max(marked, default=top)
        enlarged = close < 0.5 * top
        strip = strip_height(comparison.candidates) if crowded(comparison) else 0.0
        above = heading_room() + strip
        each = panel_height(4.6) - heading_room() - 0.5
        figure = new_figure((2.0 * each + 0.95 if enlarged else each + 0.5) + above)
        if crowded(comparison):
            name_strip(figure, looks(comparison.candidates))
        axes = place_axes(figure, left=0.62, bottom=each + 0.95 if enlarged else 0.5, top=above)
        _thrust_panel(axes, comparison, top=1.1 * top, marks=not enlarged)
        if enlarged:
            lower = place_axes(figure, left=0.62, bottom=0.5, top=each + 0.45 + above)
            _thrust_panel(lower, comparison, top=close, marks=True)
            lower.set_title("Where thrust meets drag" if narrow() else
                            "Enlarged: where thrust meets drag")
            axes.set_xlabel("")
            lower.set_xlim(*axes.get_xlim())
        title_with_remark(axes, "Thrust against airspeed",
                          "bold: installed thrust; thin: before external drag")
        return figure


def _thrust_panel(axes: Axes, comparison: Comparison, *, top: float, marks: bool) -> None:
    x, style = comparison.airspeed, looks(comparison.candidates)
    axes.set_xlabel("airspeed [m/s]")
    axes.set_ylabel("thrust, all units [N]")
    curves = {name: result.curve.installed_thrust
              for name, result in comparison.candidates.items()}
    axes.set_ylim(-BELOW_ZERO * top, top)
    axes.set_xlim(*_airspeed_limits(comparison, list(curves.values()), -BELOW_ZERO * top))
    axes.axhline(0.0, color=GREY, linewidth=0.8)
    labels = Labels(axes=axes)
    draw_thrust_bands(axes, comparison)
    drag = _draw_drag(axes, comparison, labels)
    for name, result in comparison.candidates.items():
        draw_curve(axes, x, result.count * result.curve.net_thrust, style[name], width=0.9,
                   alpha=0.55, marked=False, ends=False)
        draw_curve(axes, x, curves[name], style[name])
        labels.avoid(x, curves[name], name)
    if marks:
        _mark_crossovers(axes, comparison, labels)
        _mark_tops(axes, comparison, labels)
    for name, curve in curves.items() if not crowded(comparison) else ():
        labels.on_curve(x, curve, folded(name), owner=name, colour=style[name].colour)
    if drag is not None:
        labels.on_curve(x, drag, "airframe drag", owner="drag", colour=GREY)


def figure_lapse(comparison: Comparison) -> Figure:
    """Thrust over thrust at rest against airspeed over jet speed at rest, beside the theories."""
    with styled():
        strip = strip_height(comparison.candidates) if crowded(comparison) else 0.0
        figure = new_figure(panel_height(4.4) + strip)
        if crowded(comparison):
            name_strip(figure, looks(comparison.candidates))
        axes = place_axes(figure, left=0.62, bottom=0.52, top=0.42 + strip)
        axes.set_title("Lapse in reduced form")
        axes.set_xlabel("airspeed / jet speed at rest")
        axes.set_ylabel("net thrust / net thrust at rest")
        reduced = {name: result.lapse for name, result in comparison.candidates.items()}
        reach = max(float(np.max(lapse.speed_ratio[lapse.thrust_ratio >= -BELOW_ZERO],
                                 initial=0.0)) for lapse in reduced.values())
        axes.set_xlim(0.0, 1.05 * reach if reach > 0.0 else 1.0)
        axes.set_ylim(-BELOW_ZERO, 1.12)
        axes.axhline(0.0, color=GREY, linewidth=0.8)
        labels = Labels(axes=axes)
        theories = theory_curves(comparison)
        for (x, y), dash in zip(theories.values(), ("-", "--", ":", "-."), strict=True):
            axes.plot(x, y, color="#8a8a8a", linestyle=dash, linewidth=1.0)
        for text, (x, y) in theories.items():
            labels.avoid(x, y, text)
        style = looks(comparison.candidates)
        draw_lapse_bands(axes, comparison)
        for name, lapse in reduced.items():
            draw_curve(axes, lapse.speed_ratio, lapse.thrust_ratio, style[name])
            labels.avoid(lapse.speed_ratio, lapse.thrust_ratio, name)
        for name, lapse in reduced.items() if not crowded(comparison) else ():
            labels.on_curve(lapse.speed_ratio, lapse.thrust_ratio, folded(name), owner=name,
                            colour=style[name].colour)
        for text, (x, y) in theories.items() if reach > 0.0 else ():
            labels.on_curve(x, y, text, owner=text, colour=GREY, size=7.5)
        return figure


SAME = 1e-3
"""Relative difference up to which two footings have the same curves."""


def distinct_footings(comparison: Comparison) -> dict[str, list[str]]:
    """Footings whose curves differ, the one used first of its like, with those that repeat it."""
    found: dict[str, list[str]] = {}
    curves = comparison.footing_curves
    for footing in sorted(curves, key=lambda one: one != comparison.footing):
        like = next((one for one in found if measure_display(one) == measure_display(footing)
                     and all(np.allclose(curves[one][name], values, rtol=SAME, atol=0.0,
                                         equal_nan=True)
                             for name, values in curves[footing].items())), None)
        if like is None:
            found[footing] = []
        else:
            found[like].append(footing)
    return {footing: found[footing] for footing in curves if footing in found}


def figure_footings(comparison: Comparison) -> Figure:
    """What each footing compares, against airspeed: a panel for each that differs."""
    with styled():
        names = list(comparison.candidates)
        footings = list(distinct_footings(comparison))
        columns = abreast(2)
        rows = -(-len(footings) // columns)
        figure = new_figure(2.55 * rows + max(0.5, strip_height(names)))
        style = looks(comparison.candidates)
        strip = name_strip(figure, style)
        wide, high = figure.get_size_inches()
        for place, footing in enumerate(footings):
            row, column = divmod(place, columns)
            each = (high - strip) / rows
            axes = place_axes(figure, left=0.8 + column * wide / columns,
                              right=0.15 + (columns - 1 - column) * wide / columns,
                              top=strip + row * each + 0.32,
                              bottom=(rows - 1 - row) * each + 0.5)
            unit, factor = measure_display(footing)
            said = " (used here)" if footing == comparison.footing else ""
            axes.set_title(footing + said, fontsize=9.0)
            axes.set_ylabel(f"{footing if '/' in unit else 'thrust'}\n[{unit_text(unit)}]")
            axes.set_xlabel("airspeed [m/s]")
            curves = {name: factor * values
                      for name, values in comparison.footing_curves[footing].items()}
            top = _highest(list(curves.values()))
            axes.set_ylim(-BELOW_ZERO * top, 1.08 * top)
            axes.set_xlim(*_airspeed_limits(comparison, list(curves.values()), -BELOW_ZERO * top))
            axes.axhline(0.0, color=GREY, linewidth=0.8)
            for name, values in curves.items():
                draw_curve(axes, comparison.airspeed, values, style[name], width=1.5)
        return figure


def theory_curves(comparison: Comparison) -> dict[str, tuple[Array, Array]]:
    """The simple theories (speed ratio, thrust ratio), on the speed ratios of all candidates."""
    lapses = [result.lapse for result in comparison.candidates.values()]
    x, place = np.unique(np.concatenate([[0.0], *(lapse.speed_ratio for lapse in lapses)]),
                         return_index=True)
    curves = {}
    for text, name in (("constant power", "constant_power"),
                       ("constant pressure rise", "constant_pressure"),
                       ("constant jet speed", "constant_jet_speed"),
                       ("ideal open rotor", "open_rotor")):
        y = np.concatenate([[1.0], *(getattr(lapse, name) for lapse in lapses)])[place]
        curves[text] = (x[np.isfinite(x)], y[np.isfinite(x)])
    return curves


def shown_crossovers(comparison: Comparison) -> tuple[Crossover, ...]:
    """Crossovers in installed thrust, where thrust is left."""
    return tuple(one for one in thrust_crossings(comparison) if one.net_thrust > 0.0)


def _highest(curves: list[Array]) -> float:
    values = np.concatenate([curve[np.isfinite(curve)] for curve in curves])
    top = float(np.max(values, initial=0.0))
    return top if top > 0.0 else 1.0


def _highest_thrust(comparison: Comparison) -> float:
    results = comparison.candidates.values()
    return _highest([one.curve.installed_thrust for one in results]
                    + [one.count * one.curve.net_thrust for one in results])


def _airspeed_limits(comparison: Comparison, curves: list[Array],
                     low: float) -> tuple[float, float]:
    """The asked range, without the end at which every curve has left the frame."""
    x = comparison.airspeed
    inside = np.any([np.isfinite(curve) & (curve >= low) for curve in curves], axis=0)
    last = int(np.flatnonzero(inside)[-1]) if inside.any() else x.size - 1
    tops = [result.level.top_speed for result in comparison.candidates.values()
            if result.level is not None and np.isfinite(result.level.top_speed)]
    high = max([float(x[min(last + 1, x.size - 1)]), *(1.05 * top for top in tops)])
    low_speed, high_speed = span(float(x[0]), high)
    return (low_speed if x.size > 1 else min(low_speed, 0.97 * float(x[0]))), high_speed


def drag_range(comparison: Comparison) -> tuple[Array, Array]:
    """Least and greatest airframe drag over the candidates' masses, where the aircraft can fly."""
    flown = []
    for result in comparison.candidates.values():
        if result.drag is not None and result.level is not None:
            flying = comparison.airspeed >= result.level.stall_speed
            flown.append(np.where(flying & np.isfinite(result.drag), result.drag, np.nan))
    stacked = np.array(flown)
    known = np.isfinite(stacked).all(axis=0)
    filled = np.where(known, stacked, 0.0)
    return (np.where(known, filled.min(axis=0), np.nan),
            np.where(known, filled.max(axis=0), np.nan))


def _draw_drag(axes: Axes, comparison: Comparison, labels: Labels) -> Array | None:
    """Drag over the candidates' masses as a band; returns its upper edge."""
    if comparison.drag_area is None:
        return None
    low, high = drag_range(comparison)
    x = comparison.airspeed
    axes.fill_between(x, low, high, color=PALE, linewidth=0.0)
    for edge in (low, high):
        axes.plot(x, edge, color=GREY, linewidth=1.0)
    labels.avoid(x, high, "drag")
    return high


def _mark_crossovers(axes: Axes, comparison: Comparison, labels: Labels) -> None:
    crossings = shown_crossovers(comparison)
    for one in crossings:
        axes.plot([one.airspeed], [one.net_thrust], marker="o", markersize=9.0, linestyle="none",
                  markerfacecolor="none", markeredgecolor="#333333", markeredgewidth=1.1, zorder=5)
        labels.keep_off(one.airspeed, one.net_thrust, 6.0)
    leading = [one for one in crossings if changes_lead(comparison, one)]
    for one in leading[:MOST_LABELLED]:
        labels.at_point(one.airspeed, one.net_thrust, f"crossover {one.airspeed:.0f} m/s",
                        colour="#333333")


def marked_tops(comparison: Comparison) -> list[tuple[str, float, float]]:
    """Name, top speed [m/s] and thrust there [N] of every candidate that has a top speed."""
    return [(name, result.level.top_speed, result.at_top.installed_thrust.item())
            for name, result in comparison.candidates.items()
            if result.level is not None and result.at_top is not None]


def _mark_tops(axes: Axes, comparison: Comparison, labels: Labels) -> None:
    style = looks(comparison.candidates)
    for name, speed, thrust in marked_tops(comparison):
        axes.plot([speed], [thrust], marker="*", markersize=11.0, linestyle="none",
                  color=style[name].colour, markeredgecolor="white", markeredgewidth=0.6, zorder=5)
        labels.keep_off(speed, thrust, 6.0)
    for name, speed, thrust in marked_tops(comparison):
        labels.at_point(speed, thrust, f"top {speed:.0f} m/s", colour=style[name].colour,
                        owner=name)
