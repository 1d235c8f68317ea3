"""Figures of how sure the answers are: bands on curves, chances by airspeed, what drives what."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.arrays import Array
from thrustlapse.report.figure_style import (
    folded,
    narrow,
    new_figure,
    place_axes,
    shortened,
    styled,
)
from thrustlapse.report.looks import GREY, looks
from thrustlapse.report.uncertainty.register_lines import input_words
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.uncertainty_results import CurveBand, Drivers, UncertaintyStudy

LEAST_KNOWN = 0.5
"""Share of the draws with a value below which a band is not drawn [-]."""

MOST_PAIRS = 6
MOST_BARS = 7
MOST_ANSWERS = 4


def draw_band(axes: Axes, x: Array, band: CurveBand, colour: str) -> None:
    """A band behind its curve, where at least half of the draws have a value."""
    shown = band.known >= LEAST_KNOWN
    axes.fill_between(x, np.where(shown, band.low, np.nan), np.where(shown, band.high, np.nan),
                      color=colour, alpha=0.16, linewidth=0.0, zorder=1)


def draw_thrust_bands(axes: Axes, comparison: Comparison) -> None:
    """Bands of installed thrust; nothing where nothing was drawn."""
    study = comparison.uncertainty
    for name, look in looks(comparison.candidates).items() if study else ():
        assert study is not None
        draw_band(axes, study.airspeed, study.candidates[name].bands["installed_thrust"],
                  look.colour)


def draw_lapse_bands(axes: Axes, comparison: Comparison) -> None:
    """Bands of the share of static thrust left, over the nominal jet speed at rest."""
    study = comparison.uncertainty
    for name, look in looks(comparison.candidates).items() if study else ():
        assert study is not None
        jet = comparison.candidates[name].at_rest.jet_speed.item()
        if np.isfinite(jet) and jet > 0.0:
            draw_band(axes, study.airspeed / jet, study.candidates[name].bands["thrust_ratio"],
                      look.colour)


def figure_power_band(comparison: Comparison) -> Figure | None:
    """Electrical power with its band; None where nothing was drawn."""
    study = comparison.uncertainty
    if study is None:
        return None
    with styled():
        figure = new_figure(2.9)
        axes = place_axes(figure, left=0.62, bottom=0.5, right=1.3)
        axes.set_title("Electrical power, nine draws in ten")
        axes.set_xlabel("airspeed [m/s]")
        axes.set_ylabel("electrical power [W]")
        style = looks(comparison.candidates)
        top = 0.0
        for name, one in study.candidates.items():
            band = one.bands["electrical_power"]
            draw_band(axes, study.airspeed, band, style[name].colour)
            known = np.where(band.known >= LEAST_KNOWN, band.median, np.nan)
            axes.plot(study.airspeed, known, color=style[name].colour,
                      linestyle=style[name].dash, linewidth=1.4, label=folded(name, 16))
            top = max(top, float(np.nanmax(band.high)))
        axes.set_ylim(0.0, 1.1 * top)
        axes.set_xlim(0.0, float(study.airspeed[-1]))
        axes.legend(loc="center left", bbox_to_anchor=(1.01, 0.5), frameon=False, fontsize=8.0,
                    handlelength=3.0)
        return figure


def figure_chances(comparison: Comparison) -> Figure | None:
    """Of 100 draws, in how many one candidate beats another, at every airspeed."""
    study = comparison.uncertainty
    if study is None or not study.pairs:
        return None
    pairs = study.pairs[:MOST_PAIRS]
    with styled():
        high = 1.55
        figure = new_figure(0.55 + high * len(pairs))
        style = looks(comparison.candidates)
        for place, pair in enumerate(pairs):
            axes = place_axes(figure, left=0.62, right=1.35,
                              top=0.32 + high * place, bottom=0.5 + high * (len(pairs) - 1 - place))
            x = study.airspeed
            first, second = 100.0 * pair.first_wins, 100.0 * pair.second_wins
            axes.fill_between(x, 0.0, first, color=style[pair.first].colour, alpha=0.22,
                              linewidth=0.0)
            axes.fill_between(x, 100.0 - second, 100.0, color=style[pair.second].colour,
                              alpha=0.22, linewidth=0.0)
            axes.fill_between(x, first, 100.0 - second, facecolor="white", edgecolor=GREY,
                              hatch="////", linewidth=0.0)
            axes.plot(x, first, color=style[pair.first].colour, linestyle=style[pair.first].dash,
                      linewidth=1.6)
            axes.set_ylim(0.0, 100.0)
            axes.set_xlim(0.0, float(x[-1]))
            axes.set_yticks([0, 50, 100])
            axes.set_ylabel("of 100 draws")
            if place == len(pairs) - 1:
                axes.set_xlabel("airspeed [m/s]")
            else:
                axes.tick_params(labelbottom=False)
            axes.set_title(shortened(f"{pair.first} against {pair.second}", 60), fontsize=9.0)
            axes.text(1.02, 0.15, folded(f"below: {pair.first} wins", 18), fontsize=8.0,
                      color=style[pair.first].colour, transform=axes.transAxes, va="center")
            axes.text(1.02, 0.8, folded(f"above: {pair.second} wins", 18), fontsize=8.0,
                      color=style[pair.second].colour, transform=axes.transAxes, va="center")
        return figure


def shown_drivers(study: UncertaintyStudy) -> list[Drivers]:
    """Answers whose drivers are drawn: the lead, then top speeds, then static thrusts."""
    order = ("lead", "top speed", "static thrust")
    ranked = sorted(study.drivers, key=lambda one: [one.answer.startswith(word)
                                                    for word in order].index(True))
    return ranked[:MOST_ANSWERS]


def figure_drivers(comparison: Comparison) -> Figure | None:
    """Share of the variance of the main answers that each input causes, the strongest first."""
    study = comparison.uncertainty
    if study is None or not study.drivers:
        return None
    answers = shown_drivers(study)
    with styled():
        bar, gap = 0.27 if narrow() else 0.21, 0.62
        heights = [bar * min(len(one.drivers), MOST_BARS) for one in answers]
        figure = new_figure(0.45 + sum(heights) + gap * len(answers))
        above = 0.4
        for place, (one, height) in enumerate(zip(answers, heights, strict=True)):
            below = figure.get_size_inches()[1] - above - height
            axes = place_axes(figure, left=1.75 if narrow() else 2.75, right=0.3, top=above,
                              bottom=below)
            _bars(axes, one)
            if place == len(answers) - 1:
                axes.set_xlabel("share of the variance [%]" if narrow() else
                                "share of the variance [%]; dark: by itself, pale: in all")
            above += height + gap
        return figure


def _bars(axes: Axes, one: Drivers) -> None:
    shown = one.drivers[:MOST_BARS]
    y = np.arange(len(shown))[::-1]
    total = np.array([100.0 * max(each.total, 0.0) for each in shown])
    first = np.array([100.0 * max(each.first, 0.0) for each in shown])
    error = np.array([100.0 * each.total_error for each in shown])
    axes.barh(y, total, height=0.72, color="#9ecae1")
    axes.barh(y, first, height=0.36, color="#0072B2")
    axes.errorbar(total, y, xerr=error, fmt="none", ecolor=GREY, elinewidth=1.0, capsize=2.0)
    names = [input_words(each.key) for each in shown]
    if narrow():
        axes.set_yticks(y, [folded(name, 24, lines=2) for name in names], fontsize=7.5,
                        linespacing=0.95)
    else:
        axes.set_yticks(y, [shortened(name, 40) for name in names])
    axes.set_ylim(-0.6, len(shown) - 0.4)
    axes.set_xlim(0.0, 100.0)
    axes.grid(visible=False, axis="y")
    axes.set_title(shortened(f"{one.answer}, nominally {one.nominal:.3g} {one.unit}",
                             38 if narrow() else 60), fontsize=9.0, x=-1.1 if narrow() else -0.6)
