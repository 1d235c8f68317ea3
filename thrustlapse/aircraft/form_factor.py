"""What thickness adds to the friction of a flat plate: form factors, each its own function.

Friction of a part = Cf q S_wet x form factor. The sources agree to 10 % for wings and differ more
for short bodies; the spread is carried as the band of a build-up.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, Values


def wing_hoerner(*, thickness_ratio: Values, thickest_at: Values = 0.3) -> Array:  # noqa: ARG001
    """1 + 2 t/c + 60 (t/c)^4 [-]: Hoerner, Fluid-Dynamic Drag, section thickest near 30 % chord."""
    t = np.asarray(thickness_ratio, dtype=float)
    return np.asarray(1.0 + 2.0 * t + 60.0 * t**4)


def wing_raymer(*, thickness_ratio: Values, thickest_at: Values = 0.3) -> Array:
    """1 + 0.6 / (x/c) t/c + 100 (t/c)^4 [-]: Raymer eq. 12.30 at low speed and without sweep."""
    t = np.asarray(thickness_ratio, dtype=float)
    return np.asarray(1.0 + 0.6 / np.asarray(thickest_at) * t + 100.0 * t**4)


def wing_torenbeek(*, thickness_ratio: Values, thickest_at: Values = 0.3) -> Array:  # noqa: ARG001
    """1 + 2.7 t/c + 100 (t/c)^4 [-]: Torenbeek, 1982 (from memory)."""
    t = np.asarray(thickness_ratio, dtype=float)
    return np.asarray(1.0 + 2.7 * t + 100.0 * t**4)


def body_hoerner(*, fineness: Values) -> Array:
    """1 + 1.5 f^-1.5 + 7 f^-3 [-]: Hoerner, Fluid-Dynamic Drag eq. 6-28 (from memory)."""
    f = np.asarray(fineness, dtype=float)
    return np.asarray(1.0 + 1.5 * f**-1.5 + 7.0 * f**-3.0)


def body_raymer(*, fineness: Values) -> Array:
    """0.9 + 5 f^-1.5 + f / 400 [-]: Raymer, later editions."""
    f = np.asarray(fineness, dtype=float)
    return np.asarray(0.9 + 5.0 * f**-1.5 + f / 400.0)


def body_torenbeek(*, fineness: Values) -> Array:
    """1 + 2.2 f^-1.5 + 3.8 f^-3 [-]: Torenbeek, 1982 (from memory)."""
    f = np.asarray(fineness, dtype=float)
    return np.asarray(1.0 + 2.2 * f**-1.5 + 3.8 * f**-3.0)


def nacelle_raymer(*, fineness: Values) -> Array:
    """1 + 0.35 / f [-]: Raymer eq. 12.32, a pod the air also passes through."""
    return np.asarray(1.0 + 0.35 / np.asarray(fineness, dtype=float))


SURFACE: dict[str, Callable[..., Array]] = {
    "Hoerner": wing_hoerner, "Raymer": wing_raymer, "Torenbeek": wing_torenbeek}
"""Form factor of wings and tails by source."""

BODY: dict[str, Callable[..., Array]] = {
    "Hoerner": body_hoerner, "Raymer": body_raymer, "Torenbeek": body_torenbeek}
"""Form factor of closed bodies by source."""

POD: dict[str, Callable[..., Array]] = {
    "Hoerner": body_hoerner, "Raymer": nacelle_raymer, "Torenbeek": body_torenbeek}
"""Form factor of pods and nacelles by source."""

SOURCES = tuple(SURFACE)
"""Names a build-up takes; the first is the default."""
