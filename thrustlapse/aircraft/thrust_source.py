"""What pushes an aircraft along a flight: a candidate on its pack, or any thrust law.

A flight asks an engine for three things: full power, power that holds a thrust, and the motor cut.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, Protocol

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.aircraft.discharge import RunningPack
from thrustlapse.aircraft.endurance import held_speed, hold_margin, shaft_speed_for_thrust
from thrustlapse.aircraft.thrust_surface import build_surface
from thrustlapse.aircraft.thrust_table_lookup import ThrustSurface, full_power, known_margin
from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted import free_stream
from thrustlapse.propulsor.ducted_match import match
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.evaluate_matched import Running, Unknowns, recompute
from thrustlapse.propulsor.unpowered import unpowered_drag_area

UNPOWERED_POINTS = 19
"""Airspeeds between which the drag area of rotors without power is read off."""


@dataclass(frozen=True, kw_only=True)
class Setting:
    """Part power: the shaft speed a controller holds [rad/s], its torque [N m], and the unknowns.

    At a constant airspeed and height they do not change while the pack runs down.
    """

    shaft_speed: float
    torque: float
    unknowns: Unknowns


class Engine(Protocol):
    """What a flight needs; all elementwise. Altitudes in m above mean sea level."""

    @property
    def name(self) -> str: ...

    @property
    def site(self) -> Site: ...

    @property
    def pack(self) -> RunningPack | None: ...

    def known_to(self, state_of_charge: Values) -> Array:
        """Highest airspeed at which anything is known [m/s]."""
        ...

    def known_margin(self, *, airspeed: Values, altitude: Values,
                     state_of_charge: Values) -> Array:
        """How far inside what is known at full power a state lies: negative outside [-]."""
        ...

    def full(self, *, air: Air, airspeed: Values, altitude: Values, state_of_charge: Values,
             beyond: bool = False) -> Running:
        """Full power; ``beyond`` carries on past what is known, for trial steps only."""
        ...

    def held(self, setting: Setting, *, air: Air, airspeed: Values,
             state_of_charge: Values) -> Running:
        """Part power: a setting held."""
        ...

    def hold_margin(self, setting: Setting, *, state_of_charge: Values) -> Array:
        """Share by which the drive could give more torque than the setting takes [-]."""
        ...

    def cut(self, *, air: Air, airspeed: Values, extra_drag_area: Values = 0.0) -> Running: ...

    def setting(self, *, air: Air, airspeed: float, altitude: float, thrust: float,
                state_of_charge: float) -> Setting | None:
        """Part power that gives an installed thrust [N]; None where no power up to full does."""
        ...


def nothing_running(shape: tuple[int, ...]) -> dict[str, Any]:
    """Every field of :class:`Running` at zero."""
    zero = np.zeros(shape)
    values: dict[str, Any] = {item.name: zero for item in fields(Running)}
    values["drive_limit_code"] = np.zeros(shape, dtype=np.int64)
    return values


@dataclass(frozen=True, kw_only=True)
class PackEngine:
    """A candidate on a pack, by its surface."""

    surface: ThrustSurface

    @cached_property
    def _unpowered(self) -> tuple[Array, Array]:
        """Airspeeds [m/s], and the drag area of the rotors without power there [m^2]."""
        candidate = self.surface.candidate
        speeds = np.linspace(0.1, 1.0, UNPOWERED_POINTS) * max(self.surface.highest, 1.0)
        return speeds, unpowered_drag_area(candidate, air=candidate.site.air(), airspeed=speeds)

    @property
    def name(self) -> str:
        """The candidate's name."""
        return self.surface.candidate.name

    @property
    def site(self) -> Site:
        """The candidate's site."""
        return self.surface.candidate.site

    @property
    def pack(self) -> RunningPack:
        """The pack."""
        return self.surface.pack

    def known_to(self, state_of_charge: Values) -> Array:
        """Highest airspeed at which the surface is known [m/s]."""
        return self.surface.known_to(state_of_charge)

    def known_margin(self, *, airspeed: Values, altitude: Values,
                     state_of_charge: Values) -> Array:
        """How far inside the surface, and the machine's map, a state lies [-]."""
        return known_margin(self.surface, airspeed=airspeed, altitude=altitude,
                            state_of_charge=state_of_charge)

    def full(self, *, air: Air, airspeed: Values, altitude: Values, state_of_charge: Values,
             beyond: bool = False) -> Running:
        """Full power: whatever limits of the drive hold."""
        return full_power(self.surface, air=air, airspeed=airspeed, altitude=altitude,
                          state_of_charge=state_of_charge, beyond=beyond)

    def held(self, setting: Setting, *, air: Air, airspeed: Values,
             state_of_charge: Values) -> Running:
        """The shaft speed of a setting held by the controller."""
        candidate = self.surface.candidate
        unit = candidate.unit
        supply = self.pack.supply(state_of_charge, units=float(candidate.count))
        drive = replace(unit.drive, speed_limit=setting.shaft_speed, power_limit=np.inf,
                        supply_current_limit=np.inf, motor_current_limit=np.inf)
        held = replace(candidate, unit=replace(unit, drive=drive, supply=supply))
        return recompute(held, air=air, airspeed=airspeed, unknowns=setting.unknowns)

    def hold_margin(self, setting: Setting, *, state_of_charge: Values) -> Array:
        """Share by which the drive could give more torque at the shaft speed held [-]."""
        candidate = self.surface.candidate
        supply = self.pack.supply(state_of_charge, units=float(candidate.count))
        return hold_margin(candidate.unit.drive, supply, shaft_speed=setting.shaft_speed,
                           torque=setting.torque)

    def cut(self, *, air: Air, airspeed: Values, extra_drag_area: Values = 0.0) -> Running:
        """Motor cut: no thrust, no current; pods, bases and rotors drag on, and what is added
        [m^2]."""
        candidate = self.surface.candidate
        place = candidate.installation
        area = candidate.count * (place.pod_drag_area + np.asarray(place.base_area)
                                  * place.base_drag_coefficient) + extra_drag_area
        area = area + np.interp(airspeed, *self._unpowered)
        dynamic = 0.5 * air.density * np.square(airspeed)
        values = nothing_running(np.shape(dynamic))
        values["external_drag"] = dynamic * area
        return Running(**values)

    def setting(self, *, air: Air, airspeed: float, altitude: float, thrust: float,
                state_of_charge: float) -> Setting | None:
        """Part power for an installed thrust, found on the match itself, not on the surface."""
        candidate = self.surface.candidate
        full = self.full(air=air, airspeed=np.array([airspeed]), altitude=np.array([altitude]),
                         state_of_charge=np.array([state_of_charge]))
        if not full.installed_thrust[0] >= thrust:
            return None
        # a little above full power, for the error of the surface
        omega, torque = shaft_speed_for_thrust(
            candidate, air=air, airspeed=np.array([airspeed]), thrust=thrust,
            fastest=1.002 * full.shaft_speed)
        if not np.isfinite(omega[0]):
            return None
        held = held_speed(candidate, omega)
        none = np.zeros(1)
        unknowns = Unknowns(shaft_speed=omega[0], flow=none[0], throat=none[0])
        if isinstance(held.unit, Ducted):
            free = free_stream(air, airspeed)
            with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
                solved = match(held.unit, replace(free, airspeed=np.array([airspeed])), 1)
            unknowns = Unknowns(shaft_speed=omega[0], flow=solved.flow[0],
                                throat=solved.throat[0],
                                head=solved.head[0] if solved.eye_choked[0] else None)
        return Setting(shaft_speed=float(omega[0]), torque=float(torque[0]), unknowns=unknowns)


def engine_of(candidate: Candidate, pack: RunningPack, *, highest_airspeed: float,
              altitudes: tuple[float, float]) -> PackEngine:
    """Engine of a candidate on a pack; arguments as for :func:`build_surface`."""
    return PackEngine(surface=build_surface(candidate, pack, highest_airspeed=highest_airspeed,
                                            altitudes=altitudes))
