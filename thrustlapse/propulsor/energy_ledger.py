"""The ledger of every operating point: first law, entropy split, forces, and their checks.

First law of one ducted unit, per operating point:

    P_shaft + Q = Fn V0 + 0.5 mdot (V8 - V0)^2 + swirl + mdot cp (T8 - T0) - (p8 - p0) Aj V0

The heat term splits at T8s = T0 (p8/p0)^((gamma-1)/gamma): what an under-expanded jet still
stores (zero unless choked), and dissipation, shared between ram loss, inlet, rotor, duct, motor
heat and nozzle in proportion to the entropy each produces. That balance alone is nearly a
tautology, so it is stored beside three checks that are not: the flow the nozzle passes against the
flow the rotor delivers, the forces on the walls against the net thrust, and the total pressure of
the jet recomputed from the entropies.

Open rotor: P_shaft = T V0 + T w + rest, with w the induced speed at the disc of momentum theory.
"""

from __future__ import annotations

from functools import reduce
from itertools import pairwise
from typing import NamedTuple

import numpy as np

from thrustlapse.air.gas import (
    EXPONENT,
    GAMMA,
    GAS_CONSTANT,
    SPECIFIC_HEAT,
    isentropic,
    mach_from_mass_flow_function,
)
from thrustlapse.arrays import Array, in_shape, some
from thrustlapse.power.drive import ElectricalState
from thrustlapse.propulsor.ducted_match import Station, StationStates
from thrustlapse.propulsor.ducted_unit import Ducted, FreeStream
from thrustlapse.propulsor.nozzle import Jet
from thrustlapse.propulsor.operating_point import Ledger


def ducted_ledger(machine: Ducted, free: FreeStream, states: StationStates, jet_state: Jet,
                  electrical: ElectricalState) -> Ledger:
    """Ledger of ducted operating points; every array in the shape of the chunk."""
    v0 = np.asarray(free.airspeed)
    mdot, speed = jet_state.mass_flow, jet_state.speed
    flowing = mdot > 0.0
    power = states.torque * states.shaft_speed
    net, jet_power, swirl, stored, dissipated = stream_powers(
        free, states, jet_state, mass_flow=mdot)
    shares = _entropies(free, states, jet_state)
    total = _sum(list(shares.values()))
    with np.errstate(invalid="ignore", divide="ignore"):
        lossy, per_entropy = flowing & (total > 0.0), dissipated / total
        losses = {f"{name}_loss": np.where(lossy, per_entropy * share, 0.0)
                  for name, share in shares.items()}
    # without through-flow all shaft power stays in the air the rotor churns
    losses["rotor_loss"] = np.where(flowing, losses["rotor_loss"], power + states.heat)
    paid = power + states.heat
    spent = net * v0 + jet_power + swirl + stored + _sum(list(losses.values()))
    # motor heat in next to no air is larger than both, and its round-off too
    scale = np.maximum(np.maximum(np.abs(power), 0.5 * mdot * speed * speed), states.heat)
    forces = _forces(machine, free, states, jet_state)
    with np.errstate(invalid="ignore", divide="ignore"):
        continuity = np.where(flowing, np.log(mdot / states.mass_flow), 0.0)
    fields = {name: in_shape(value, np.shape(mdot)) for name, value in {
        "shaft_power": power, "heat_to_air": states.heat, "thrust_power": net * v0,
        "jet_power": jet_power, "swirl_power": swirl, "stored_power": stored,
        **losses,
        "lip_force": forces[0], "machine_force": forces[1], "nozzle_force": forces[2],
        "energy_residual": _relative(paid - spent, scale),
        "force_residual": _relative(_sum(forces) - net, np.abs(net) + mdot * speed),
        "continuity_residual": continuity,
        "pressure_residual": np.where(
            flowing, _pressure_check(free, jet_state, total), 0.0),
    }.items()}
    return Ledger(**fields, **electrical_ledger(electrical, power))


class StreamPowers(NamedTuple):
    """Net thrust [N], and what the air of one unit carries off or loses beside thrust power [W]."""

    net_thrust: Array
    jet: Array
    swirl: Array
    stored: Array
    dissipated: Array


def stream_powers(free: FreeStream, states: StationStates, jet_state: Jet, *,
                  mass_flow: Array) -> StreamPowers:
    """The right side of the first law at a mass flow [kg/s], but for the thrust power ``Fn V0``."""
    p0, v0, mdot = np.asarray(free.pressure), np.asarray(free.airspeed), mass_flow
    excess = (jet_state.pressure - p0) * jet_state.effective_area * (mdot > 0.0)
    stored = free.temperature  # a jet at ambient pressure stores nothing
    if some(jet_state.choked):
        stored = stored * np.power(jet_state.pressure / p0, 1.0 / EXPONENT)
    heat_flow = mdot * SPECIFIC_HEAT
    return StreamPowers(
        net_thrust=mdot * (jet_state.speed - v0) + excess,
        jet=0.5 * mdot * np.square(jet_state.speed - v0), swirl=0.5 * mdot * states.swirl_speed**2,
        stored=heat_flow * (stored - free.temperature) - excess * v0,
        dissipated=heat_flow * (jet_state.temperature - stored))


def electrical_ledger(electrical: ElectricalState, shaft_power: Array) -> dict[str, Array]:
    """Electrical side of the ledger of one unit: heats [W] and the relative residual."""
    heats = {"pack_heat": electrical.pack_heat, "lead_heat": electrical.lead_heat,
             "controller_heat": electrical.controller_heat,
             "winding_heat": electrical.winding_heat, "no_load_heat": electrical.no_load_heat,
             "unsplit_heat": electrical.unsplit_heat}
    spent = shaft_power + sum(value for name, value in heats.items() if name != "pack_heat")
    shape = np.shape(shaft_power)
    heats = {name: in_shape(value, shape) for name, value in heats.items()}
    # a machine that freewheels draws nothing, and its shaft power is the measure
    miss = _relative(electrical.terminal_power - spent,
                     np.maximum(np.abs(electrical.terminal_power), np.abs(shaft_power)))
    return {**heats, "electrical_residual": in_shape(miss, shape)}


def _entropies(free: FreeStream, states: StationStates, jet_state: Jet) -> dict[str, Array]:
    """Entropy each part produces per mass [J/(kg K)], from its station and the one before it."""
    heat = np.asarray(free.total_temperature)
    stations = (Station("", np.asarray(free.total_pressure), heat),
                Station("ram", states.inlet.total_pressure, heat),
                Station("inlet", states.inlet.face_pressure, heat),
                Station("rotor", states.stage_pressure, states.stage_temperature), *states.behind)
    with np.errstate(invalid="ignore", divide="ignore"):
        made = {after.name: _produced(before, after) for before, after in pairwise(stations)}
        made["nozzle"] = np.asarray(
            SPECIFIC_HEAT * np.log(jet_state.temperature / jet_state.ideal_temperature))
    return made


def _produced(before: Station, after: Station) -> Array:
    """Entropy produced between two stations per mass [J/(kg K)]: cp ln(T2/T1) - R ln(p2/p1)."""
    change = before.pressure / after.pressure
    if after.temperature is not before.temperature:
        change = change * isentropic(temperature_ratio=after.temperature / before.temperature)
    return np.asarray(GAS_CONSTANT * np.log(change))


def _pressure_check(free: FreeStream, jet_state: Jet, entropy: Array) -> Array:
    """Total pressure of the jet from its own state against that from the entropies, relative.

    Its total temperature, to which both are brought, cancels.
    """
    heated = isentropic(temperature_ratio=free.total_temperature / jet_state.temperature)
    return np.asarray(jet_state.pressure / free.total_pressure * heated
                      * np.exp(entropy / GAS_CONSTANT) - 1.0)


def _forces(machine: Ducted, free: FreeStream, states: StationStates,
            jet_state: Jet) -> list[Array]:
    """Forward force on inlet lip, on all between throat and nozzle entry, and on the nozzle [N].

    Each from the impulse (p - p0) A + mdot V of the stations beside it, along the flight axis; the
    states of those stations are found independently, from area and mass flow.
    """
    p0, mdot = np.asarray(free.pressure), jet_state.mass_flow
    axis = np.cos(np.asarray(machine.inlet.facing))
    throat = axis * ((states.inlet.static_pressure - p0) * machine.inlet.throat_area
                     + states.inlet.mass_flow * states.inlet.speed)
    area = np.asarray(machine.duct.area)
    flow_function = mdot * np.sqrt(GAS_CONSTANT / GAMMA * states.axial_temperature) / (
        area * states.axial_pressure)
    with np.errstate(invalid="ignore", divide="ignore"):
        mach = mach_from_mass_flow_function(flow_function=flow_function)
        tau = 1.0 + 0.5 * (GAMMA - 1.0) * mach * mach
        pressure = states.axial_pressure / isentropic(temperature_ratio=tau)
        entry = (pressure - p0) * area + mdot * mach * np.sqrt(
            GAMMA * GAS_CONSTANT * states.axial_temperature / tau)
    flowing = mdot > 0.0
    leave = (jet_state.pressure - p0) * jet_state.effective_area * flowing + mdot * jet_state.speed
    still = [np.where(flowing, part, 0.0) for part in (throat, entry)]
    return [np.asarray(still[0] - mdot * free.airspeed), np.asarray(still[1] - still[0]),
            np.asarray(leave - still[1])]


def _sum(parts: list[Array]) -> Array:
    """Sum of arrays that broadcast; a part without the option it describes may be a scalar."""
    return reduce(np.add, parts)


def _relative(miss: Array, scale: Array) -> Array:
    return np.where(scale > 0.0, miss / np.where(scale > 0.0, scale, 1.0), miss)
