"""Predicted against measured propellers, for the README's accuracy section.

Made by ``python -m tests.refresh_reports`` from ``tests.rotor.measured_propellers``.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
from matplotlib.figure import Figure

from tests.rotor.measured_propellers import SUSPECT, Tested, measured_propellers
from thrustlapse.report.figure_style import new_figure, place_axes, styled
from thrustlapse.report.looks import COLOURS, GREY, MARKERS
from thrustlapse.rotor.propeller.blades import SEA_LEVEL, blade_loads
from thrustlapse.rotor.propeller.geometry import UNKNOWN_SECTION

BANDS = {True: (0.05, 0.07), False: (0.10, 0.12)}
"""Band of CT and CP over their peaks that is aimed for, by whether the section is known."""


def predicted(one: Tested) -> tuple[np.ndarray, np.ndarray]:
    """CT and CP by blade elements at a propeller's measured points."""
    found = blade_loads(one.geometry, air=SEA_LEVEL, shaft_speed=one.shaft_speed,
                        advance_ratio=one.advance_ratio)
    return found.thrust, found.power


def draw() -> Figure:
    """Two panels, CT and CP over their peaks; a dot per measured point, one mark per propeller."""
    figure = new_figure(3.9, width=8.4)
    panels = [place_axes(figure, left=0.6, bottom=0.5, right=5.3),
              place_axes(figure, left=3.65, bottom=0.5, right=2.25)]
    handles = []
    for place, one in enumerate(measured_propellers()):
        suspect = one.name in SUSPECT
        known = one.geometry.section != UNKNOWN_SECTION
        marker = MARKERS[(3 * place + place // 7) % len(MARKERS)]
        colour = GREY if suspect else COLOURS[place % len(COLOURS)]
        for axes, found, measured in zip(panels, predicted(one), (one.thrust, one.power),
                                         strict=True):
            dots, = axes.plot(measured / measured.max(), found / measured.max(),
                              linestyle="none", marker=marker, markersize=4.0, color=colour,
                              markeredgewidth=0.9,
                              markerfacecolor="none" if known else colour, label=(
                                  f"{one.name}{' (suspect data)' if suspect else ''}"))
        handles.append(dots)
    figure.legend(handles=handles, loc="center left", bbox_to_anchor=(1.0 - 2.15 / 8.4, 0.52),
                  frameon=False, fontsize=8, title="open: section known\nfilled: unknown",
                  title_fontsize=8, alignment="left")
    line = np.array([-0.1, 1.1])
    for axes, name, place in zip(panels, ("thrust CT", "power CP"), (0, 1), strict=True):
        axes.plot(line, line, color="black", linewidth=1.0)
        for band in {BANDS[True][place], BANDS[False][place]}:
            for side in (-band, band):
                axes.plot(line, line + side, color=GREY, linewidth=0.7, linestyle=(0, (4, 3)))
        axes.set_xlim(-0.08, 1.08)
        axes.set_ylim(-0.08, 1.25)
        axes.set_xlabel(f"measured {name} over its peak [-]")
        axes.set_title(f"predicted {name}")
    return figure


def save(folder: Path) -> None:
    """Write the figure as SVG and PNG."""
    folder.mkdir(parents=True, exist_ok=True)
    with styled():
        figure = draw()
        figure.savefig(folder / "propellers.svg", metadata={"Date": None})
        figure.savefig(folder / "propellers.png", dpi=200)
