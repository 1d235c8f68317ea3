"""The stalled flat plate: what a blade is to the air once its flow has let go of it."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values


def plate_normal_force(*, angle: Values) -> Array:
    """Normal-force coefficient of a stalled flat plate at any angle [-].

    ``1 / (0.222 + 0.283 / |sin a|)`` with the sign of sin a; 1.98 broadside on.

    References
    ----------
    Hoerner, Fluid-Dynamic Drag, 1965; constants from memory.
    """
    s = np.sin(angle)
    return np.asarray(s / (0.222 * np.abs(s) + 0.283))
