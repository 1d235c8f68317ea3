"""What a bench fit knows about a candidate: the values it fitted, and how surely."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array


@dataclass(frozen=True, kw_only=True)
class BenchFit:
    """Fitted values of one candidate.

    ``bench`` says what they were fitted to; ``unknowns`` are dotted keys within the candidate as a
    scenario has them (``motor.resistance``); ``values`` and ``covariance`` in their SI units, in
    that order. ``told`` are sentences for a write-up.
    """

    bench: str
    unknowns: tuple[str, ...]
    values: Array
    covariance: Array
    told: tuple[str, ...] = ()

    @property
    def deviations(self) -> Array:
        """Standard deviations of the values, in their SI units."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))
