"""What a bench fit knows about a candidate: the values it fitted, and how surely."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from thrustlapse.arrays import FIXED, Array

CONTRACTION = "nozzle.contraction"
"""Name in a fit for the discharge coefficient over the widest that the velocity coefficient allows:
so counted, no draw has a jet wider than the exit."""

NODE_NAMES = ("shut", "third", "two_thirds", "open")
HEAD_NODES, POWER_NODES = (tuple(f"map.{side}_form.{node}" for node in NODE_NAMES)
                           for side in ("head", "power"))
"""Names in a fit for the departures of a map's form at its four flows."""

FLOW_FORM, FALL_FORM = "map.flow_form", "map.fall_form"
"""Names in a fit for the logarithm of the factor on a map's flow, and for what its head has more at
its largest flow, over that at none."""


@dataclass(frozen=True, kw_only=True)
class BenchFit:
    """Fitted values of one candidate.

    ``bench`` says what they were fitted to; ``unknowns`` are dotted keys within the candidate as a
    scenario has them (``motor.resistance``), or the names above; ``values`` and ``covariance`` in
    their SI units, in that order. ``told`` are sentences for a write-up.
    """

    bench: str
    unknowns: tuple[str, ...]
    values: Array = field(metadata=FIXED)
    covariance: Array = field(metadata=FIXED)
    told: tuple[str, ...] = ()

    @property
    def deviations(self) -> Array:
        """Standard deviations of the values, in their SI units."""
        return np.asarray(np.sqrt(np.diag(self.covariance)))
