"""Captions and descriptions of the figures of how sure the answers are."""

from __future__ import annotations

import numpy as np

from thrustlapse.report.number_format import short_speed
from thrustlapse.report.plot import Plot
from thrustlapse.report.uncertainty.figures import (
    figure_chances,
    figure_drivers,
    figure_power_band,
    shown_drivers,
)
from thrustlapse.report.uncertainty.register_lines import input_words
from thrustlapse.study.comparison import Comparison

BAND = ("Shaded: nine draws in ten lie within, where at least half of the draws have a value.")


def band_note(comparison: Comparison) -> list[str]:
    """What the shading of a thrust or lapse figure means."""
    return [] if comparison.uncertainty is None else [BAND]


def _chances(comparison: Comparison) -> str:
    study = comparison.uncertainty
    assert study is not None
    parts = []
    for pair in study.pairs:
        marks = [round(share * (study.airspeed.size - 1)) for share in (0.0, 0.25, 0.5, 0.75)]
        told = [f"{100.0 * pair.first_wins[mark]:.0f} at {short_speed(study.airspeed[mark])}"
                if study.airspeed[mark] > 0.0 else f"{100.0 * pair.first_wins[mark]:.0f} at rest"
                for mark in marks]
        parts.append(f"{pair.first} beats {pair.second} in {', '.join(told)}")
    return f"Charts of draws won against airspeed, of 100. {'; '.join(parts)}."


def _drivers(comparison: Comparison) -> str:
    study = comparison.uncertainty
    assert study is not None
    parts = []
    for one in shown_drivers(study):
        told = [f"{input_words(each.key)} {100.0 * each.first:.0f} % by itself and "
                f"{100.0 * each.total:.0f} % in all" for each in one.drivers[:3]]
        parts.append(f"{one.answer}: {', '.join(told)}")
    return f"Bar charts of shares of variance. {'; '.join(parts)}."


def _power(comparison: Comparison) -> str:
    study = comparison.uncertainty
    assert study is not None
    parts = []
    for name, one in study.candidates.items():
        band = one.bands["electrical_power"]
        known = np.flatnonzero(np.isfinite(band.low))
        if known.size:
            at = int(known[0])
            parts.append(f"{name} {band.low[at]:.0f} to {band.high[at]:.0f} W at "
                         f"{short_speed(study.airspeed[at]) if study.airspeed[at] else 'rest'}")
    return f"Line chart of electrical power against airspeed with bands. {'; '.join(parts)}."


PLOTS = (
    Plot(
        name="chances", title="Who beats whom, in how many draws",
        draw=figure_chances, describe=_chances,
        caption="Of 100 draws, in how many one candidate beats the other in what is compared, at "
                "each airspeed: the line is the share won by the first, filled below; filled "
                "above is the share won by the second; hatched between, draws in which one of the "
                "two has no value."),
    Plot(
        name="drivers", title="What drives the answers",
        draw=figure_drivers, describe=_drivers,
        caption="Share of the variance of an answer that each input causes, the strongest first. "
                "Dark: by itself, the share that would go if it were known. Pale: in all, the "
                "share that would stay if everything else were known. Whiskers: standard error."),
    Plot(
        name="power_band", title="Electrical power with its band",
        draw=figure_power_band, describe=_power,
        caption="Median of the electrical power at the pack terminals over all draws, and the "
                "band that holds nine in ten."),
)
