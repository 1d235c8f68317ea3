"""Estimates of span efficiency e in k = 1 / (pi e AR), each its own function.

They are for conventional aircraft and read high at model scale, where the drag of the section
itself grows with lift: complete models have 0.63 to 0.83 in tunnels (NASA/UMN; Gryte et al. 2018).
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.arrays import Array, Values

VISCOUS_FACTOR = 0.38
"""Growth of parasite drag with lift squared, over CDmin [-]; Kroo, from memory."""

PLANFORM_EFFICIENCY = 0.98
"""Inviscid efficiency of a plain wing without body [-]; common practice."""

MODEL_RANGE = (0.6, 0.9)
"""Span efficiencies of complete small aircraft [-]: NASA/UMN, Gryte et al. 2018, Beard and
McLain 2012."""


def raymer_straight(*, aspect_ratio: Values, minimum_drag_coefficient: Values = 0.0,  # noqa: ARG001
                    body_width_ratio: Values = 0.0) -> Array:  # noqa: ARG001
    """1.78 (1 - 0.045 AR^0.68) - 0.64 [-]: Raymer eq. 12.49, straight wings (from memory)."""
    return np.asarray(1.78 * (1.0 - 0.045 * np.asarray(aspect_ratio, dtype=float) ** 0.68) - 0.64)


def viscous(*, aspect_ratio: Values, minimum_drag_coefficient: Values,
            body_width_ratio: Values = 0.0) -> Array:
    """1 / (1 / (u s) + pi AR K CDmin) [-], s = 1 - 2 (body width / span)^2: Kroo (from memory).

    u is the planform's own efficiency, s the loss in the body's shadow, and K CDmin the parasite
    drag that grows with lift.
    """
    shadow = 1.0 - 2.0 * np.square(body_width_ratio)
    return np.asarray(1.0 / (1.0 / (PLANFORM_EFFICIENCY * shadow) + np.pi * VISCOUS_FACTOR
                             * np.asarray(aspect_ratio) * minimum_drag_coefficient))


ESTIMATES: dict[str, Callable[..., Array]] = {"viscous": viscous,
                                              "straight wing": raymer_straight}
"""Estimates by name; the first is the default."""
