"""How far a row of blades turns the air: lattice theory, its viscous loss, and Howell's rule.

A row of blades cut at one radius is an endless lattice. Without viscosity its circulation is
linear in the oncoming velocity, whatever solidity and stagger, so two numbers say everything:

    W2 = slope W1 + offset Vx

with the tangential components W1, W2 before and behind and the same axial component Vx. At low
solidity this is an isolated aerofoil, at high solidity a guide: one theory for the two-bladed
propeller in a duct and the twelve-bladed fan.

Angles are from the axial direction [rad]; tangential components are positive in the direction from
which the blade takes swirl (for a rotor: against its rotation, in its own frame).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thrustlapse.arrays import Array, BoolArray, Values

VORTICES = 12
"""Vortices on a mean line. Flat lattices agree with the closed forms to round-off; a 30 deg camber
at solidity 1.5 is converged to 1e-4 deg with eight."""


class Lattice(NamedTuple):
    """Answer of a lattice to any oncoming flow.

    ``ideal_angle`` is the angle [rad] of the oncoming flow at which no velocity is infinite at the
    leading edge; ``zero_lift_angle`` the one that passes undeflected.
    """

    slope: Array
    offset: Array
    ideal_angle: Array
    zero_lift_angle: Array


def lattice(*, solidity: Values, stagger: Values, camber: Values) -> Lattice:
    """Inviscid, incompressible flow through an endless row of thin parabolic mean lines.

    Parameters
    ----------
    solidity : array_like
        Chord over spacing [-], above zero
    stagger : array_like
        Chord line from the axial direction [rad]
    camber : array_like
        Turning of the mean line [rad]

    Notes
    -----
    Vortices and control points lie where Lan's quadrature puts them, which makes lift and the
    leading-edge singularity of flat plates exact; the rows of images are summed by coth.

    References
    ----------
    Lan, J. Aircraft 11 (1974) 518-527: the quadrature (attribution from memory). The lattice of
    flat plates has closed forms at stagger 0 and a quarter turn (Weinig 1935), which the tests use.
    """
    sigma, xi, turn = np.broadcast_arrays(np.asarray(solidity, dtype=float),
                                          np.asarray(stagger, dtype=float),
                                          np.asarray(camber, dtype=float))
    at = np.asarray((np.arange(VORTICES) + 0.5) * np.pi / VORTICES, dtype=float)
    on = np.asarray(np.arange(VORTICES + 1) * np.pi / VORTICES, dtype=float)
    vortex, _ = _mean_line(at, xi, turn)
    control, direction = _mean_line(on, xi, turn)
    sine, cosine = -np.sin(direction), np.cos(direction)
    gap = np.pi * sigma[..., None, None] * (control[..., :, None] - vortex[..., None, :])
    conjugate = sigma[..., None, None] / (2j * np.tanh(gap))
    influence = sine[..., None] * conjugate.real - cosine[..., None] * conjugate.imag
    wanted = -np.stack([sine, cosine], axis=-1)
    strength = np.linalg.solve(influence[..., 1:, :], wanted[..., 1:, :])
    edge = (influence[..., :1, :] @ strength - wanted[..., :1, :])[..., 0, :]
    total = strength.sum(axis=-2)
    along, across = 0.5 * sigma * total[..., 0], 0.5 * sigma * total[..., 1]
    slope, offset = (1.0 + across) / (1.0 - across), 2.0 * along / (1.0 - across)
    mean = -edge[..., 0] / edge[..., 1]
    return Lattice(slope=slope, offset=offset,
                   ideal_angle=np.arctan(mean - along - across * mean),
                   zero_lift_angle=np.arctan(-along / across))


def _mean_line(angle: Array, stagger: Array, camber: Array) -> tuple[Array, Array]:
    """Points of a mean line of unit chord as complex numbers, and its direction there."""
    edge = np.tan(0.5 * camber)[..., None]
    x = 0.5 * (1.0 - np.cos(angle))
    place = (x + 1j * edge * x * (1.0 - x)) * np.exp(1j * stagger)[..., None]
    return place, stagger[..., None] + np.arctan(edge * (1.0 - 2.0 * x))


# Viscous loss of turning -----------------------------------------------------------------------

LIFT_EFFECTIVENESS = 0.90
"""Circulation of a real blade over that of a thin inviscid one, at high Reynolds number [-].
Chosen so that the lattice meets Howell's deviation rule (its constants from memory) over solidities
0.8 to 2, within 1 deg for cambers up to 30 deg; measured Clark Y slopes of 5.7 to 6.1 per radian
(UIUC low-speed tests, Lyon et al. 1998) are 0.91 to 0.97 of 2 pi."""

LOW_REYNOLDS_LIFT = {"thin": (0.12, 1.5), "thick": (0.18, 2.0)}
"""Lift lost at a chord Reynolds number of 1e5 and the exponent with which it grows below, for thin
sections (about 9 %) and thick ones (12 %). Read off the lift at 2.5 deg of S7075 (0.79, 0.89, 0.96
of that at Re 300,000, at 60,000, 100,000 and 200,000) and Clark Y (0.66, 0.85, 0.96 of that at
400,000): UIUC low-speed tests, Lyon et al. 1998."""

LOWEST_SECTION_REYNOLDS = 6.0e4
"""Lowest chord Reynolds number of those polars [-]. Below, the value there holds: thin cambered
plates hardly depend on Reynolds number (Winslow et al., J. Aircraft 2018)."""


def lift_effectiveness(*, reynolds: Values, section: str = "thin") -> Array:
    """Circulation of a real blade over the lattice's [-], at a chord Reynolds number [-].

    ``section`` is ``thin`` or ``thick``; see :data:`LOW_REYNOLDS_LIFT`.
    """
    lost, exponent = LOW_REYNOLDS_LIFT[section]
    held = np.maximum(np.asarray(reynolds, dtype=float), LOWEST_SECTION_REYNOLDS)
    return np.asarray(LIFT_EFFECTIVENESS / (1.0 + lost * np.power(1.0e5 / held, exponent)))


def below_section_data(*, reynolds: Values) -> BoolArray:
    """Where a chord Reynolds number [-] lies below every measured section used here."""
    return np.asarray(np.asarray(reynolds) < LOWEST_SECTION_REYNOLDS)


# The rival: an empirical deviation rule --------------------------------------------------------


def howell_outlet_angle(*, solidity: Values, stagger: Values, camber: Values) -> Array:
    """Outlet angle of a cascade at its design incidence by Howell's rule [rad].

    Deviation = m camber / sqrt(solidity), m = 0.23 + outlet angle / 500 deg, for parabolic or
    circular mean lines; solved for the outlet angle, in which it is linear.

    Notes
    -----
    Valid for: solidity 0.5 to 2, outlet angles up to 60 deg.

    References
    ----------
    Howell, Proc. Inst. Mech. Eng. 153 (1945); constants from memory.
    """
    bend = np.degrees(camber) / np.sqrt(solidity)
    metal = np.degrees(np.asarray(stagger) - 0.5 * np.asarray(camber))
    return np.radians((metal + 0.23 * bend) / (1.0 - bend / 500.0))


def deviation_slope(*, solidity: Values, inlet_angle: Values) -> Array:
    """Change of outlet angle per change of inlet angle near design [-].

    References
    ----------
    NASA SP-36 (1965) as fitted by Aungier, Axial-Flow Compressors (2003); from memory.
    """
    sigma, angle = np.asarray(solidity), np.abs(np.degrees(inlet_angle))
    return np.asarray((1.0 + (sigma + 0.25 * sigma**4) * (angle / 53.0) ** 2.5)
                      / np.exp(3.1 * sigma))
