"""Estimates of span efficiency e in k = 1 / (pi e AR), each its own function.

The textbooks' are for full-size aircraft and read high at model scale, where the drag of the
section itself grows with lift: complete models have 0.63 to 0.83 (NASA/UMN; UMN; Gryte et al.
2018). :func:`model_scale` carries that measured difference, and is the default.
"""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values

VISCOUS_FACTOR = 0.38
"""Growth of parasite drag with lift squared, over CDmin [-]; Kroo, from memory."""

PLANFORM_EFFICIENCY = 0.98
"""Inviscid efficiency of a plain wing without body [-]; common practice."""


def viscous(*, aspect_ratio: Values, minimum_drag_coefficient: Values,
            body_width_ratio: Values = 0.0) -> Array:
    """1 / (1 / (u s) + pi AR K CDmin) [-], s = 1 - 2 (body width / span)^2: Kroo (from memory).

    u is the planform's own efficiency, s the loss in the body's shadow, and K CDmin the parasite
    drag that grows with lift.
    """
    shadow = 1.0 - 2.0 * np.square(body_width_ratio)
    return np.asarray(1.0 / (1.0 / (PLANFORM_EFFICIENCY * shadow) + np.pi * VISCOUS_FACTOR
                             * np.asarray(aspect_ratio) * minimum_drag_coefficient))


MODEL_OVER_ESTIMATE, MODEL_SCATTER = 0.90, 0.11
"""Measured over :func:`viscous`, mean and standard deviation of three complete small aircraft
(0.63, 0.75 and 0.83 measured; 0.81, 0.77 and 0.86 estimated) [-]."""


def model_scale(*, aspect_ratio: Values, minimum_drag_coefficient: Values,
                body_width_ratio: Values = 0.0) -> Array:
    """:func:`viscous` times 0.90, what three measured complete models have of it [-].

    Standard deviation 0.11 of the value, from those three: an estimate, for when nothing better is
    known. It belongs to a polar about its own lift of least drag.

    References
    ----------
    NASA FASER data base by way of Univ. of Minnesota files; Gryte et al., ICUAS 2018.
    """
    return np.asarray(MODEL_OVER_ESTIMATE * viscous(
        aspect_ratio=aspect_ratio, minimum_drag_coefficient=minimum_drag_coefficient,
        body_width_ratio=body_width_ratio))
