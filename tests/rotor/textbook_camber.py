"""Camber of a mean line from what others give of it."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values


def camber_from_rise(*, rise: Values, chord: Values) -> Array:
    """Turning [rad] of a mean line that rises above its chord at mid-chord; both in m.

    Parabolic mean line: the edges stand at atan(4 rise / chord) from the chord.
    """
    return np.asarray(2.0 * np.arctan(4.0 * np.asarray(rise) / np.asarray(chord)))


UNIFORM_LOAD_EFFECT = 0.74
"""Zero-lift angle of sections with a uniform-load mean line over the theoretical one [-]: Abbott
and von Doenhoff, Theory of Wing Sections; from memory."""


def camber_from_design_lift(*, design_lift: Values) -> Array:
    """Turning [rad] of a parabolic mean line with the zero-lift angle of a uniform-load section.

    A mean line of uniform load and design lift coefficient cl has its theoretical zero-lift angle
    at -cl / (2 pi), and sections on it reach 0.74 of that; a parabola's is at -camber / 4.
    """
    return np.asarray(UNIFORM_LOAD_EFFECT * 2.0 / np.pi * np.asarray(design_lift, dtype=float))
