"""Figures of the machines: where the watts go, nozzles, efficiency, and what limits the drive."""

from __future__ import annotations

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.arrays import Array
from thrustlapse.glossary import quantity, shown, unit_text
from thrustlapse.report.comparison.power_breakdown import USES, Breakdown, breakdowns
from thrustlapse.report.comparison.ranking import runs
from thrustlapse.report.figure_labels import Labels, end_labels
from thrustlapse.report.figure_style import (
    abreast,
    draw_curve,
    figure_width,
    folded,
    name_strip,
    narrow,
    new_figure,
    place_axes,
    shortened,
    span,
    strip_height,
    styled,
)
from thrustlapse.report.looks import GREY, looks
from thrustlapse.study.comparison import CandidateResult, Comparison
from thrustlapse.study.nozzle_size import NozzleStudy

BELOW_ZERO = 0.08

"""Width of axes that span the figure [inch]."""

LIMIT_COLOURS = {
    "power": "#E69F00", "full voltage": "#56B4E9", "motor current": "#CC79A7",
    "supply current": "#D55E00", "speed": "#009E73", "freewheeling": "#c9c9c9",
    "motor rating": "#F0E442", "regenerating": "#0072B2",
}


def figure_watts(comparison: Comparison) -> Figure:
    """Where each candidate's pack power goes, at rest and at its top speed, as shares."""
    with styled():
        bars = [(name, one) for name in comparison.candidates
                for one in breakdowns(comparison, name)]
        key = 0.22 * -(-len(USES) // (2 * abreast(2))) + 0.1
        figure = new_figure(0.95 + key + 0.34 * len(bars) + 0.24 * len(comparison.candidates))
        axes = place_axes(figure, left=1.45, bottom=0.5, top=0.4 + key, right=0.2)
        _heading(figure, "Where the watts go")
        axes.set_xlabel("share of the pack's power [%]" if narrow() else
                        "share of electrical power at the pack terminals [%]")
        axes.grid(axis="y", visible=False)
        axes.set_xlim(0.0, 100.0)
        y, ticks, last = 0.0, [], ""
        for name, one in bars:
            if name != last:
                axes.text(-1.32 / (figure_width() - 1.65), y + 0.66, shortened(name),
                          transform=axes.get_yaxis_transform(), va="center", ha="left",
                          fontsize=8.5, fontweight="bold",
                          bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6})
                y, last = y + 1.4, name
            _draw_bar(axes, y, one)
            ticks.append((y, f"{one.when}, {one.power:.0f} W"))
            y += 1.0
        axes.set_ylim(y - 0.4, 0.2)
        axes.set_yticks([tick for tick, _ in ticks], [text for _, text in ticks])
        axes.tick_params(axis="y", length=0)
        _key(figure, top=0.34)
        return figure


def _draw_bar(axes: Axes, y: float, one: Breakdown) -> None:
    start = 0.0
    for use, power in zip(USES, one.parts, strict=True):
        share = 100.0 * power / one.power
        axes.barh(y, share, left=start, height=0.8, color=use.colour, edgecolor="white",
                  linewidth=0.8)
        if share >= 4.0:
            axes.text(start + 0.5 * share, y, f"{share:.0f}", ha="center", va="center",
                      fontsize=8.0, color=use.ink)
        start += share


def _heading(figure: Figure, text: str) -> None:
    wide, high = figure.get_size_inches()
    figure.text(0.1 / wide, 1.0 - 0.18 / high, text, fontsize=10.0, fontweight="bold",
                va="center", ha="left")


def _key(figure: Figure, *, top: float) -> None:
    wide, high = figure.get_size_inches()
    for place, use in enumerate(USES):
        row, column = divmod(place, 2 * abreast(2))
        x, y = 0.1 + 0.49 / abreast(2) * wide * column, high - top - 0.22 * row - 0.13
        figure.add_artist(matplotlib.patches.Rectangle(
            (x / wide, (y - 0.06) / high), 0.13 / wide, 0.13 / high, facecolor=use.colour))
        figure.text((x + 0.19) / wide, y / high, use.name, fontsize=8.0, va="center", ha="left")


def figure_nozzle(comparison: Comparison) -> Figure | None:
    """Installed thrust against nozzle exit diameter at several airspeeds; None without a nozzle."""
    studies = {name: result.nozzle for name, result in comparison.candidates.items()
               if result.nozzle is not None}
    if not studies:
        return None
    with styled():
        columns = min(len(studies), abreast(2))
        rows = (len(studies) + columns - 1) // columns
        each = 3.3 if columns > 1 or narrow() else 4.2
        figure = new_figure(rows * each)
        wide = figure.get_size_inches()[0]
        for place, (name, study) in enumerate(studies.items()):
            row, column = divmod(place, columns)
            axes = place_axes(figure, left=0.62 + column * wide / columns, top=row * each + 0.5,
                              right=0.65 + (columns - 1 - column) * wide / columns,
                              bottom=(rows - 1 - row) * each + 0.5)
            axes.set_title(folded(name, 25 if columns > 1 else 60, lines=2), fontsize=9.0)
            axes.set_xlabel("nozzle exit diameter [mm]")
            axes.set_ylabel("installed thrust, all units [N]")
            _nozzle_panel(axes, study)
        return figure


def _nozzle_panel(axes: Axes, study: NozzleStudy) -> None:
    x = 1000.0 * study.diameter
    known = study.thrust[np.isfinite(study.thrust)]
    top = float(np.max(known, initial=0.0)) or 1.0
    axes.set_ylim(-BELOW_ZERO * top, 1.25 * top)
    axes.set_xlim(float(x[0]), float(x[-1]) * 1.005)
    axes.axhline(0.0, color=GREY, linewidth=0.8)
    labels = Labels(axes=axes)
    fixed = 1000.0 * study.fixed_diameter
    axes.axvline(fixed, color=GREY, linewidth=1.0, linestyle=(0, (4, 2)))
    labels.avoid(np.array([fixed, fixed]), np.array(axes.get_ylim()))
    shades = [matplotlib.colors.to_hex(shade) for shade in
              matplotlib.colormaps["cividis"](np.linspace(0.0, 0.72, study.airspeed.size))]
    shown = np.unique(study.airspeed, return_index=True)[1].tolist()
    for column in shown:
        shade = shades[column]
        axes.plot(x, study.thrust[:, column], color=shade, linewidth=1.4)
        labels.avoid(x, study.thrust[:, column], str(column))
        axes.plot([1000.0 * study.best_diameter[column]], [study.best_thrust[column]], marker="o",
                  color=shade, markersize=5.0, linestyle="none")
    labels.at_point(fixed, 1.17 * top, f"as built, {fixed:.1f} mm", colour=GREY)
    curves = [(x, study.thrust[:, column], f"{study.airspeed[column]:.0f} m/s", shades[column])
              for column in shown]
    for place in end_labels(axes, curves):
        _, y, text, colour = curves[place]
        labels.on_curve(x, y, text, owner=str(shown[place]), colour=colour, size=7.5)


def figure_efficiency(comparison: Comparison) -> Figure:
    """Overall and propulsive efficiency, and the share of the momentum-theory bound reached."""
    with styled():
        strip = strip_height(comparison.candidates)
        panels = efficiencies(comparison)
        columns = abreast(ABREAST)
        rows, below = -(-len(panels) // columns), 2.4 if narrow() else 3.0
        figure = new_figure(rows * below + strip)
        name_strip(figure, looks(comparison.candidates))
        each = figure_width() / columns
        style = looks(comparison.candidates)
        for place, (title, curves) in enumerate(panels.items()):
            row, column = divmod(place, columns)
            axes = place_axes(figure, left=0.5 + column * each,
                              right=0.12 + (columns - 1 - column) * each,
                              top=strip + 0.36 + row * below,
                              bottom=0.5 + (rows - 1 - row) * below)
            axes.set_title(title, fontsize=9.0)
            axes.set_xlabel("airspeed [m/s]")
            _share_limits(axes, comparison.airspeed, list(curves.values()),
                          least=5.0 if "[%]" in title else 0.0)
            for name, curve in curves.items():
                draw_curve(axes, comparison.airspeed, curve, style[name], width=1.5, ends=False)
        return figure


ABREAST = 3
"""Panels beside each other on a page."""

IDEAL = "of ideal thrust [%]"


def efficiencies(comparison: Comparison) -> dict[str, dict[str, Array]]:
    """Curves by title and candidate, where there is thrust to use, as people read them."""
    found = {}
    for word in map(quantity, shown("figure")):
        unit = unit_text(word.display_unit)
        title = word.words.removesuffix(" efficiency") + (f" [{unit}]" if unit else "")
        found[title] = {name: _with_thrust(result, word.factor * getattr(result.curve, word.name)
                                           + word.offset)
                        for name, result in comparison.candidates.items()}
    with np.errstate(invalid="ignore", divide="ignore"):
        found[IDEAL] = {name: _with_thrust(result, 100.0 * result.curve.net_thrust
                                           / result.curve.ideal_thrust)
                        for name, result in comparison.candidates.items()}
    return found


def _with_thrust(result: CandidateResult, values: Array) -> Array:
    return np.where((result.curve.net_thrust >= 0.0) & (values >= 0.0), values, np.nan)


def _share_limits(axes: Axes, x: Array, curves: list[Array], *, least: float) -> None:
    values = np.concatenate([curve[np.isfinite(curve)] for curve in curves])
    axes.set_ylim(0.0, max(1.1 * float(np.max(values, initial=0.0)), least) or 1.0)
    known = np.any([np.isfinite(curve) for curve in curves], axis=0)
    last = float(x[known][-1]) if known.any() else float(x[-1])
    axes.set_xlim(*span(float(x[0]), last))


def figure_drive(comparison: Comparison) -> Figure:
    """Electrical power against airspeed, and which limit of the drive holds it where."""
    with styled():
        names = list(comparison.candidates)
        strip = strip_height(names)
        rows = 0.5 * len(names)
        figure = new_figure(strip + 0.36 + 2.3 + 0.75 + rows + 0.45)
        style = looks(comparison.candidates)
        name_strip(figure, style)
        x = comparison.airspeed
        power = place_axes(figure, left=0.62, bottom=rows + 1.2, top=strip + 0.36)
        power.set_title("Electrical power, all units [W]", fontsize=9.0)
        curves = {name: result.curve.electrical_power
                  for name, result in comparison.candidates.items()}
        known = np.concatenate([curve[np.isfinite(curve)] for curve in curves.values()])
        power.set_ylim(0.0, 1.12 * (float(np.max(known, initial=0.0)) or 1.0))
        power.set_xlim(*span(float(x[0]), float(x[-1])))
        for name, curve in curves.items():
            draw_curve(power, x, curve, style[name], width=1.5)
        active = place_axes(figure, left=0.62, bottom=0.5,
                            top=strip + 0.36 + 2.3 + 0.7)
        active.set_title("Which limit of the drive is active", fontsize=9.0)
        active.set_xlabel("airspeed [m/s]")
        active.set_xlim(*power.get_xlim())
        active.set_ylim(len(names) - 0.5, -0.5)
        active.set_yticks([])
        active.grid(axis="y", visible=False)
        for row, (name, result) in enumerate(comparison.candidates.items()):
            _limit_row(active, row, x, result.curve.drive_limit.tolist())
            active.text(0.0, row - 0.33, shortened(name), va="center", fontsize=8.0,
                        transform=active.get_yaxis_transform(), color=style[name].colour)
        return figure


def _limit_row(axes: Axes, row: int, x: Array, limits: list[str]) -> None:
    low, high = axes.get_xlim()
    known = [run for run in runs(x, limits) if run[2] != "none"]
    for place, (start, stop, limit) in enumerate(known):
        if stop <= start:
            start, stop = start - 0.4, stop + 0.4
        axes.barh(row + 0.12, stop - start, left=start, height=0.5, color=LIMIT_COLOURS[limit],
                  edgecolor="white", linewidth=0.8)
        scale = (high - low) / (figure_width() - 0.77)
        needed = (0.057 * len(limit) + 0.08) * scale
        if 0.87 * needed < stop - start:
            axes.text(0.5 * (start + stop), row + 0.12, limit, ha="center", va="center",
                      fontsize=7.5 if needed < stop - start else 7.0)
        elif place == len(known) - 1 and stop + needed < high:
            axes.text(stop + 0.06 * scale, row + 0.12, limit, ha="left", va="center", fontsize=7.5)
