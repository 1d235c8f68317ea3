"""Figures of a sizing study: who is best where, and every kind's best along a power."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.colors import ListedColormap
from matplotlib.figure import Figure
from matplotlib.patches import Patch

from thrustlapse.arrays import Array, IntArray
from thrustlapse.report.figure_style import (
    draw_curve,
    folded,
    name_strip,
    new_figure,
    place_axes,
    strip_height,
    styled,
)
from thrustlapse.report.looks import GREY, KIND_FILLS, looks
from thrustlapse.report.saved_figures import Drawn
from thrustlapse.report.sizing.words import DRAG_AREAS, headline, read_aloud, sentences
from thrustlapse.study.sizing.domain import WhenResult, leading, over_others
from thrustlapse.study.sizing.flips import ranked

RATIOS = (0.25, 0.5, 0.75, 0.9, 1.0, 1.25, 1.5, 2.0)
"""Ratios of a kind's best to the best of the others that get a contour."""

SPEEDS = (10.0, 20.0, 30.0, 40.0, 50.0, 60.0, 80.0, 100.0, 120.0, 140.0)
"""Top speeds that get a contour [m/s]."""

ACROSS = 4
"""Small maps beside each other."""


def draw_when(result: WhenResult, name: str = "blower") -> list[Drawn]:
    """The map, with contours of how near one kind comes, and the cut."""
    said = " ".join([f"{headline(result)}.", *sentences(result)])
    drawn = [
        Drawn(name="when", title="Who is best where", figure=figure_map(result, name),
              caption="Each kind freely sized at every point, by installed thrust less the induced "
              f"drag of the unit's own weight. Contours: the best {name} over the best other. "
              "Hatched: no kind leads in 95 % of the draws. White: no thrust, or nothing within "
              "every limit. Dotted: up to there the best machine could fly this aircraft.",
              alt=said),
        Drawn(name="envelopes", title="Each kind at its best", figure=figure_cut(result),
              caption="Envelopes: at every airspeed another design. Grey: level drag of this "
              "aircraft without the unit, where the scenario has one.", alt=said)]
    if result.drag_area is not None and min(result.domain.shape) > 1:
        drawn.insert(1, Drawn(
            name="fastest", title="Who is fastest", figure=figure_fastest(result),
            caption="Level flight of aircraft of this mass and wing but other drag areas, each on "
            "the machine that is best at its top speed. Contours: that speed [m/s]. White: nothing "
            "carries it, or it flies beyond the highest airspeed looked at. Dotted: this aircraft.",
            alt=" ".join(sentences(result))))
    if len(result.flips) > 1:
        drawn.append(Drawn(
            name="flips", title="The map under other conditions",
            figure=figure_flips(result, name), alt=read_aloud(result, name),
            caption="One condition changed at a time, every design optimised anew, at every second "
            f"airspeed and power. Contour: where the best {name} and the best other tie."))
    return drawn


def _filled(axes: Axes, x: Array, y: Array, *, leader: IntArray, result: WhenResult
            ) -> list[Patch]:
    """Cells of a plane in the colour of the kind that leads there, y by ratio; its legend."""
    handles = []
    for place, kind in enumerate(result.names):
        fill = KIND_FILLS[result.best[kind].kind]
        held = np.ma.masked_where(leader != place, np.ones(leader.shape))
        if held.count():
            axes.pcolormesh(x, y, held, cmap=ListedColormap([fill]), linewidth=0.0,
                            antialiased=False)
            handles.append(Patch(facecolor=fill, edgecolor=GREY, label=kind))
    return handles


def _watts(axes: Axes, power: Array, *, fine: bool = True) -> None:
    """An axis of powers by ratio, from the first to the last."""
    axes.set_yscale("log")
    axes.set_ylim(*(np.exp(_edges(np.log(power))) if power.size == 1 else power[[0, -1]]))
    ticks = [tick for tick in (50, 100, 200, 300, 500, 1000, 2000, 3000, 5000, 10000)
             if power[0] <= tick <= power[-1]][::1 if fine else 2]
    axes.set_yticks(ticks, [f"{tick:g}" for tick in ticks])
    axes.minorticks_off()


def figure_map(result: WhenResult, name: str) -> Figure:
    """Plane of airspeed and power, filled by the leading kind."""
    domain, leader = result.domain, result.leader
    with styled():
        figure = new_figure(4.4)
        axes = place_axes(figure, left=0.75, bottom=0.95, top=0.4)
        figure.text(0.02, 0.965, "Which kind is best", fontweight="bold", fontsize=10.0, va="top")
        axes.grid(visible=False)
        handles = _filled(axes, _edges(domain.airspeed), np.exp(_edges(np.log(domain.power))),
                          leader=leader, result=result)
        _hatch(axes, result)
        _contours(axes, result, name)
        _reach(axes, result)
        _watts(axes, domain.power)
        axes.set_xlim(domain.airspeed[0], domain.airspeed[-1])
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


def figure_fastest(result: WhenResult) -> Figure:
    """Plane of drag area and power, filled by the kind on which such an aircraft is fastest."""
    power = result.domain.power
    speeds = {name: result.top_speed(name, DRAG_AREAS) for name in result.names}
    known = {name: np.where(np.isfinite(one), one, np.nan) for name, one in speeds.items()}
    beyond = np.any([np.isinf(one) for one in speeds.values()], axis=0)
    leader = np.where(beyond, -1, leading(known))
    best = np.ma.masked_where(leader < 0, np.max([np.nan_to_num(one) for one in known.values()],
                                                 axis=0))
    across = 1e4 * DRAG_AREAS
    with styled():
        figure = new_figure(4.0)
        axes = place_axes(figure, left=0.75, bottom=0.95, top=0.4)
        figure.text(0.02, 0.965, "On which kind an aircraft is fastest", fontweight="bold",
                    fontsize=10.0, va="top")
        axes.grid(visible=False)
        handles = _filled(axes, np.exp(_edges(np.log(across))), np.exp(_edges(np.log(power))),
                          leader=leader, result=result)
        if best.count() and np.ptp(best.compressed()) > 10.0:
            lines = axes.contour(across, power, best, levels=SPEEDS, colors="#333333",
                                 linewidths=0.9)
            axes.clabel(lines, fmt="%g", fontsize=7.5)
        if result.drag_area is not None:
            axes.axvline(1e4 * result.drag_area, color="black", linestyle="dotted", linewidth=1.6)
        _watts(axes, power)
        axes.set_xscale("log")
        axes.set_xticks(ticks := [1, 3, 10, 30, 100, 300, 1000], [f"{tick}" for tick in ticks])
        axes.minorticks_off()
        axes.set_xlim(across[0], across[-1])
        axes.set_xlabel("drag area [cm²]")
        axes.set_ylabel("electrical power [W]")
        if handles:
            figure.legend(handles=handles, loc="lower center", ncols=5, frameon=False, fontsize=8.5)
    return figure


def figure_flips(result: WhenResult, name: str) -> Figure:
    """A small map for each condition, in the order of the table."""
    shown = (result.flips[0], *ranked(result.flips[1:], name))
    rows = -(-len(shown) // ACROSS)
    with styled():
        high = 0.95 + 1.6 * rows
        figure = new_figure(high)
        grid = figure.subplots(rows, ACROSS, sharex=True, sharey=True, squeeze=False)
        handles: dict[str, Patch] = {}
        for axes, one in zip(grid.flat, shown, strict=False):
            leader = leading(one.values)
            x, y = _edges(one.domain.airspeed), np.exp(_edges(np.log(one.domain.power)))
            for patch in _filled(axes, x, y, leader=leader, result=result):
                handles.setdefault(str(patch.get_label()), patch)
            if name in one.values and min(leader.shape) > 1:
                ratio = np.ma.masked_invalid(over_others(one.values, name))
                if ratio.count() and ratio.min() < 1.0 < ratio.max():
                    axes.contour(one.domain.airspeed, one.domain.power, ratio, levels=[1.0],
                                 colors="black", linewidths=1.1)
            axes.grid(visible=False)
            axes.set_title(folded(one.words, 22), fontsize=7.5, fontweight="normal")
            _watts(axes, one.domain.power, fine=False)
            if one.domain.airspeed.size > 1:
                axes.set_xlim(*one.domain.airspeed[[0, -1]])
            axes.tick_params(labelsize=7.0)
        for axes in list(grid.flat)[len(shown):]:
            axes.set_axis_off()
        figure.supxlabel("airspeed [m/s]", fontsize=8.5, y=0.32 / high)
        figure.supylabel("electrical power [W]", fontsize=8.5, x=0.02)
        figure.subplots_adjust(left=0.1, right=0.98, top=1.0 - 0.5 / high, bottom=0.75 / high,
                               hspace=0.55, wspace=0.14)
        figure.legend(handles=list(handles.values()), loc="lower center", ncols=5, frameon=False,
                      fontsize=8.5)
    return figure


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
