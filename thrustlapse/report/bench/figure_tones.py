"""The spectrum of a recording: what stands out of the noise, and what it was taken for."""

from __future__ import annotations

import math
from pathlib import Path

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.bench.blade_tone import ToneChoice
from thrustlapse.bench.tone import Tones
from thrustlapse.glossary import read_as
from thrustlapse.report.atomic_write import whole_file
from thrustlapse.report.figure_style import new_figure, place_axes, styled
from thrustlapse.report.looks import COLOURS, GREY

MOST_NAMED = 6
"""Tones that get their frequency written beside them."""

KINDS = (".svg", ".png", ".pdf")
"""File endings a figure may have."""


def draw_tones(tones: Tones, choice: ToneChoice, *, blades: int) -> Figure:
    """Figure of the level above the noise over frequency, the lines of the chosen speed marked."""
    figure = new_figure(3.4)
    axes = place_axes(figure, left=0.6, bottom=0.5, right=0.2, top=0.4)
    axes.plot(tones.bins / 1000.0, tones.spectrum, color=GREY, linewidth=0.7)
    axes.axhline(tones.threshold, color=COLOURS[2], linewidth=1.2, linestyle=(0, (5, 3)))
    axes.text(0.995, tones.threshold, f"a tone stands above {tones.threshold:.0f} dB",
              color=COLOURS[2], fontsize=8, ha="right", va="bottom",
              transform=axes.get_yaxis_transform())
    heard = tones.frequency / 1000.0
    axes.plot(heard, tones.level, color=COLOURS[1], linestyle="none", marker="o",
              markerfacecolor="white", markersize=5)
    half = tones.rate / 2000.0
    top = max(float(np.max(tones.spectrum)), tones.threshold) + 4.0
    if choice.chosen:
        top += 9.0
        _mark_lines(axes, choice, blades=blades, half=half, top=top)
    _name_tones(axes, tones)
    axes.set_xlim(0.0, half)
    axes.set_ylim(max(float(np.min(tones.spectrum)), -10.0), top)
    axes.set_xlabel("frequency [kHz]")
    axes.set_ylabel("level above the noise beside it [dB]")
    axes.set_title(_title(choice), y=1.02)
    return figure


def _title(choice: ToneChoice) -> str:
    if not choice.chosen:
        return "Tones of the recording: no shaft speed decided"
    speed = read_as(choice.meanings[0].speed, "rpm")
    return f"Tones of the recording: {speed:.0f} rpm"


def _mark_lines(axes: Axes, choice: ToneChoice, *, blades: int, half: float, top: float) -> None:
    """Where shaft and blade pass of the chosen speed lie, below half the sampling rate."""
    shaft = choice.meanings[0].speed / math.tau / 1000.0
    for name, order in (("shaft", 1), ("blade pass", blades), ("twice", 2 * blades)):
        if shaft * order < half:
            axes.axvline(shaft * order, color=COLOURS[3], linewidth=1.0, linestyle=(0, (1.2, 1.2)),
                         zorder=0)
            right = shaft * order > 0.8 * half
            axes.annotate(name, (shaft * order, top), xytext=(-3 if right else 3, -2),
                          textcoords="offset points", color=COLOURS[3], fontsize=8.5,
                          ha="right" if right else "left", va="top")


def _name_tones(axes: Axes, tones: Tones) -> None:
    """The frequency beside the loudest tones that do not crowd each other."""
    named: list[float] = []
    for frequency, level in zip(tones.frequency, tones.level, strict=True):
        apart = min((abs(frequency - other) for other in named), default=math.inf)
        if apart > 0.06 * tones.rate / 2.0 and len(named) < MOST_NAMED:
            named.append(float(frequency))
            right = frequency > 0.85 * tones.rate / 2.0
            axes.annotate(f"{frequency:.0f} Hz", (frequency / 1000.0, level),
                          xytext=(-6 if right else 6, 2), textcoords="offset points",
                          color=COLOURS[1], fontsize=8.5, ha="right" if right else "left")


def words_of_tones(tones: Tones, choice: ToneChoice) -> str:
    """What the figure shows, in words, for those who cannot see it."""
    listed = ", ".join(f"{frequency:.0f} Hz ({level:.0f} dB)" for frequency, level in zip(
        tones.frequency, tones.level, strict=True)) or "none"
    return (f"Level above the noise from 0 to {tones.rate / 2000.0:.1f} kHz. Tones: {listed}. "
            f"{_title(choice)}.")


def save_tones(path: Path, tones: Tones, choice: ToneChoice, *, blades: int) -> None:
    """Write the figure, whole or not at all; its words go into the file as its description.

    Raises
    ------
    ReportError
        If the file cannot be written.
    """
    words = words_of_tones(tones, choice)
    with styled(), whole_file(path) as part:
        figure = draw_tones(tones, choice, blades=blades)
        if path.suffix == ".png":
            figure.savefig(part, dpi=200, metadata={"Description": words})
        elif path.suffix == ".svg":
            figure.savefig(part, metadata={"Date": None, "Description": words})
        else:
            figure.savefig(part, metadata={"CreationDate": None, "Subject": words})
