"""What a design is worth at an airspeed and a power, and by how much it breaks a limit."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from thrustlapse.aircraft.drag import Airframe
from thrustlapse.arrays import Array, Values
from thrustlapse.power.wiring import Wiring
from thrustlapse.propulsor.candidate import operate, with_power_limit
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.operating_point import TIP_MACH_LIMIT, Flag, OperatingPoint, select
from thrustlapse.propulsor.relative_mach import relative_mach
from thrustlapse.study.limits.states import States
from thrustlapse.study.limits.table import STOPS
from thrustlapse.study.sizing.kinds import Kind, Outlines, Sized
from thrustlapse.study.sizing.unit_size import own_induced_drag

UNKNOWN = 10.0
"""How far a design without a value counts as beyond its limits [-]."""

OUTRIGHT = 1e3
"""How far a design that its dimensions alone forbid counts as beyond its limits [-]: farther than
any that has been operated."""

TOGETHER = {"blower": 16_384, "axial fan": 16_384, "propeller": 3_000}
"""Designs of a kind that are operated together: many hide the calls, too many of the large tables
of propellers leave the cache."""

HUB_ROOM = 0.95
"""Widest motor over the hub it sits in [-] (judgement)."""


@dataclass(frozen=True, kw_only=True)
class Rules:
    """What every design is held to, whatever its kind.

    ``airframe`` for the induced drag of the unit's own weight, None without; ``base_mass`` [kg] is
    everything but the unit. ``frontal_limit`` [m] on the unit's width, ``tip_mach_limit`` [-].
    """

    airframe: Airframe | None = None
    base_mass: float = 0.0
    frontal_limit: float = float("inf")
    tip_mach_limit: float = TIP_MACH_LIMIT
    pack_current_rating: Values | None = None
    wiring: Wiring | None = None


@dataclass(frozen=True, kw_only=True)
class Worth:
    """Designs judged, all (n,): ``value`` [N] is installed thrust less own induced drag, ``beyond``
    by how much all limits together are broken [-], 0 where none is. ``running`` is how the machine
    runs there, by the names of :data:`RUNNING`."""

    value: Array
    beyond: Array
    installed_thrust: Array
    electrical_power: Array
    limits: dict[str, Array]
    running: dict[str, Array]


RUNNING = MappingProxyType({
    "shaft_speed": ("shaft speed", "rad/s"), "rotor_efficiency": ("rotor efficiency", ""),
    "tip_mach": ("relative tip Mach number", ""), "strength_used": ("stress over strength", "")})
"""How a design runs: words, SI unit. The efficiency is isentropic, total to total, of a ducted
rotor and J CT / CP of an open one; stress is that of the fastest state, shut too, NaN of
propellers."""


def judged(kind: Kind, rules: Rules, places: Array, *, airspeed: Array,
           power: Array) -> tuple[Array, Array]:
    """Value [N] and how far beyond the limits [-] of designs, for a search among very many.

    As :func:`worth`, but a design that its dimensions alone forbid is not operated, and the limits
    that forbid it at rest are asked at the airspeed only.
    """
    beyond = np.sum([_beyond(over[:, None])
                     for over in _outright(kind.outlines(places, power), rules).values()], axis=0)
    value = np.full(beyond.shape, -np.inf)
    beyond = np.where(beyond > 0.0, OUTRIGHT + beyond, 0.0)
    every = np.flatnonzero(beyond == 0.0)
    step = TOGETHER[kind.name]
    for start in range(0, every.size, step):
        may = every[start:start + step]
        made = worth(kind, rules, places[may], airspeed=airspeed[may], power=power[may],
                     at_rest=False)
        value[may], beyond[may] = made.value, made.beyond
    return value, beyond


def worth(kind: Kind, rules: Rules, places: Array, *, airspeed: Array, power: Array,
          at_rest: bool = True) -> Worth:
    """Designs (n, variables) at an airspeed [m/s] and a power [W] each, (n,)."""
    return worth_of(kind.sized(places, power), rules, airspeed=airspeed, power=power,
                    at_rest=at_rest)


def worth_of(made: Sized, rules: Rules, *, airspeed: Array, power: Array,
             at_rest: bool = True) -> Worth:
    """Designs that have been sized, at an airspeed and a power each.

    ``at_rest`` asks the limits that forbid a machine at rest too; without it they are asked at the
    airspeed and with inlet or outlet shut.
    """
    held = with_power_limit(made.candidate, power[:, None])
    first = np.zeros((airspeed.size, 1)) if at_rest else airspeed[:, None]
    points = operate(held, airspeed=np.concatenate([first, airspeed[:, None]], axis=1)
                     if at_rest else first)
    there = select(points, (..., slice(-1, None)))
    air = made.candidate.site.air()
    value = _pull(made, rules, there, airspeed)
    states = States(candidate=held, air=air, points=(points,),
                    rest=select(points, (..., slice(0, 1))), wiring=rules.wiring,
                    pack_current_rating=rules.pack_current_rating)
    limits = {name: _beyond(over) for name, over in _limits(made, rules, states, there).items()}
    beyond = np.sum(list(limits.values()), axis=0)
    known = np.isfinite(value)
    return Worth(value=np.where(known, value, -np.inf),
                 beyond=beyond + np.where(known, 0.0, UNKNOWN),
                 installed_thrust=there.installed_thrust[:, 0],
                 electrical_power=there.electrical_power[:, 0], limits=limits,
                 running=_running(made, states, there))


def pull_of(made: Sized, rules: Rules, *, airspeed: Array, power: Array) -> Array:
    """The value [N] alone of designs that have been sized, NaN where there is none."""
    there = operate(with_power_limit(made.candidate, power[:, None]), airspeed=airspeed[:, None])
    return _pull(made, rules, there, airspeed)


def _pull(made: Sized, rules: Rules, there: OperatingPoint, airspeed: Array) -> Array:
    """Installed thrust less the induced drag of the unit's own weight [N], (n,)."""
    thrust: Array = there.installed_thrust[:, 0]
    if rules.airframe is None:
        return thrust
    return thrust - own_induced_drag(
        rules.airframe, base_mass=rules.base_mass, unit_mass=made.unit_mass[:, 0],
        density=made.candidate.site.air().density, airspeed=airspeed)


def _running(made: Sized, states: States, there: OperatingPoint) -> dict[str, Array]:
    unit = made.candidate.unit
    given, taken = ((there.head_coefficient * there.flow_coefficient, there.power_coefficient)
                    if isinstance(unit, Ducted)
                    else (there.net_thrust * there.airspeed, there.shaft_power))
    with np.errstate(divide="ignore", invalid="ignore"):
        gain = np.where(taken > 0.0, given / taken, np.nan)  # driven by the air it has none
    margin = STOPS["rotor stress"].margin(states)
    used = np.full(gain.shape, np.nan) if margin is None else 1.0 - np.nanmin(
        np.where(np.isnan(margin), np.inf, margin), axis=-1, keepdims=True)
    found = {"shaft_speed": there.shaft_speed, "rotor_efficiency": gain,
             "tip_mach": relative_mach(unit, there), "strength_used": used}
    return {name: np.broadcast_to(value, gain.shape)[:, 0] for name, value in found.items()}


def _beyond(over: Array) -> Array:
    """How far a share of its limit is beyond it [-]; what is not known is beyond by one."""
    worst = np.max(np.where(np.isnan(over), 2.0, over), axis=-1)
    return np.asarray(np.minimum(np.maximum(worst - 1.0, 0.0), UNKNOWN))


def _outright(made: Sized | Outlines, rules: Rules) -> dict[str, Array]:
    """Value over limit [-] of what dimensions alone settle, by name."""
    return {"motor speed": np.asarray(made.motor_speed / made.motor_speed_limit),
            "frontal limit": np.asarray(made.width / rules.frontal_limit),
            "motor in the hub": np.asarray(made.hub_room / HUB_ROOM)}


def _limits(made: Sized, rules: Rules, states: States, there: OperatingPoint) -> dict[str, Array]:
    """Value over limit [-] by name, (n, elements); NaN where not known."""
    unit = made.candidate.unit
    running = states.each("shaft_speed")
    heat = there.ledger.winding_heat + there.ledger.no_load_heat
    found = _outright(made, rules)
    found |= {
        "motor heat": heat / made.heat_limit,
        "motor speed": np.maximum(found["motor speed"], running / made.motor_speed_limit),
        "tip Mach number": relative_mach(unit, there) / rules.tip_mach_limit,
    }
    if isinstance(unit, Ducted):
        found["stall"] = np.asarray(unit.rotor.stage.stall_flow) / there.flow_coefficient
    else:
        outside = there.flagged(Flag.SPEED_OUTSIDE_TABLE)
        found["speed of the table"] = np.where(outside, 1.1, 0.0)
    for name, limit in STOPS.items():
        margin = limit.margin(states)
        if margin is not None:
            # no value, nothing to hold there, as for a search and for draws
            found[name] = np.where(np.isnan(margin), 0.0, 1.0 + limit.ranks["stop"] - margin)
    return {name: np.broadcast_to(over, (made.unit_mass.shape[0], np.shape(over)[-1]))
            for name, over in found.items()}
