"""A blower solved by other equations than the package's: a truth that no fit of ours can meet.

Differs in form, on purpose: air of constant density up to the rotor and behind it, a lip that loses
the square of a speed difference, a head and a power that are powers of the flow, a no-load current
that grows with a root of the speed, a controller whose loss has a fixed part, a winding that is
warm, a nozzle whose discharge rises with its pressure. Plain bisection, twice nested, all points at
once. Nothing of it is fitted to anything.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from thrustlapse.arrays import Array

GAS, CP = 287.05, 1005.0
ROUNDS = 50


def _largest(holds: Callable[[Array], Array], low: Array, high: Array) -> Array:
    """Largest value up to which something holds, by bisection."""
    for _ in range(ROUNDS):
        middle = 0.5 * (low + high)
        good = holds(middle)
        low, high = np.where(good, middle, low), np.where(good, high, middle)
    return 0.5 * (low + high)


def foreign(m: dict[str, Any], *, exit_diameter: Array, voltage: Array, source: Array | float,
            cap: Array, airspeed: Array, shut: Array, pressure: float = 101325.0,
            temperature: float = 288.15) -> dict[str, Array]:
    """Readings and net thrust of a machine ``m``, whose entries broadcast with the conditions.

    ``head``, ``reach``, ``work``, ``disc`` of the map; ``tip``, ``throat`` [m], ``lip``, ``inlet``,
    ``ram``, ``duct``, ``bore`` [m], ``discharge``, ``velocity``; ``kt``, ``winding``, ``idle``,
    ``growth``, ``controller``, ``leads``.
    """
    rho = pressure / (GAS * temperature)
    mouth, bore = np.pi / 4.0 * m["throat"] ** 2, np.pi / 4.0 * m["bore"] ** 2
    exit_area = np.pi / 4.0 * exit_diameter**2
    free = 0.5 * rho * airspeed**2
    rated = 0.8 * voltage / m["kt"]

    def load(flow: Array) -> Array:
        x = flow / m["reach"]
        return np.asarray((m["disc"] + m["work"] * flow * (1.0 - 0.28 * x**1.1))
                          * rho * m["tip"]**5 / 8.0)

    def electrical(w: Array, torque: Array) -> tuple[Array, Array, Array]:
        amps = torque / m["kt"] + m["idle"] * (1.0 + m["growth"] * np.sqrt(w / rated))
        volts = m["kt"] * w + amps * 1.05 * m["winding"]
        shaft = volts * amps
        return amps, volts, shaft + (1.0 / m["controller"] - 1.0) * (0.8 * shaft + 50.0)

    def speed(flow: Array) -> Array:
        k = load(flow)

        def possible(w: Array) -> Array:
            _, volts, watts = electrical(w, k * w * w)
            fed = voltage - watts / voltage * (source + m["leads"])
            return np.asarray((watts < cap) & (volts < fed))

        shape = np.broadcast_shapes(np.shape(k), np.shape(voltage), np.shape(cap))
        return _largest(possible, np.full(shape, 1.0), np.full(shape, 3e4))

    def inside(flow: Array) -> dict[str, Array]:
        w = speed(flow)
        x = flow / m["reach"]
        volume = flow * 0.5 * w * m["tip"]**3
        inlet = volume / mouth
        arrived = pressure + m["ram"] * free - m["lip"] * 0.5 * rho * np.square(
            np.maximum(inlet - airspeed, 0.0)) - m["inlet"] * 0.5 * rho * inlet**2
        tip = 0.5 * w * m["tip"]
        rise = rho * m["head"] * (1.0 + 0.06 * x) * (1.0 - x**2.1) * tip**2
        torque = load(flow) * w * w
        amps, volts, watts = electrical(w, torque)
        del amps, volts
        mass = rho * volume
        with np.errstate(divide="ignore", invalid="ignore"):
            hot = temperature + airspeed**2 / (2.0 * CP) + np.where(
                mass > 0.0, torque * w / (mass * CP), 0.0)
        behind = (arrived + rise) / (GAS * hot)
        pipe = 0.5 * behind * np.square(mass / behind / bore)
        total = arrived + rise - m["duct"] * pipe
        over = np.maximum(total - pressure, 0.0)
        jet = np.sqrt(2.0 * CP * hot * (1.0 - (pressure / (pressure + over)) ** (2.0 / 7.0)))
        thin = pressure / (GAS * (hot - jet**2 / (2.0 * CP)))
        discharge = m["discharge"] * (1.0 + 0.01 * (over / 2e4 - 0.3))
        return {"passed": discharge * exit_area * thin * jet, "mass": mass, "power": watts,
                "speed": w, "static": total - pipe - pressure, "jet": m["velocity"] * jet,
                "total": total}

    edge = np.broadcast_to(m["reach"], np.broadcast_shapes(
        np.shape(m["reach"]), np.shape(exit_diameter), np.shape(airspeed), np.shape(shut)))

    def passes(flow: Array) -> Array:
        state = inside(flow)
        return np.asarray(state["passed"] > state["mass"])

    flow = np.where(shut, 0.0, _largest(passes, np.zeros(edge.shape), 1.2 * edge))
    at = inside(flow)
    return {"thrust": np.where(shut, 0.0, at["mass"] * (at["jet"] - airspeed)),
            "electrical_power": at["power"], "shaft_speed": at["speed"],
            "static_pressure": at["static"]}
