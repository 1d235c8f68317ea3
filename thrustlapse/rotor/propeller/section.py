"""Lift and drag of blade sections at low Reynolds number, compressible, at every angle.

A section is anything with ``coefficients(angle=, reynolds=, mach=, chord_to_radius=)`` that returns
lift and drag coefficients for every angle of attack from -pi to pi; here it is a form with a few
physical numbers.

What low-Reynolds sections do, and the form reproduces (wind-tunnel polars of the University of
Illinois, Lyon et al. 1998): camber stops working as the Reynolds number falls, because the flow no
longer closes behind the laminar bubble, and the drag of that bubble comes on top of the friction.
:func:`attachment` is the share of the camber that still works; one logistic curve in ln Re serves
the zero-lift angle and the bubble's drag.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Protocol

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.rotor.stalled_plate import plate_normal_force

REFERENCE_REYNOLDS = 1e5
"""Reynolds number at which a section's friction drag is stated [-]."""

FRICTION_EXPONENT = 0.5
"""Friction drag falls as Re to this power: a laminar layer's (Blasius)."""

SLOPE_MACH_LIMIT = 0.7
"""Mach number above which the lift slope grows no more [-]; shock stall ends it (from memory)."""

LOCK_FACTOR = 20.0
"""Factor of Lock's fourth-power drag rise [-]; from memory."""

CONVENTIONAL_TECHNOLOGY = 0.87
"""Korn's constant for conventional sections [-]; from memory."""

DIVERGENCE_SLOPE = 0.1
"""d(cd)/dM by which Korn's drag-divergence Mach number is defined [-]; from memory."""

STALL_DELAY_FACTOR = 4.5
"""The factor used here [-]: a judgement between Snel's 3 and the 3.6 to 6.8 that small propellers
ask for with a blade design left out."""

ROTATION_DRAG = 0.5
"""Share of the delayed stall's lift, times tan(angle), that comes as drag [-].

1 if the whole gain were a pressure normal to the chord, 0 if none were; judgement. Left free, eight
blade designs ask for 0.46 to 0.71 with one of them left out.
"""

STALL_DELAY_FADE = (np.deg2rad(30.0), np.deg2rad(50.0))
"""Angles of attack between which the stall delay fades out [rad]; common practice, no source."""

# One set of numbers for all sections, fitted together to the Clark Y polars (Re 6e4 to 4e5, Lyon et
# al. 1998) and to ten measured propellers of eight blade designs. The angle of each design was free
# in that fit, with a standard deviation of 0.8 degrees, so that errors of the angles do not end up
# in the section. Behind each number: where it goes when any one design is left out
# (tests/rotor/left_out_propellers.py, whose fits stop early and are drawn to priors; what lies
# outside was chosen in a longer fit, and moves little: these pull against one another).

TUNNEL_RECOVERY_REYNOLDS = 6.25e4
"""Reynolds number at which half of the camber works in a smooth wind tunnel [-]; 6.2 to 6.3e4."""

BLADE_RECOVERY = 1.30
"""How much earlier that happens on a turning blade [-]; 1.08 to 1.24 where fits are
stopped early, so that this value is judgement."""

BLADE_RECOVERY_REYNOLDS = TUNNEL_RECOVERY_REYNOLDS / BLADE_RECOVERY
"""Reynolds number at which half of the camber works on a blade [-]."""

RECOVERY_WIDTH = 0.65
"""Width of the recovery in ln Re [-]; 0.65 to 0.76."""

LIFT_SLOPE = 5.88
"""Lift slope of attached flow [1/rad]; 5.85 to 5.99. The polars' own are 5.7 to 6.4."""

STALL_WIDTH = np.deg2rad(3.2)
"""Angle over which stall spreads [rad]; kept from an earlier fit."""

NEGATIVE_STALL_ANGLE = np.deg2rad(-10.0)
"""Angle at which half of a section has stalled on its lower side [rad]; common practice."""

FRICTION_DRAG = 0.0173
"""Drag coefficient of friction, both sides, at Re 1e5 [-]; 0.0171 to 0.0178."""

BUBBLE_LIFT = 0.3
"""Lift coefficient at which half of a bubble's drag is there [-]; read off the polars at Re 6e4."""

BUBBLE_DRAG = 0.032
"""Drag coefficient of a bubble that never closes, at high lift [-]; 0.024 to 0.029 where fits
are stopped early, so that this value is judgement."""

THIN_CAMBER = 0.30
"""Share of a thin section's camber that works at any Reynolds number [-]; 0.31 to 0.36
where fits are stopped early, so that this value is judgement.

A thin cambered plate hardly feels the Reynolds number, a thick round-nosed section does (Winslow et
al., J. Aircraft, 2018, C034415).
"""


class Section(Protocol):
    """What the blade-element equations ask of a section. Elementwise, finite at every angle."""

    def coefficients(self, *, angle: Values, reynolds: Values, mach: Values,
                     chord_to_radius: Values = 0.0) -> tuple[Array, Array]:
        """Lift and drag coefficient [-] at an angle of attack [rad], Reynolds and Mach number."""
        ...


# Pieces --------------------------------------------------------------------------------------


def logistic(x: Values) -> Array:
    """1 / (1 + exp(-x)), without overflow."""
    return np.asarray(0.5 * (1.0 + np.tanh(0.5 * np.asarray(x))))


def attachment(*, reynolds: Values, recovery_reynolds: Values, recovery_width: Values) -> Array:
    """Share of the camber that works at a Reynolds number [-].

    Parameters
    ----------
    reynolds : array_like
        Reynolds number on the chord [-], above 0
    recovery_reynolds : array_like
        Reynolds number at which half of the camber works [-]
    recovery_width : array_like
        Width of the change in ln Re [-]: the share goes from 0.12 to 0.88 over two of these

    Notes
    -----
    A form of our own.
    """
    excess = np.log(np.asarray(reynolds) / recovery_reynolds)
    return logistic(2.0 * excess / recovery_width)


def bubble_growth(*, lift: Values) -> Array:
    """Share of a laminar bubble's drag that is there at a lift coefficient [-].

    None without lift, half at :data:`BUBBLE_LIFT`: measured polars at Re 6e4 bulge at middle lift.
    A form of our own.
    """
    square = np.square(lift)
    return np.asarray(square / (square + BUBBLE_LIFT**2))


def stall_delay(*, lift: Values, potential_lift: Values, chord_to_radius: Values,
                factor: Values = STALL_DELAY_FACTOR) -> Array:
    """Lift coefficient of a stalled section on a rotating blade [-].

    ``cl + factor (c/r)^2 (cl_potential - cl)``: the layer, thrown outward and turned by the
    Coriolis force, stays on longer near the hub. The share never exceeds 1.

    References
    ----------
    Snel, Houwink and Bosschers, ECN-C-93-052, 1993; form and Snel's factor 3 from memory.
    """
    share = np.minimum(np.asarray(factor) * np.square(chord_to_radius), 1.0)
    return np.asarray(lift + share * (np.asarray(potential_lift) - lift))


def slope_factor(*, mach: Values) -> Array:
    """Growth of the lift slope with Mach number [-]: Prandtl and Glauert.

    Held above :data:`SLOPE_MACH_LIMIT`.
    """
    return np.asarray(1.0 / np.sqrt(1.0 - np.square(np.minimum(mach, SLOPE_MACH_LIMIT))))


def drag_rise(*, mach: Values, lift: Values, thickness: Values) -> Array:
    """Growth of the drag coefficient above the critical Mach number [-].

    ``20 (M - Mcr)^4`` with ``Mcr = Mdd - (0.1 / 80)^(1/3)``, ``Mdd = 0.87 - t/c - |cl| / 10``.

    References
    ----------
    Lock's rise and Korn's relation, both from memory. NACA Report 302 (Weick 1928) saw no loss on a
    thin metal propeller up to a tip Mach number of 0.9: thin tips have a small ``thickness``.
    """
    divergence = CONVENTIONAL_TECHNOLOGY - np.asarray(thickness) - 0.1 * np.abs(lift)
    critical = divergence - (DIVERGENCE_SLOPE / (4.0 * LOCK_FACTOR)) ** (1.0 / 3.0)
    return np.asarray(LOCK_FACTOR * np.maximum(mach - critical, 0.0) ** 4)


# The form ------------------------------------------------------------------------------------


@dataclass(frozen=True, kw_only=True)
class LowReynoldsSection:
    """A section described by a few numbers; angles in rad, from the chord line.

    Parameters
    ----------
    camber_angle : float
        Zero-lift angle of attack where all of the camber works [rad], negative
    recovery_reynolds, recovery_width : float
        See :func:`attachment`
    held_camber : float
        Share of the camber that works at any Reynolds number [-]; the rest is recovered
    lift_slope : float
        Lift slope of attached flow, incompressible [1/rad]
    stall_angle, negative_stall_angle : float
        Angles of attack at which half of the section has stalled [rad]
    stall_width : float
        Angle over which stall spreads [rad]
    friction_drag : float
        Drag coefficient of friction at a Reynolds number of 1e5 [-]
    bubble_drag : float
        Drag coefficient added where none of the camber works, at high lift [-]
    lift_drag : float
        Drag over the square of lift less ``least_drag_lift`` [-]
    least_drag_lift : float
        Lift coefficient of least drag [-]
    thickness : float
        Thickness over chord of the outer blade, for the drag rise [-]
    """

    camber_angle: float
    recovery_reynolds: float = BLADE_RECOVERY_REYNOLDS
    recovery_width: float = RECOVERY_WIDTH
    held_camber: float = 0.0
    lift_slope: float = LIFT_SLOPE
    stall_angle: float
    negative_stall_angle: float = NEGATIVE_STALL_ANGLE
    stall_width: float = STALL_WIDTH
    friction_drag: float = FRICTION_DRAG
    bubble_drag: float = BUBBLE_DRAG
    lift_drag: float
    least_drag_lift: float
    thickness: float

    def coefficients(self, *, angle: Values, reynolds: Values, mach: Values,
                     chord_to_radius: Values = 0.0) -> tuple[Array, Array]:
        """Lift and drag coefficient [-].

        Parameters
        ----------
        angle : array_like
            Angle of attack [rad], -pi to pi
        reynolds, mach : array_like
            Reynolds number on the chord and Mach number [-]
        chord_to_radius : array_like
            Chord over radius of the element [-], for the stall delay; 0 in a wind tunnel

        Notes
        -----
        Valid for: Re 1e4 to 5e5 (below 6e4 it carries on the trend of the polars), Mach to 0.85.
        """
        share = attachment(reynolds=reynolds, recovery_reynolds=self.recovery_reynolds,
                           recovery_width=self.recovery_width)
        camber = self.held_camber + (1.0 - self.held_camber) * share
        attached = self._attached(angle, camber)
        stalled = self._stalled(angle)
        lift, gained = self._lift(angle, attached * slope_factor(mach=mach), stalled,
                                  chord_to_radius)
        working = self._attached(
            np.clip(angle, self.negative_stall_angle, self.stall_angle), camber)
        base = (self.friction_drag * (REFERENCE_REYNOLDS / np.asarray(reynolds))**FRICTION_EXPONENT
                + self.bubble_drag * (1.0 - share) * bubble_growth(lift=working)
                + drag_rise(mach=mach, lift=working, thickness=self.thickness))
        plate = plate_normal_force(angle=angle) * np.sin(angle)
        profile = self.lift_drag * np.square(working - self.least_drag_lift)
        turned = ROTATION_DRAG * np.abs(gained * np.tan(angle))
        return lift + gained, np.asarray(base + profile + stalled * (plate - profile) + turned)

    def _attached(self, angle: Values, share: Array) -> Array:
        return np.asarray(self.lift_slope * (np.asarray(angle) - self.camber_angle * share))

    def _stalled(self, angle: Values) -> Array:
        """Share of the section that has stalled, on either side [-]."""
        above = logistic(2.0 / self.stall_width * (np.asarray(angle) - self.stall_angle))
        below = logistic(2.0 / self.stall_width * (self.negative_stall_angle - np.asarray(angle)))
        return np.asarray(above + below - above * below)

    @staticmethod
    def _lift(angle: Values, attached: Array, stalled: Array, chord_to_radius: Values
              ) -> tuple[Array, Array]:
        """Lift without rotation, and what rotation adds to it [-]."""
        plate = plate_normal_force(angle=angle) * np.cos(angle)
        lift = (1.0 - stalled) * attached + stalled * plate
        first, last = STALL_DELAY_FADE
        near = np.clip((last - np.abs(angle)) / (last - first), 0.0, 1.0)
        delayed = stall_delay(lift=lift, potential_lift=attached, chord_to_radius=chord_to_radius)
        return lift, np.asarray(near * stalled * (delayed - lift))


CLARK_Y = LowReynoldsSection(
    camber_angle=np.deg2rad(-3.2), stall_angle=np.deg2rad(14.4), lift_drag=0.0068,
    least_drag_lift=0.53, thickness=0.117)
"""Clark Y, 11.7 % thick; from its polars, with its one blade design left out or not."""

THIN_CAMBERED = LowReynoldsSection(
    camber_angle=np.deg2rad(-5.6), held_camber=THIN_CAMBER, stall_angle=np.deg2rad(12.0),
    lift_drag=0.039, least_drag_lift=0.65, thickness=0.08)
"""What moulded propellers have on average: five whose sections are not published.

With any one of them left out the camber angle lies between -5.3 and -6.0 degrees, the stall angle
between 11.1 and 12.1, the drag of lift between 0.025 and 0.042, least at a lift of 0.57 to 0.72.
"""

THIN_MODERATE = replace(THIN_CAMBERED, camber_angle=np.deg2rad(-3.2))
"""The same with less camber: that of two research blades on three propellers, -2.8 to -3.3."""

SECTIONS: dict[str, Section] = {
    "clark y": CLARK_Y,
    "thin cambered": THIN_CAMBERED,
    "thin moderate": THIN_MODERATE,
}
"""Sections by the word a scenario uses; ``thin cambered`` is for a blade nobody knows."""
