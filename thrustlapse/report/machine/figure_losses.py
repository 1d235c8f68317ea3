"""Where a machine's shaft power goes at every flow: shares stacked from the useful head upwards."""

from __future__ import annotations

from typing import Any

import numpy as np
from matplotlib.figure import Figure

from thrustlapse.report.figure_style import new_figure, place_axes
from thrustlapse.report.looks import COLOURS, GREY
from thrustlapse.study.machine import MachineStudy

MOST_NAMED = 7
"""Losses that get a layer of their own; the smaller ones share one."""

HATCHES = ("", "//", "..", "\\\\", "xx", "--", "++", "oo")


def draw_losses(study: MachineStudy) -> Figure:
    """Figure of the shares of shaft power over the flow coefficient, where the machine pumps."""
    pumps = np.isfinite(study.output) & (study.output > 0.0) & (study.cost > 0.0)
    flow = study.variable[pumps]
    shares = {name: np.nan_to_num(np.broadcast_to(share, study.variable.shape)[pumps])
              for name, share in study.shares.items()}
    layers = _layers(shares)
    figure = new_figure(4.05)
    axes = place_axes(figure, left=0.6, bottom=0.5, right=1.75, top=0.5)
    below = np.zeros(flow.shape)
    places = []
    for place, (name, share) in enumerate(layers):
        colour = "#dddddd" if place == 0 else COLOURS[place % len(COLOURS)]
        axes.fill_between(flow, 100.0 * below, 100.0 * (below + share), facecolor=colour,
                          alpha=1.0 if place == 0 else 0.75, edgecolor="white", linewidth=0.6,
                          hatch=HATCHES[place % len(HATCHES)])
        places.append((name, 100.0 * float(below[-1] + 0.5 * share[-1])))
        below = below + share
    _names(axes, places)
    if study.stall is not None and flow[0] < study.stall < flow[-1]:
        axes.axvline(study.stall, color=GREY, linewidth=1.0, linestyle=(0, (4, 3)))
        axes.text(study.stall, 101.0, "stall side ends", color=GREY, fontsize=8, ha="center",
                  va="bottom")
    axes.set_xlim(flow[0], flow[-1])
    axes.set_ylim(0.0, 100.0)
    axes.set_xlabel("flow coefficient [-]")
    axes.set_ylabel("share of shaft power [%]")
    axes.set_title(f"Where the shaft power of {study.name} goes", y=1.05)
    return figure


def _layers(shares: dict[str, Any]) -> list[tuple[str, Any]]:
    """Useful head first, then the largest losses; what is small everywhere goes together."""
    useful = "head delivered"
    losses = sorted((name for name in shares if name != useful),
                    key=lambda name: -float(np.mean(shares[name])))
    layers = [(useful, shares[useful])]
    layers += [(name, shares[name]) for name in losses[:MOST_NAMED]]
    rest = losses[MOST_NAMED:]
    if rest:
        layers.append(("the rest", np.sum([shares[name] for name in rest], axis=0)))
    return layers


def _names(axes: Any, places: list[tuple[str, float]]) -> None:
    """Names beside the right edge, at their layers where there is room, never on each other."""
    step, level = 6.5, -6.5
    for place, (name, middle) in enumerate(places):
        level = max(level + step, min(middle, 100.0 - step * (len(places) - 1 - place)))
        axes.annotate(name, xy=(1.0, middle), xycoords=("axes fraction", "data"),
                      xytext=(1.06, level), textcoords=("axes fraction", "data"), fontsize=8.5,
                      va="center", annotation_clip=False,
                      arrowprops={"arrowstyle": "-", "color": GREY, "linewidth": 0.7,
                                  "relpos": (0.0, 0.5), "shrinkA": 1.0, "shrinkB": 1.0})
