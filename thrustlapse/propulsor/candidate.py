"""A candidate: a number of equal units, what they weigh, and the drag they bring along.

Everything inside the captured stream tube is thrust; everything outside is drag and is booked here,
once, to the candidate that causes it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import Air, Site
from thrustlapse.arrays import Array, Values
from thrustlapse.distributions import Spread
from thrustlapse.propulsor.anchored import KnownBy
from thrustlapse.propulsor.anchored_rotor import ReadRotor
from thrustlapse.propulsor.bench_fit import BenchFit
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.open_rotor import OpenRotor, operate_open_rotor
from thrustlapse.propulsor.operating_point import OperatingPoint
from thrustlapse.register import Assumed


@dataclass(frozen=True, kw_only=True)
class Installation:
    """External drag of one unit.

    Parameters
    ----------
    pod_drag_area : array_like
        Skin friction and form drag of pod, duct and pylon, as drag area [m^2]
    base_area : array_like
        Blunt rear that no jet fills [m^2]
    base_drag_coefficient : array_like
        Drag coefficient on that area [-]
    scrubbed_area : array_like
        Wetted airframe area inside the jet [m^2]
    scrubbing_friction : array_like
        Skin-friction coefficient on it [-]
    frontal_area : array_like
        Largest cross-section, for comparisons per frontal area [m^2]
    """

    pod_drag_area: Values = 0.0
    base_area: Values = 0.0
    base_drag_coefficient: Values = 0.0
    scrubbed_area: Values = 0.0
    scrubbing_friction: Values = 0.0
    frontal_area: Values


@dataclass(frozen=True, kw_only=True)
class Ratings:
    """What the parts of one unit are rated for; ``None`` where unknown, and then unchecked.

    ``rotor_material`` names an entry of ``rotor.strength.MATERIALS``, ``rotor_form`` one of its
    ``FORMS``; ``duct_softening`` [K] is the
    temperature at which the duct's plastic goes soft; currents in A, ``motor_current`` for the
    motor, ``supply_current`` for the unit's own wire and controller.
    """

    rotor_material: str | None = None
    rotor_bore_ratio: float = 0.1
    rotor_form: str = "bored wheel"
    duct_softening: float | None = None
    motor_current: float | None = None
    supply_current: float | None = None


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """``count`` equal units, installed: what the comparison is about.

    ``installed_mass`` [kg] is units, ducts, motors, controllers and the pack; not the airframe.
    ``assumptions`` are the defaults that stood in for what the scenario does not say, ``assumed``
    those with a spread of the register, ``stated`` the spreads the scenario gives; ``fit`` is what
    a bench fit knows of its values, ``known_by`` the readings it meets, ``read_by`` the same of a
    propeller; None without.
    Without ``voltage_known`` its currents and voltages are NaN: not known.
    ``unpowered`` says what the rotors do without power, see ``propulsor.unpowered``.
    """

    name: str
    kind: str
    unit: Ducted | OpenRotor
    count: int
    installed_mass: Values
    installation: Installation
    site: Site
    ratings: Ratings = Ratings()
    assumptions: tuple[str, ...] = ()
    fit: BenchFit | None = None
    unpowered: str = "windmilling"
    known_by: KnownBy | None = None
    read_by: ReadRotor | None = None
    voltage_known: bool = True
    assumed: tuple[Assumed, ...] = ()
    stated: tuple[Spread, ...] = ()


def external_drag(installation: Installation, *, density: Values, airspeed: Values,
                  jet_speed: Values, additive: Values) -> dict[str, Array]:
    """External drag of one unit by cause [N]: pod, base, additive, scrubbing.

    Scrubbing is friction on the dynamic pressure that the jet has more than the free stream; a jet
    slower than the flight, or none (NaN), scrubs nothing and gives nothing back.
    """
    free = 0.5 * np.asarray(density) * np.square(airspeed)
    jet = 0.5 * np.asarray(density) * np.square(jet_speed)
    return {
        "pod": np.asarray(free * installation.pod_drag_area),
        "base": np.asarray(free * installation.base_drag_coefficient
                           * np.asarray(installation.base_area)),
        "additive": np.asarray(additive),
        "scrubbing": np.asarray(np.fmax(jet - free, 0.0) * installation.scrubbing_friction
                                * np.asarray(installation.scrubbed_area)),
    }


def operate(candidate: Candidate, *, airspeed: Values, altitude: Values | None = None,
            air: Air | None = None) -> OperatingPoint:
    """Operating points of a candidate at airspeeds, altitudes, or any arrays that broadcast.

    Parameters
    ----------
    candidate : Candidate
    airspeed : array_like
        Airspeed, at least 0 [m/s]
    altitude : array_like, optional
        Above mean sea level [m]; the candidate's own site where not given
    air : Air, optional
        Still air, in place of the site's standard day at ``altitude``

    Returns
    -------
    OperatingPoint
    """
    speed = np.asarray(airspeed, dtype=float)
    here = candidate.site.air(altitude) if air is None else air
    unit = candidate.unit
    point = (operate_ducted(unit, air=here, airspeed=speed) if isinstance(unit, Ducted)
             else operate_open_rotor(unit, air=here, airspeed=speed))
    if not candidate.voltage_known:
        nothing = np.full(point.shape, np.nan)
        point = replace(point, current=nothing, motor_current=nothing, terminal_voltage=nothing)
    drags = external_drag(candidate.installation, density=here.density, airspeed=speed,
                          jet_speed=point.jet_speed, additive=point.additive_drag)
    drag = np.where(point.valid, candidate.count * np.sum(
        np.broadcast_arrays(*drags.values()), axis=0), np.nan)
    thrust = candidate.count * point.net_thrust
    shape = np.broadcast_shapes(drag.shape, point.shape)
    return replace(point, external_drag=np.broadcast_to(drag, shape),
                   installed_thrust=np.asarray(thrust - drag))


def with_power_limit(candidate: Candidate, power: Values) -> Candidate:
    """Same candidate, its power caps set so that all units together draw this power [W].

    Every other limit of the drive stays: where one of them holds first, less power is drawn.
    """
    drive = replace(candidate.unit.drive,
                    power_limit=np.asarray(power, dtype=float) / candidate.count)
    return replace(candidate, unit=replace(candidate.unit, drive=drive))
