"""A ducted machine solved the plain way: one point at a time, brentq inside brentq, plain floats.

FROZEN: the same equations as the package at the time it was written, kept so that the speed ratio
of ``matching.py`` keeps its meaning. Do not make it faster; do not let it follow the package.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from scipy.optimize import brentq

GAMMA, GAS = 1.4, 287.05287
CP = GAMMA / (GAMMA - 1.0) * GAS
SONIC = (2.0 / 2.4) ** 3


@dataclass(frozen=True)
class PlainMachine:
    """All numbers of one blower, SI."""

    throat_area: float = math.pi / 4 * 0.023**2
    lip: float = 0.2
    inlet_loss: float = 0.3
    tip_diameter: float = 0.038
    psi0: float = 0.55
    psi1: float = 0.2
    psi2: float = -22.0
    work0: float = 0.8
    work1: float = -1.4
    kappa: float = 0.012
    duct_area: float = math.pi / 4 * 0.026**2
    duct_loss: float = 0.2
    duct_length: float = 0.05
    duct_diameter: float = 0.026
    roughness: float = 5e-5
    exit_area: float = math.pi / 4 * 0.016**2
    discharge: float = 0.96
    velocity: float = 0.98
    kt: float = 60.0 / (2.0 * math.pi * 5000.0)
    winding: float = 0.06
    idle: float = 1.0
    idle_slope: float = 1e-4
    power_limit: float = 400.0
    controller: float = 0.95
    leads: float = 0.005
    volts: float = 24.0
    pack: float = 0.09


def shaft_speed(m: PlainMachine, load: float) -> float:
    """Least of the speeds that full voltage and the power cap allow."""
    circuit = m.winding + (m.leads + m.pack) / m.controller

    def voltage(w: float) -> float:
        amps = load * w * w / m.kt + m.idle + m.idle_slope * w
        return amps * circuit + m.kt * w - m.volts

    full = brentq(voltage, 1e-3, 1e5, xtol=1e-12, rtol=1e-14)
    if m.power_limit > m.volts**2 / (4.0 * m.pack):
        return full
    amps_in = 2.0 * m.power_limit / (m.volts + math.sqrt(m.volts**2
                                                         - 4.0 * m.power_limit * m.pack))
    fed = m.controller * (m.power_limit - amps_in**2 * m.leads)

    def power(w: float) -> float:
        amps = load * w * w / m.kt + m.idle + m.idle_slope * w
        return amps * amps * m.winding + m.kt * w * amps - fed

    return min(full, brentq(power, 1e-3, 1e5, xtol=1e-12, rtol=1e-14))


def mach_of(flow_function: float) -> float:
    """Subsonic Mach number of a mass-flow function."""
    return brentq(lambda m: m / (1.0 + 0.2 * m * m) ** 3 - flow_function, 0.0, 1.0, xtol=1e-15)


def friction(reynolds: float, rough: float) -> float:
    """Churchill's Darcy friction factor."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * rough))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)


def inlet(m: PlainMachine, mach: float, p0: float, pt0: float, tt: float,
          v0: float) -> tuple[float, float]:
    """Mass flow and total pressure at the rotor face."""
    tau = 1.0 + 0.2 * mach * mach
    sound = math.sqrt(GAMMA * GAS * tt / tau)
    thin = (pt0 if mach * sound <= v0
            else p0 / (1.0 + GAMMA * mach**2 - GAMMA * mach * v0 / sound) * tau**3.5)
    pt1 = (1.0 - m.lip) * pt0 + m.lip * thin
    p1 = pt1 / tau**3.5
    return m.throat_area * GAMMA * p1 * mach / sound, pt1 - m.inlet_loss * 0.7 * p1 * mach**2


def operate(m: PlainMachine, p0: float, t0: float, v0: float) -> dict[str, float]:
    """One operating point of the plain machine."""
    mach0 = v0 / math.sqrt(GAMMA * GAS * t0)
    pt0, tt = p0 * (1.0 + 0.2 * mach0**2) ** 3.5, t0 * (1.0 + 0.2 * mach0**2)

    def rotor(phi: float, face: float) -> tuple[float, float, float]:
        density = face / (GAS * tt)
        cost = m.kappa + phi * (m.work0 + m.work1 * phi)
        w = shaft_speed(m, cost * density * m.tip_diameter**5 / 8.0)
        return w, phi * density * 0.5 * w * m.tip_diameter**3, cost

    def at(phi: float) -> dict[str, float]:
        mach1 = brentq(lambda x: (lambda i: i[0] - rotor(phi, i[1])[1])(
            inlet(m, x, p0, pt0, tt, v0)), 1e-7, 0.999, xtol=1e-15, rtol=1e-14)
        _, face = inlet(m, mach1, p0, pt0, tt, v0)
        w, mdot, cost = rotor(phi, face)
        square = (0.5 * w * m.tip_diameter) ** 2
        psi = m.psi0 + phi * (m.psi1 + m.psi2 * phi)
        pt3, tt3 = face * (1.0 + psi * square / (CP * tt)) ** 3.5, tt + cost * square / (phi * CP)
        mach3 = mach_of(mdot * math.sqrt(GAS / GAMMA * tt3) / (m.duct_area * pt3))
        tau3 = 1.0 + 0.2 * mach3**2
        t3 = tt3 / tau3
        viscosity = 1.458e-6 * t3**1.5 / (t3 + 110.4)
        reynolds = mdot * m.duct_diameter / (m.duct_area * viscosity)
        coefficient = m.duct_loss + friction(
            reynolds, m.roughness / m.duct_diameter) * m.duct_length / m.duct_diameter
        pt7 = pt3 - coefficient * 0.7 * mach3**2 * pt3 / tau3**3.5
        if pt7 <= p0:
            return {"flow": 0.0, "mdot": mdot}
        square8 = min(5.0 * ((pt7 / p0) ** (1.0 / 3.5) - 1.0), 1.0)
        p8 = p0 if square8 < 1.0 else pt7 / 1.2**3.5
        t8 = tt3 / (1.0 + 0.2 * square8)
        ideal = math.sqrt(GAMMA * GAS * t8 * square8)
        return {"flow": m.discharge * m.exit_area * p8 / (GAS * t8) * ideal, "mdot": mdot,
                "jet": m.velocity * ideal, "speed": w, "p8": p8, "t8": t8, "tt": tt3, "phi": phi}

    phi = brentq(lambda x: (lambda s: s["flow"] - s["mdot"])(at(x)), 0.01, 0.17, xtol=1e-15,
                 rtol=1e-14)
    found = at(phi)
    exit_temperature = found["tt"] - found["jet"]**2 / (2.0 * CP)
    area = m.discharge * m.exit_area / m.velocity * exit_temperature / found["t8"]
    found["net_thrust"] = (found["mdot"] * (found["jet"] - v0) + (found["p8"] - p0) * area)
    return found
