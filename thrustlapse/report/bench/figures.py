"""Figures of a bench fit: readings against the fitted curves, the map with its band, residuals."""

from __future__ import annotations

import numpy as np
from matplotlib.figure import Figure

from thrustlapse.arrays import Array
from thrustlapse.bench.readings import READ, BenchReadings
from thrustlapse.report.figure_style import PALE, name_strip, new_figure, strip_height
from thrustlapse.report.looks import GREY, series_looks
from thrustlapse.study.bench_curves import MapCurve, SettingCurve
from thrustlapse.study.bench_fit import FittedMachine

PANELS = ("thrust", "shaft_speed", "electrical_power", "current", "static_pressure")
"""Quantities drawn, the first four that were read."""

TWO = 2.0
"""Standard deviations of every band."""


def figure_readings(fit: FittedMachine, curves: tuple[SettingCurve, ...]) -> Figure:
    """Readings with an open outlet against nozzle diameter, with the fitted curves."""
    readings = fit.readings
    open_rows = ~(readings.inlet_blocked | readings.outlet_blocked)
    panels = [panel for panel in PANELS
              if np.isfinite(getattr(readings, panel)[open_rows]).any()][:4]
    names = [curve.setting for curve in curves]
    rows = (len(panels) + 1) // 2
    top = strip_height(names) + 0.15
    figure = new_figure(2.1 * rows + top)
    own = series_looks(names)
    unit_bore = _bores(fit)
    for place, name in enumerate(panels):
        factor = READ[name].factor
        axes = figure.add_subplot(rows, 2, place + 1)
        for curve in curves:
            look, x = own[curve.setting], 1e3 * curve.diameter
            middle, band = factor * curve.values[name], TWO * factor * curve.deviations[name]
            axes.fill_between(x, middle - band, middle + band, color=look.colour, alpha=0.15,
                              linewidth=0)
            axes.plot(x, middle, color=look.colour, linestyle=look.dash)
            chosen = open_rows & np.array([word == curve.setting for word in readings.setting])
            value = factor * getattr(readings, name)
            axes.errorbar(1e3 * unit_bore[chosen], value[chosen],
                          yerr=TWO * factor * readings.spread[name][chosen], color=look.colour,
                          marker=look.marker, linestyle="none", markerfacecolor="white",
                          elinewidth=0.9)
        axes.set_ylabel(f"{name.replace('_', ' ')} [{READ[name].unit}]")
        if place >= len(panels) - 2:
            axes.set_xlabel("nozzle diameter [mm]")
    high = 2.1 * rows + top
    figure.subplots_adjust(left=0.10, right=0.98, bottom=0.5 / high, top=1.0 - top / high,
                           wspace=0.28, hspace=0.25)
    name_strip(figure, own)
    return figure


def _bores(fit: FittedMachine) -> Array:
    readings: BenchReadings = fit.readings
    area = fit.given.unit.nozzle.exit_area  # type: ignore[union-attr]
    own = float(np.sqrt(4.0 / np.pi * np.asarray(area)))
    return np.where(np.isfinite(readings.nozzle_diameter), readings.nozzle_diameter, own)


def figure_map(curve: MapCurve) -> Figure:
    """Fitted map with its band, the given one beside it, and the flows that were read."""
    figure = new_figure(2.7)
    names = ["fitted", "as the scenario gives it"]
    own = series_looks(names)
    for place, (name, label) in enumerate((("head", "head coefficient"),
                                           ("power", "power coefficient"),
                                           ("efficiency", "efficiency [%]"))):
        axes = figure.add_subplot(1, 3, place + 1)
        factor = 100.0 if name == "efficiency" else 1.0
        middle, band = factor * curve.values[name], TWO * factor * curve.deviations[name]
        axes.axvspan(curve.lowest_read, curve.highest_read, color=PALE, alpha=0.45, linewidth=0)
        axes.fill_between(curve.flow, middle - band, middle + band, color=own["fitted"].colour,
                          alpha=0.2, linewidth=0)
        axes.plot(curve.flow, middle, color=own["fitted"].colour)
        given = own[names[1]]
        axes.plot(curve.flow, factor * curve.given[name], color=given.colour, linestyle=given.dash)
        axes.set_xlabel("flow coefficient")
        axes.set_title(label, fontsize=9)
        axes.locator_params(nbins=5)
    figure.subplots_adjust(left=0.07, right=0.98, bottom=0.18, top=0.78, wspace=0.3)
    name_strip(figure, own)
    return figure


def figure_residuals(fit: FittedMachine) -> Figure:
    """Deviations of every reading from the fit, by line of the file."""
    names = [word.replace("_", " ") for word in dict.fromkeys(
        one.quantity for one in fit.residuals)]
    top = strip_height(names) + 0.15
    figure = new_figure(2.5 + top)
    axes = figure.add_axes((0.09, 0.5 / (2.5 + top), 0.89, 2.0 / (2.5 + top)))
    for level in (-TWO, 0.0, TWO):
        axes.axhline(level, color=GREY, linewidth=0.8, linestyle="solid" if level == 0.0 else "--")
    own = series_looks(names)
    for place, (name, look) in enumerate(own.items()):
        rows = [(one.row + 0.12 * (place - 1), one.deviations) for one in fit.residuals
                if one.quantity.replace("_", " ") == name]
        x, y = np.array(rows).T
        axes.plot(x, y, color=look.colour, marker=look.marker, linestyle="none",
                  markerfacecolor="white")
    axes.set_xlabel("line of the file")
    axes.set_ylabel("reading less fit, in spreads")
    name_strip(figure, own)
    return figure
