"""Friction of the walls inside a rotor, its diffuser and its scroll, and what finishes cost."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from thrustlapse.arrays import Array, Values

FINISHES: Mapping[str, float] = MappingProxyType({
    "hydraulically smooth": 0.0,
    "moulded plastic": 3e-6,
    "machined metal": 8e-6,
    "resin print": 8e-6,
    "sintered print": 60e-6,
    "filament print, fine layers": 60e-6,
    "filament print, coarse layers": 150e-6,
    "filament print, sanded and filled": 15e-6,
})
"""Equivalent sand roughness of common finishes [m]. Common practice, no source.

From usual mean roughness Ra (moulded 0.5, machined and resin 1.5, sintered and fine filament 10,
coarse filament 25 um) with a sand roughness of about 6 Ra (from memory). Good to a factor of two.
"""


def skin_friction_coefficient(*, reynolds: Values, relative_roughness: Values) -> Array:
    """Skin-friction coefficient on ``rho V^2 / 2`` in a passage, laminar to fully rough [-].

    Parameters
    ----------
    reynolds : array_like
        Reynolds number on hydraulic diameter [-], above zero
    relative_roughness : array_like
        Equivalent sand roughness over hydraulic diameter [-], below 0.05

    Returns
    -------
    array
        A quarter of the Darcy friction factor.

    References
    ----------
    Churchill, Chem. Eng. 84 (1977) 91-92: one expression for every regime.
    """
    re = np.asarray(reynolds)
    inverse = 1.0 / re
    # roots and the power 0.9 through logarithms: two thirds of the time of a power
    wall = np.exp(0.9 * np.log(7.0 * inverse)) + 0.27 * np.asarray(relative_roughness)
    both = _sixteenth(-2.457 * np.log(wall)) + _sixteenth(37530.0 * inverse)
    laminar = np.square(np.square(8.0 * inverse))
    twelfth = laminar * laminar * laminar + 1.0 / (both * np.sqrt(both))
    return np.asarray(2.0 * np.exp(np.log(twelfth) / 12.0))


def _sixteenth(x: Array) -> Array:
    """Sixteenth power."""
    fourth = np.square(np.square(x))
    return np.asarray(np.square(np.square(fourth)))
