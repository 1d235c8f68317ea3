"""Operating points recomputed from the matched unknowns, without matching again.

Given the unknowns of the balance (shaft speed; flow coefficient and throat variable of a ducted
machine), every station is explicit. Unknowns that were interpolated satisfy the balance only
nearly; what is recomputed from them still obeys the first law exactly, because one mass flow, the
rotor's, is carried through to the jet, and one torque through to the pack.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.air.atmosphere import Air
from thrustlapse.arrays import Array, IntArray, Values
from thrustlapse.power.drive import DriveLimit, ElectricalState, electrical_state
from thrustlapse.propulsor.candidate import Candidate, external_drag
from thrustlapse.propulsor.ducted import free_stream
from thrustlapse.propulsor.ducted_match import station_states
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.propulsor.energy_ledger import stream_powers
from thrustlapse.propulsor.ideal import disc_induced_speed_from_thrust
from thrustlapse.propulsor.inlet import additive_drag
from thrustlapse.propulsor.nozzle import jet
from thrustlapse.propulsor.open_rotor import OpenRotor, rotor_torque


@dataclass(frozen=True, kw_only=True)
class Unknowns:
    """Matched unknowns: shaft speed [rad/s], flow coefficient and throat variable [-].

    ``head`` [-] only where it is not the map's own, as behind a choked eye. A ducted machine
    reads ``shaft_speed`` only where the air drives it (else its drive gives it); an open rotor
    reads nothing else.
    """

    shaft_speed: Array
    flow: Array
    throat: Array
    head: Array | None = None


@dataclass(frozen=True, kw_only=True)
class Running:
    """What all units of a candidate together do, and where their watts go.

    Forces in N, powers in W. ``installed_thrust`` is net thrust less external drag. The ledger:

        electrical_power + pack_heat = pack_heat + lead_heat + controller_heat + motor_heat
            + machine_loss + jet_power + swirl_power + stored_power + net_thrust x airspeed

    ``motor_heat`` is the share that does not go into the duct's air; ``winding_and_idle_heat`` is
    all of it, of one unit. ``machine_loss`` is everything dissipated in the stream tube.
    ``shaft_speed`` [rad/s], ``duty`` [-] and ``drive_limit_code`` are those of each unit.
    """

    net_thrust: Array
    external_drag: Array
    electrical_power: Array
    current: Array
    terminal_voltage: Array
    shaft_speed: Array
    duty: Array
    drive_limit_code: IntArray
    pack_heat: Array
    lead_heat: Array
    controller_heat: Array
    motor_heat: Array
    winding_and_idle_heat: Array
    machine_loss: Array
    jet_power: Array
    swirl_power: Array
    stored_power: Array

    @property
    def installed_thrust(self) -> Array:
        """Net thrust less the candidate's own external drag, all units [N]."""
        return np.asarray(self.net_thrust - self.external_drag)


def recompute(candidate: Candidate, *, air: Air, airspeed: Values, unknowns: Unknowns) -> Running:
    """What a candidate does at operating points whose unknowns are known.

    Parameters
    ----------
    candidate : Candidate
        On the supply of the moment; fields broadcast against the rest
    air : Air
        Still air
    airspeed : array_like
        Airspeed [m/s]
    unknowns : Unknowns
        From a match, or interpolated between matches

    Returns
    -------
    Running
        No validity is judged here: that was done where the unknowns came from.
    """
    speed = np.asarray(airspeed, dtype=float)
    unit = candidate.unit
    with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
        stream, electrical, limit = (_ducted(unit, air, speed, unknowns)
                                     if isinstance(unit, Ducted)
                                     else _open_rotor(unit, air, speed, unknowns))
        drags = external_drag(candidate.installation, density=air.density, airspeed=speed,
                              jet_speed=stream.jet_speed, additive=stream.additive_drag)
    count = float(candidate.count)
    motor = electrical.winding_heat + electrical.no_load_heat + electrical.unsplit_heat
    return Running(
        net_thrust=count * stream.thrust,
        external_drag=count * (drags["pod"] + drags["base"] + drags["additive"]
                               + drags["scrubbing"]),
        electrical_power=count * electrical.terminal_power,
        current=count * electrical.supply_current, terminal_voltage=electrical.terminal_voltage,
        shaft_speed=stream.shaft_speed, duty=electrical.duty, drive_limit_code=limit,
        pack_heat=count * electrical.pack_heat, lead_heat=count * electrical.lead_heat,
        controller_heat=count * electrical.controller_heat,
        motor_heat=count * (motor - stream.heat_to_air), winding_and_idle_heat=motor,
        machine_loss=count * stream.loss, jet_power=count * stream.jet_power,
        swirl_power=count * stream.swirl_power, stored_power=count * stream.stored_power)


@dataclass(frozen=True, kw_only=True)
class _StreamTube:
    """One unit's stream tube: N, W, m/s, rad/s."""

    thrust: Array
    jet_speed: Array
    additive_drag: Array
    shaft_speed: Array
    heat_to_air: Array
    loss: Array
    jet_power: Array
    swirl_power: Array
    stored_power: Array


def _ducted(unit: Ducted, air: Air, airspeed: Array,
            unknowns: Unknowns) -> tuple[_StreamTube, ElectricalState, IntArray]:
    free = free_stream(air, airspeed)
    # a load that drives the shaft has no speed of its own at a flow coefficient
    driving = unit.rotor.stage.power(unknowns.flow) <= 0.0
    speed = np.where(driving, unknowns.shaft_speed, np.nan) if np.any(driving) else None
    states = station_states(unit, free, flow=unknowns.flow, throat=unknowns.throat,
                            head=unknowns.head, shaft_speed=speed)
    jet_state = jet(unit.nozzle, total_pressure=states.axial_pressure,
                    total_temperature=states.axial_temperature, pressure=free.pressure)
    electrical = electrical_state(unit.drive, unit.supply, shaft_speed=states.shaft_speed,
                                  torque=states.torque, limit=states.limit)
    powers = stream_powers(free, states, jet_state, mass_flow=states.mass_flow)
    return _StreamTube(
        thrust=powers.net_thrust, jet_speed=jet_state.speed,
        additive_drag=additive_drag(unit.inlet, state=states.inlet, pressure=free.pressure,
                                    total_temperature=free.total_temperature,
                                    airspeed=airspeed),
        shaft_speed=states.shaft_speed, heat_to_air=states.heat, loss=powers.dissipated,
        jet_power=powers.jet, swirl_power=powers.swirl, stored_power=powers.stored,
    ), electrical, states.limit


def _open_rotor(unit: OpenRotor, air: Air, airspeed: Array,
                unknowns: Unknowns) -> tuple[_StreamTube, ElectricalState, IntArray]:
    omega, density = unknowns.shaft_speed, air.density
    diameter = np.asarray(unit.diameter, dtype=float)
    disc, turns = np.pi / 4.0 * diameter**2, omega / (2.0 * np.pi)
    ratio = unit.table.thrust(advance_ratio=airspeed / (turns * diameter), shaft_speed=omega)
    thrust = ratio * density * turns**2 * diameter**4
    torque = rotor_torque(unit, density=density, airspeed=airspeed, shaft_speed=omega)
    # current from power, so that the ledger closes at a shaft speed that is only nearly balanced
    limit: IntArray = np.full(np.shape(torque), int(DriveLimit.POWER), dtype=np.int64)
    electrical = electrical_state(unit.drive, unit.supply, shaft_speed=omega, torque=torque,
                                  limit=limit)
    shroud = np.asarray(unit.exit_area_ratio, dtype=float)
    area = np.where(shroud > 0.0, shroud * disc, disc)
    filled = 0.5 * (airspeed + np.sqrt(airspeed**2 + 4.0 * thrust / (density * area)))
    induced = disc_induced_speed_from_thrust(thrust=thrust, area=disc, density=density,
                                             airspeed=airspeed)
    jet_speed = np.where(shroud > 0.0, filled, airspeed + 2.0 * induced)
    jet_power = thrust * np.where(shroud > 0.0, 0.5 * (filled - airspeed), induced)
    none = np.zeros(np.shape(thrust))
    return _StreamTube(thrust=thrust, jet_speed=jet_speed, additive_drag=none, shaft_speed=omega,
                       heat_to_air=none, loss=torque * omega - thrust * airspeed - jet_power,
                       jet_power=jet_power, swirl_power=none,
                       stored_power=none), electrical, limit
