"""Figures of a sizing study: who is best where, and every kind's best along a power."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from thrustlapse.report.figure_style import (
    draw_curve,
    name_strip,
    new_figure,
    place_axes,
    strip_height,
    styled,
)
from thrustlapse.report.looks import GREY, KIND_FILLS, looks
from thrustlapse.report.saved_figures import Drawn
from thrustlapse.report.sizing.words import headline, sentences
from thrustlapse.study.sizing.domain import WhenResult

RATIOS = (0.25, 0.5, 0.75, 0.9, 1.0, 1.25, 1.5, 2.0)
"""Ratios of a kind's best to the best of the others that get a contour."""


def draw_when(result: WhenResult, name: str = "blower") -> list[Drawn]:
    """The map, with contours of how near one kind comes, and the cut."""
    said = " ".join([f"{headline(result)}.", *sentences(result)])
    return [
        Drawn(name="when", title="Who is best where", figure=figure_map(result, name),
              caption="Each kind freely sized at every point, by installed thrust less the induced "
              f"drag of the unit's own weight. Contours: the best {name} over the best other. "
              "Hatched: no kind leads in 95 % of the draws. White: no thrust, or nothing within "
              "every limit. Dotted: up to there the best machine could fly this aircraft.",
              alt=said),
        Drawn(name="envelopes", title="Each kind at its best", figure=figure_cut(result),
              caption="Envelopes: at every airspeed another design. Grey: level drag of this "
              "aircraft without the unit, where the scenario has one.", alt=said)]


def figure_map(result: WhenResult, name: str) -> Figure:
    """Plane of airspeed and power, filled by the leading kind."""
    domain, leader = result.domain, result.leader
    with styled():
        figure = new_figure(4.4)
        axes = place_axes(figure, left=0.75, bottom=0.95, top=0.4)
        figure.text(0.02, 0.965, "Which kind is best", fontweight="bold", fontsize=10.0, va="top")
        axes.grid(visible=False)
        handles = []
        for place, kind in enumerate(result.names):
            fill = KIND_FILLS[result.best[kind].kind]
            held = np.ma.masked_where(leader != place, np.ones(leader.shape))
            if held.count():
                axes.pcolormesh(_edges(domain.airspeed), np.exp(_edges(np.log(domain.power))),
                                held, cmap=ListedColormap([fill]), linewidth=0.0,
                                antialiased=False)
                handles.append(Patch(facecolor=fill, edgecolor=GREY, label=kind))
        _hatch(axes, result)
        _contours(axes, result, name)
        _reach(axes, result)
        axes.set_yscale("log")
        ticks = [tick for tick in (50, 100, 200, 300, 500, 1000, 2000, 3000, 5000, 10000)
                 if domain.power[0] <= tick <= domain.power[-1]]
        axes.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
        axes.minorticks_off()
        axes.set_xlim(domain.airspeed[0], domain.airspeed[-1])
        axes.set_ylim(*(np.exp(_edges(np.log(domain.power))) if domain.power.size == 1
                        else domain.power[[0, -1]]))
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel("electrical power [W]")
        handles.append(Patch(facecolor="white", edgecolor=GREY, hatch="////",
                             label="not settled"))
        figure.legend(handles=handles, loc="lower center", ncols=5, frameon=False, fontsize=8.5,
                      handlelength=1.4, columnspacing=1.2)
    return figure


def _edges(values: np.ndarray) -> np.ndarray:
    if values.size == 1:
        return np.asarray(values + np.array([-0.5, 0.5]))
    middle = 0.5 * (values[1:] + values[:-1])
    return np.concatenate([[2.0 * values[0] - middle[0]], middle, [2.0 * values[-1] - middle[-1]]])


def _hatch(axes: Axes, result: WhenResult) -> None:
    most = np.stack([result.chance[name] for name in result.names]).max(axis=0)
    loose = np.ma.masked_where((most >= 0.95) | (result.leader < 0), np.ones(most.shape))
    if loose.count():
        axes.pcolor(_edges(result.domain.airspeed), np.exp(_edges(np.log(result.domain.power))),
                    loose, hatch="////", alpha=0.0)


def _contours(axes: Axes, result: WhenResult, name: str) -> None:
    if name not in result.best or min(result.domain.shape) < 2:
        return
    ratio = np.ma.masked_invalid(result.ratio(name))
    levels = [level for level in RATIOS if ratio.count() and ratio.min() < level < ratio.max()]
    if levels:
        lines = axes.contour(result.domain.airspeed, result.domain.power, ratio, levels=levels,
                             colors="#333333", linewidths=0.9)
        axes.clabel(lines, fmt=lambda level: f"{level:g}", fontsize=7.5)


def _reach(axes: Axes, result: WhenResult) -> None:
    """Where the airframe's own drag area is the threshold of the best machine."""
    if result.drag_area is None or min(result.domain.shape) < 2:
        return
    best = np.stack([np.nan_to_num(result.threshold(name), nan=-np.inf, posinf=np.inf)
                     for name in result.names]).max(axis=0)
    share = np.clip(best[:, 1:] / result.drag_area, 0.0, 10.0)
    if share.min() < 1.0 < share.max():
        axes.contour(result.domain.airspeed[1:], result.domain.power, share, levels=[1.0],
                     colors="black", linestyles="dotted", linewidths=1.6)


def figure_cut(result: WhenResult) -> Figure:
    """Thrust of every kind's best over airspeed, at the middle power."""
    row = result.domain.power.size // 2
    x = result.domain.airspeed
    lines = looks(result.best)
    with styled():
        top = strip_height(result.names)
        figure = new_figure(3.6 + top)
        axes = place_axes(figure, left=0.75, bottom=0.55, top=0.4 + top)
        name_strip(figure, lines)
        axes.set_title(f"Each kind at its best, {result.domain.power[row]:.0f} W")
        for name, one in result.best.items():
            draw_curve(axes, x, one.value[row], lines[name])
        if result.drag_area is not None:
            axes.plot(x, result.base_drag + result.drag_area * result.dynamic_pressure,
                      color=GREY, linewidth=1.2)
        known = np.concatenate([one.value[row, 1:] for one in result.best.values()])
        best = np.nanmax(known) if np.isfinite(known).any() else 1.0
        axes.set_ylim(min(0.0, -0.05 * best), 1.1 * best)
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel("thrust less own induced drag [N]")
    return figure
