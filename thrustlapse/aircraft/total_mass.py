"""What flies: the airframe and what it carries."""

from __future__ import annotations

import numpy as np

from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array
from thrustlapse.propulsor.candidate import Candidate


def total_mass(candidate: Candidate, airframe: Airframe) -> Array:
    """Mass of airframe and candidate together [kg]."""
    return np.asarray(np.asarray(airframe.mass) + np.asarray(candidate.installed_mass))
