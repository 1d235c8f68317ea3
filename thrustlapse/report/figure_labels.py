"""Labels that find their own place beside the curve or point they name."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np
from matplotlib.axes import Axes

from thrustlapse.arrays import Array

Box = tuple[float, float, float, float]

OVERLAP = 400.0
"""Cost of covering another label; the other costs are in points of distance or points covered."""

MOST_ANCHORS = 30
"""Places along a curve that are tried; more are not seen to help, and cost time."""

STANDS_OFF = 16.0
"""Distance from which a label is joined to its point by a line [pixel]."""

EDGE = 8.0
"""A curve seen this close to the right edge of the frame is labelled in the margin [pixel]."""


@dataclass(kw_only=True)
class Labels:
    """Puts labels into one set of axes, clear of everything known so far.

    Call after limits and position of the axes are final. Curves to keep clear of come first
    (:meth:`avoid`), then labels one by one, the ones with least freedom first; each keeps the next
    ones away. Where there is no free place, the least bad one is taken.
    """

    axes: Axes
    curves: list[tuple[Array, str]] = field(default_factory=list)
    boxes: list[Box] = field(default_factory=list)

    def avoid(self, x: Array, y: Array, owner: str = "") -> None:
        """Keep labels off a curve given in the units of the axes."""
        points = self._dense(x, y)
        if points.size:
            self.curves.append((points, owner))

    def keep_off(self, x: float, y: float, reach: float) -> None:
        """Keep labels off a mark of a given half width [pixel]."""
        at = self.axes.transData.transform([(x, y)])[0]
        self.boxes.append((at[0] - reach, at[1] - reach, at[0] + reach, at[1] + reach))

    def on_curve(self, x: Array, y: Array, text: str, *, owner: str, colour: str,
                 size: float = 8.5) -> None:
        """A label beside a curve, where it is clearest whose it is."""
        anchors = self._dense(x, y)
        if anchors.size == 0:
            return
        anchors = anchors[:: max(1, len(anchors) // MOST_ANCHORS)]
        wide, high = self._extent(text, size)
        places = [(dx, dy) for dy in (0.5 * high + 6.0, -0.5 * high - 6.0)
                  for dx in (-0.5 * wide, 0.0, 0.5 * wide)]
        places += [(sign * (0.5 * wide + 7.0), level * (high + 4.0))
                   for sign in (1.0, -1.0) for level in (0.0, 1.0, -1.0)]
        self._write(self._best(anchors, np.array(places), (wide, high), owner), text, colour, size)

    def at_point(self, x: float, y: float, text: str, *, colour: str, owner: str = "",
                 size: float = 8.0) -> None:
        """A label beside one point; a thin line joins them where the label stands off."""
        anchor = self.axes.transData.transform([(x, y)])
        wide, high = self._extent(text, size)
        places = [(sx * (0.5 * wide + reach), sy * (0.5 * high + reach))
                  for reach in (7.0, 12.0, 20.0, 32.0, 46.0)
                  for sx, sy in ((1, 0.6), (1, -0.6), (-1, 0.6), (-1, -0.6), (0, 1), (0, -1),
                                 (1, 0), (-1, 0))]
        centre = self._best(anchor, np.array(places), (wide, high), owner)
        half = 0.5 * np.array((wide, high))
        nearest = np.clip(anchor[0], centre - half, centre + half)
        if np.hypot(*(nearest - anchor[0])) > STANDS_OFF:
            ends = self.axes.transData.inverted().transform([anchor[0], nearest])
            self.axes.plot(ends[:, 0], ends[:, 1], color=colour, linewidth=0.6, zorder=5)
        self._write(centre, text, colour, size)

    def _best(self, anchors: Array, places: Array, extent: tuple[float, float],
              owner: str) -> Array:
        """Centre of the least costly place for a box [pixel]; keeps it for the labels to come."""
        centres = (anchors[:, None, :] + places[None, :, :]).reshape(-1, 2)
        half = 0.5 * np.array(extent) + 2.0
        cost = 0.02 * np.tile(np.linalg.norm(places, axis=1), len(anchors))
        cost = cost + self._outside(centres, half)
        for x0, y0, x1, y1 in self.boxes:
            middle, span = np.array([x0 + x1, y0 + y1]) / 2, np.array([x1 - x0, y1 - y0]) / 2
            cost += OVERLAP * np.all(np.abs(centres - middle) < half + span, axis=1)
        for points, whose in self.curves:
            # each direction by itself: sums over the last two of many are slow
            aside, above = (np.abs(centres[:, place, None] - points[:, place]) - half[place]
                            for place in (0, 1))
            covered = ((aside < 0.0) & (above < 0.0)).sum(axis=1)
            if whose == owner:
                cost += 1.5 * covered
            else:
                gap = np.sqrt((np.square(np.maximum(aside, 0.0))
                               + np.square(np.maximum(above, 0.0))).min(axis=1))
                cost += 6.0 * covered + 0.25 * np.maximum(28.0 - gap, 0.0)
        best = centres[int(np.argmin(cost))]
        self.boxes.append((best[0] - half[0], best[1] - half[1], best[0] + half[0],
                           best[1] + half[1]))
        return np.asarray(best)

    def _write(self, centre: Array, text: str, colour: str, size: float) -> None:
        x, y = self.axes.transData.inverted().transform(centre)
        self.axes.text(x, y, text, color=colour, ha="center", va="center", fontsize=size,
                       linespacing=1.05, zorder=6, bbox={"facecolor": "white", "alpha": 0.8,
                                                         "edgecolor": "none", "pad": 0.8})

    def _outside(self, centres: Array, half: Array) -> Array:
        frame = self.axes.get_window_extent()
        low = np.array([frame.x0, frame.y0]) + half - centres
        high = centres + half - np.array([frame.x1, frame.y1])
        return np.asarray(50.0 * (np.maximum(low, 0.0) + np.maximum(high, 0.0)).sum(axis=1))

    def _extent(self, text: str, size: float) -> tuple[float, float]:
        figure = self.axes.get_figure(root=True)
        assert figure is not None
        probe = figure.text(0.0, 0.0, text, fontsize=size, linespacing=1.05)
        extent = probe.get_window_extent()
        probe.remove()
        return float(extent.width), float(extent.height)

    def _dense(self, x: Array, y: Array) -> Array:
        """Points of a curve every few pixels, inside the axes [pixel]; gaps stay open."""
        pixels = self.axes.transData.transform(np.column_stack([x, y]))
        known = np.isfinite(pixels).all(axis=1)
        parts = [pixels[known]]
        joined = known[:-1] & known[1:]
        for first, last in zip(pixels[:-1][joined], pixels[1:][joined], strict=True):
            steps = int(min(np.hypot(*(last - first)) // 5.0, 200))
            share = np.arange(1, steps + 1)[:, None] / (steps + 1)
            parts.append(first + share * (last - first))
        dense = np.concatenate(parts)
        frame = self.axes.get_window_extent()
        inside = ((dense >= [frame.x0, frame.y0]) & (dense <= [frame.x1, frame.y1])).all(axis=1)
        dense = dense[inside]
        return np.asarray(dense[np.argsort(dense[:, 0], kind="stable")])


def end_labels(axes: Axes, curves: list[tuple[Array, Array, str, str]], *,
               size: float = 7.5) -> list[int]:
    """Names of curves in the right margin, level with their ends or as near as room allows.

    Parameters
    ----------
    curves : list of (x, y, text, colour)

    Returns
    -------
    list of int
        Places of the curves that leave the frame before its right edge, still without a label
    """
    frame = axes.get_window_extent()
    ends, left = [], []
    for place, (x, y, text, colour) in enumerate(curves):
        pixels = axes.transData.transform(np.column_stack([x, y]))
        seen = np.flatnonzero((pixels[:, 1] >= frame.y0) & (pixels[:, 1] <= frame.y1))
        if seen.size and pixels[seen[-1], 0] > frame.x1 - EDGE:
            ends.append((*pixels[seen[-1]].tolist(), text, colour))
        elif seen.size:
            left.append(place)
    ends.sort(key=lambda end: end[1])
    step = 1.45 * size * axes.figure.dpi / 72.0
    levels = _spread([end[1] for end in ends], step, frame.y0, frame.y1)
    back = axes.transAxes.inverted()
    for (x, y, text, colour), level in zip(ends, levels, strict=True):
        start, stop = back.transform([(x, y), (frame.x1 + 9.0, level)])
        axes.plot([start[0], stop[0]], [start[1], stop[1]], transform=axes.transAxes,
                  color=colour, linewidth=0.6, clip_on=False)
        axes.text(stop[0] + 0.008, stop[1], text, transform=axes.transAxes, color=colour,
                  fontsize=size, va="center", ha="left")
    return left


def _spread(levels: list[float], step: float, low: float, high: float) -> list[float]:
    """Rising levels moved apart to at least a step, within a frame where they fit into it."""
    placed: list[float] = []
    for level in levels:
        placed.append(max(level, placed[-1] + step if placed else low))
    over = placed[-1] - high if placed else 0.0
    if over > 0.0:
        placed[-1] -= over
        for place in range(len(placed) - 2, -1, -1):
            placed[place] = min(placed[place], placed[place + 1] - step)
    return placed
