"""Where to put the ruler: a blower from the side and from the front, its parts named."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from matplotlib.axes import Axes

NAME = "ruler.svg"
TITLE = "Where to put the ruler on a blower"
DESCRIBED = (
    "Two drawings of a blower. From the side: air enters past the lip, through the throat, the "
    "narrowest round of the inlet, to the eye, the hole of the wheel; a ruler lies across the "
    "throat. From the front: the scroll widens around the wheel and ends in the exit, where a "
    "second ruler lies across the inside.")

WALL, AIR, RULE = "#404040", "#2a6f97", "#b3261e"
WHEEL, TONGUE, THROUGH = 1.0, 1.15, 1.95
"""Radii of the wheel, of the scroll where it starts and where it ends."""


def save(folder: Path) -> Path:
    """Draw it into a folder; returns the file."""
    import matplotlib as mpl
    from matplotlib.figure import Figure

    with mpl.rc_context({"svg.hashsalt": "ruler", "svg.fonttype": "none", "font.size": 10}):
        figure = Figure(figsize=(8.4, 4.4), layout="constrained")
        side, front = figure.subplots(1, 2)
        _side(side)
        _front(front)
        for axes, title in ((side, "from the side, cut open"), (front, "from the front")):
            axes.set_aspect("equal")
            axes.set_axis_off()
            axes.set_title(title, fontsize=10)
        path = folder / NAME
        figure.savefig(path, metadata={"Date": None, "Title": TITLE, "Description": DESCRIBED})
    return path


def _side(axes: Axes) -> None:
    for sign in (1.0, -1.0):
        lip = np.linspace(0.5 * np.pi, 1.5 * np.pi, 30)
        axes.plot(-1.1 + 0.12 * np.cos(lip), sign * (0.62 + 0.12 * np.sin(lip)), color=WALL, lw=2)
        axes.plot([-1.1, -0.35, -0.3], [sign * 0.5, sign * 0.5, sign * 0.55], color=WALL, lw=2)
        axes.plot([-1.1, -0.3, -0.3, 0.45, 0.45], np.array([0.74, 0.74, 1.7, 1.7, 0.12]) * sign,
                  color=WALL, lw=2)
        axes.fill([-0.22, 0.18, 0.28, 0.28, 0.05, -0.1], np.array(
            [0.6, 0.16, 0.16, 1.15, 1.15, 1.0]) * sign, color="#c9d6df", ec=WALL, lw=1)
    axes.plot([0.1, 0.9], [0.0, 0.0], color=WALL, lw=4)
    for height in (-0.3, 0.0, 0.3):
        axes.annotate("", (-0.45, height), (-1.75, 1.4 * height), arrowprops={
            "arrowstyle": "->", "color": AIR})
    _ruler(axes, (-0.75, -0.5), (-0.75, 0.5))
    _name(axes, "lip", at=(-1.2, 0.66), text=(-1.8, 1.25))
    _name(axes, "throat: ruler across\nthe narrowest place", at=(-0.75, -0.4), text=(-1.55, -1.35))
    _name(axes, "eye", at=(-0.2, 0.52), text=(-0.85, 1.55))
    _name(axes, "wheel", at=(0.2, 0.9), text=(1.0, 1.35))
    _name(axes, "motor", at=(0.85, 0.0), text=(1.15, -0.6))
    axes.set_xlim(-2.3, 1.7)
    axes.set_ylim(-1.9, 1.9)


def _front(axes: Axes) -> None:
    turn = np.linspace(0.0, 2.0 * np.pi, 200)
    angle = np.linspace(-0.1, 1.5 * np.pi, 200)
    radius = TONGUE + (THROUGH - TONGUE) * (angle + 0.1) / (1.5 * np.pi + 0.1)
    # the scroll widens against the clock and leaves to the right along its bottom
    axes.plot(radius * np.cos(angle), radius * np.sin(angle), color=WALL, lw=2)
    axes.plot([0.0, 1.9, 2.6], [-THROUGH, -THROUGH, -1.85], color=WALL, lw=2)
    axes.plot([TONGUE, 1.5, 1.9, 2.6], [-0.12, -0.95, -1.1, -1.2], color=WALL, lw=2)
    axes.plot(WHEEL * np.cos(turn), WHEEL * np.sin(turn), color=WALL, lw=1)
    axes.plot(0.5 * np.cos(turn), 0.5 * np.sin(turn), color=WALL, lw=1, ls="--")
    for start in np.linspace(0.0, 2.0 * np.pi, 9)[:-1]:
        along = np.linspace(0.5, WHEEL, 20)
        axes.plot(along * np.cos(start - 0.7 * along), along * np.sin(start - 0.7 * along),
                  color=WALL, lw=0.8)
    axes.annotate("", (3.5, -1.52), (2.75, -1.52), arrowprops={"arrowstyle": "->", "color": AIR})
    _ruler(axes, (2.6, -1.84), (2.6, -1.21))
    _name(axes, "eye", at=(0.3, 0.35), text=(-0.3, 0.15))
    _name(axes, "scroll", at=(-1.5, 0.45), text=(-2.3, 1.5))
    _name(axes, "exit: ruler across\nthe inside", at=(2.6, -1.4), text=(2.6, -0.3))
    axes.set_xlim(-2.6, 3.6)
    axes.set_ylim(-2.2, 1.9)


def _ruler(axes: Axes, start: tuple[float, float], end: tuple[float, float]) -> None:
    axes.annotate("", end, start, arrowprops={"arrowstyle": "|-|", "color": RULE, "lw": 2,
                                              "shrinkA": 0, "shrinkB": 0, "mutation_scale": 4})


def _name(axes: Axes, words: str, *, at: tuple[float, float], text: tuple[float, float]) -> None:
    axes.annotate(words, at, text, ha="center", va="center", arrowprops={
        "arrowstyle": "-", "color": "#808080", "lw": 0.8})
