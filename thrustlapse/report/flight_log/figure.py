"""Figures of a flight log: energy height as logged and as predicted, and the pack's current."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from thrustlapse.report.figure_style import new_figure, place_axes
from thrustlapse.report.looks import COLOURS, DASHES, GREY
from thrustlapse.study.log_study import LogStudy

TITLES = {"energy": "Energy height along the flight", "current": "Current along the flight"}

CAPTIONS = {
    "energy": "Energy height, height and kinetic energy over weight, along the log. Dots: as "
              "logged. Dashed: as predicted from the logged volts and amps. Line: with the thrust "
              "and drag factors that explain the log best. Below: what is left, in standard "
              "deviations of a reading; grey bands mark flight without power.",
    "current": "Current out of the pack. Dots: as logged. Line: what the machine would draw at the "
               "logged voltage at full power; readings below it are flown at part throttle, "
               "readings above it say that the model's load is too light.",
}

MOST_DOTS = 600
"""Readings drawn as dots; more are thinned evenly."""


def figure_energy(study: LogStudy) -> Figure:
    """Energy height over time, and residuals below."""
    found = study.reduction
    figure = new_figure(4.6)
    above = place_axes(figure, left=0.7, bottom=1.75, top=0.3)
    below = place_axes(figure, left=0.7, bottom=0.5, top=3.05)
    _without_power(above, study)
    _without_power(below, study)
    keep = _thinned(found.time.size)
    above.plot(found.time[keep], found.logged_height[keep], linestyle="none", marker="o",
               markersize=2.6, color=GREY, label="as logged")
    above.plot(found.time, found.predicted_height, color=COLOURS[2], linestyle=DASHES[1],
               label="as predicted")
    above.plot(found.time, found.fitted_height, color=COLOURS[1], label="explained")
    above.legend(loc="best", frameon=False, fontsize=8.5)
    above.set_ylabel("energy height [m]")
    above.tick_params(labelbottom=False)
    below.axhline(0.0, color=GREY, linewidth=0.8)
    below.plot(found.time[keep], found.residual[keep], linestyle="none", marker="o",
               markersize=2.6, color=COLOURS[1])
    reach = max(3.0, 1.1 * float(np.nanmax(np.abs(found.residual))))
    below.set_ylim(-reach, reach)
    below.set_ylabel("left over [dev.]")
    below.set_xlabel("time [s]")
    for axes in (above, below):
        axes.set_xlim(float(found.time[0]), float(found.time[-1]))
    above.set_title(TITLES["energy"])
    return figure


def figure_current(study: LogStudy) -> Figure:
    """Current as logged beside that at full power."""
    found = study.reduction
    figure = new_figure(2.8)
    axes = place_axes(figure, left=0.7, bottom=0.5, top=0.3)
    _without_power(axes, study)
    keep = _thinned(found.time.size)
    axes.plot(found.time[keep], study.log.current[keep], linestyle="none", marker="o",
              markersize=2.6, color=GREY, label="as logged")
    axes.plot(found.time, np.where(found.motor_on, found.predicted_current, np.nan),
              color=COLOURS[1], label="predicted at full power")
    axes.legend(loc="best", frameon=False, fontsize=8.5)
    axes.set_xlim(float(found.time[0]), float(found.time[-1]))
    axes.set_ylim(bottom=0.0)
    axes.set_xlabel("time [s]")
    axes.set_ylabel("current [A]")
    axes.set_title(TITLES["current"])
    return figure


def describe_energy(study: LogStudy) -> str:
    """The figure of energy height in words."""
    found = study.reduction
    start, end = float(found.logged_height[0]), float(found.logged_height[-1])
    last = np.flatnonzero(found.known)[-1]
    return (f"Energy height over {found.time[-1] - found.time[0]:.0f} s: logged from {start:.0f} m "
            f"to {end:.0f} m, greatest {np.max(found.logged_height):.0f} m. The prediction ends at "
            f"{found.predicted_height[last]:.0f} m, the explained curve at "
            f"{found.fitted_height[last]:.0f} m. Left over: at most "
            f"{np.nanmax(np.abs(found.residual)):.1f} standard deviations.")


def describe_current(study: LogStudy) -> str:
    """The figure of current in words."""
    found, amps = study.reduction, study.log.current
    if not found.motor_on.any():
        return "No current flows throughout."
    full = found.predicted_current[found.motor_on & np.isfinite(found.predicted_current)]
    said = f", predicted at full power {np.min(full):.1f} to {np.max(full):.1f} A" if full.size \
        else ", nothing predicted"
    return (f"Logged current {np.min(amps[found.motor_on]):.1f} to "
            f"{np.max(amps[found.motor_on]):.1f} A with power{said}.")


def _without_power(axes: Axes, study: LogStudy) -> None:
    """Grey bands over stretches without power."""
    found = study.reduction
    off = np.concatenate([[False], ~found.motor_on, [False]])
    edges = np.flatnonzero(off[1:] != off[:-1])
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        axes.axvspan(float(found.time[first]), float(found.time[end - 1]), color="#ececec",
                     linewidth=0.0, zorder=0)


def _thinned(size: int) -> slice:
    return slice(None, None, max(1, -(-size // MOST_DOTS)))
