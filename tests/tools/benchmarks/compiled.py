"""Would a compiled kernel be faster? Matched points per second of one, beside the package.

    pip install numba && python -m tests.tools.benchmarks.compiled

The package's parts are arrays and records, which numba does not compile; so this is a second source
of the balance, for the one machine of ``plain_chain.py``, in plain floats: Newton's first step and
Broyden's updates in flow coefficient and throat variable, as the package solves it. Printed are the
rates on one core and one batch in one run, the largest disagreement, and how long compiling takes.
A benchmark, not a test: numba is no part of the package's environment.
"""

from __future__ import annotations

import math
import time
from importlib import import_module
from typing import Any

import numpy as np

from tests.tools.benchmarks.matching import AIR, BATCH, machine
from tests.tools.benchmarks.plain_chain import GAMMA, GAS, PlainMachine
from thrustlapse.arrays import take
from thrustlapse.elementwise import CHUNK
from thrustlapse.propulsor.ducted import free_stream, operate_ducted
from thrustlapse.propulsor.ducted_match import match
from thrustlapse.propulsor.ducted_unit import Ducted, FreeStream

ROUNDS, STEPS, PROBE, SMALL = 5, 32, 1e-6, 1e-11
CP = GAMMA / (GAMMA - 1.0) * GAS
EXPONENT = GAMMA / (GAMMA - 1.0)
CHOKED = 1.2**EXPONENT


def _shaft_speed(m: Any, load: float) -> float:
    """Least of the speeds that full voltage and the power cap allow; the second by Newton's."""
    circuit = m.winding + (m.leads + m.pack) / m.controller
    a, b = load / m.kt * circuit, m.kt + m.idle_slope * circuit
    c = m.idle * circuit - m.volts
    w = 2.0 * -c / (b + math.sqrt(b * b - 4.0 * a * c))
    draw = 2.0 * m.power_limit / (m.volts + math.sqrt(m.volts**2 - 4.0 * m.power_limit * m.pack))
    fed = m.controller * (m.power_limit - draw * draw * m.leads)
    for count in range(30):
        amps = load * w * w / m.kt + m.idle + m.idle_slope * w
        over = amps * amps * m.winding + m.kt * w * amps - fed
        if over <= 0.0 and count == 0:
            return w
        rise = 2.0 * load * w / m.kt + m.idle_slope
        step = over / (2.0 * amps * rise * m.winding + m.kt * (amps + w * rise))
        w -= step
        if abs(step) < 1e-13 * w:
            break
    return w


def _mach_of(function: float) -> float:
    """Subsonic Mach number of a mass-flow function, by Newton's steps; NaN where there is none."""
    if not function < (2.0 / 2.4) ** 3:
        return math.nan
    mach = function
    for _ in range(30):
        tau = 1.0 + 0.2 * mach * mach
        cube = tau * tau * tau
        step = (mach / cube - function) * cube * tau / (1.0 - mach * mach)
        mach -= step
        if abs(step) < 1e-15:
            break
    return mach


def _friction(reynolds: float, rough: float) -> float:
    """Churchill's Darcy friction factor, in few powers."""
    a = 2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * rough))
    b, c = 37530.0 / reynolds, 8.0 / reynolds
    a, b, c = a * a, b * b, c * c
    a, b, c = a * a, b * b, c * c
    a, b, c = a * a * a * a, b * b * b * b, c * c * c
    both = a + b
    return 8.0 * math.sqrt(math.sqrt(c + 1.0 / (both * math.sqrt(both)))) ** (1.0 / 3.0)


def _raised(ratio: float) -> float:
    """Pressure ratio of a temperature ratio: the power of 7/2 without a power."""
    return ratio * ratio * ratio * math.sqrt(ratio)


def _walk(m: Any, phi: float, mach: float, p0: float, pt0: float, tt: float, v0: float
          ) -> tuple[float, float, float]:
    """A walk through the machine: both residuals and the net thrust."""
    tau = 1.0 + 0.2 * mach * mach
    sound = math.sqrt(GAMMA * GAS * tt / tau)
    whole = _raised(tau)
    thin = pt0
    if mach * sound > v0:
        thin = p0 / (1.0 + GAMMA * mach * mach - GAMMA * mach * v0 / sound) * whole
    p1 = ((1.0 - m.lip) * pt0 + m.lip * thin) / whole
    taken = m.throat_area * GAMMA * p1 * mach / sound
    face = p1 * whole - m.inlet_loss * 0.7 * p1 * mach * mach
    density = face / (GAS * tt)
    cost = m.kappa + phi * (m.work0 + m.work1 * phi)
    w = _shaft_speed(m, cost * density * m.tip_diameter**5 / 8.0)
    flow = phi * density * 0.5 * w * m.tip_diameter**3
    square = (0.5 * w * m.tip_diameter) ** 2
    psi = m.psi0 + phi * (m.psi1 + m.psi2 * phi)
    pt3 = face * _raised(1.0 + psi * square / (CP * tt))
    tt3 = tt + cost * square / (phi * CP)
    mach3 = _mach_of(flow * math.sqrt(GAS / GAMMA * tt3) / (m.duct_area * pt3))
    tau3 = 1.0 + 0.2 * mach3 * mach3
    t3 = tt3 / tau3
    viscosity = 1.458e-6 * t3 * math.sqrt(t3) / (t3 + 110.4)
    reynolds = flow * m.duct_diameter / (m.duct_area * viscosity)
    coefficient = m.duct_loss + _friction(
        reynolds, m.roughness / m.duct_diameter) * m.duct_length / m.duct_diameter
    pt7 = pt3 - coefficient * 0.7 * mach3 * mach3 * pt3 / _raised(tau3)
    if not pt7 > p0:
        return math.log(taken / flow), -1.0, 0.0
    square8 = min(5.0 * ((pt7 / p0) ** (1.0 / EXPONENT) - 1.0), 1.0)
    p8 = p0 if square8 < 1.0 else pt7 / CHOKED
    t8 = tt3 / (1.0 + 0.2 * square8)
    ideal = math.sqrt(GAMMA * GAS * t8 * square8)
    passed = m.discharge * m.exit_area * p8 / (GAS * t8) * ideal
    jet = m.velocity * ideal
    area = m.discharge * m.exit_area / m.velocity * (tt3 - jet * jet / (2.0 * CP)) / t8
    return (math.log(taken / flow), math.log(passed / flow),
            flow * (jet - v0) + (p8 - p0) * area)


def _solve(m: Any, p0: float, t0: float, airspeed: Any, thrust: Any) -> None:
    """Every point of a batch: from one guess, with probes at the start and updates after."""
    for at in range(airspeed.size):
        v0 = airspeed[at]
        mach0 = v0 / math.sqrt(GAMMA * GAS * t0)
        pt0, tt = p0 * _raised(1.0 + 0.2 * mach0 * mach0), t0 * (1.0 + 0.2 * mach0 * mach0)
        x, y = math.log(0.7 * 0.17), math.log(0.3)
        r, s, made = _walk(m, math.exp(x), math.exp(y), p0, pt0, tt, v0)
        r1, s1, made = _walk(m, math.exp(x + PROBE), math.exp(y), p0, pt0, tt, v0)
        r2, s2, made = _walk(m, math.exp(x), math.exp(y + PROBE), p0, pt0, tt, v0)
        rx, sx, ry, sy = (r1 - r) / PROBE, (s1 - s) / PROBE, (r2 - r) / PROBE, (s2 - s) / PROBE
        thrust[at] = math.nan
        for _ in range(STEPS):
            determinant = rx * sy - ry * sx
            dx, dy = (ry * s - sy * r) / determinant, (sx * r - rx * s) / determinant
            longest = max(abs(dx), abs(dy), 0.8) / 0.8
            dx, dy = dx / longest, dy / longest
            x, y = x + dx, y + dy
            new_r, new_s, made = _walk(m, math.exp(x), math.exp(y), p0, pt0, tt, v0)
            if abs(dx) + abs(dy) < SMALL:
                thrust[at] = made
                break
            length = dx * dx + dy * dy
            miss_r = (new_r - r - rx * dx - ry * dy) / length
            miss_s = (new_s - s - sx * dx - sy * dy) / length
            rx, ry, sx, sy = (rx + miss_r * dx, ry + miss_r * dy, sx + miss_s * dx,
                              sy + miss_s * dy)
            r, s = new_r, new_s


def main() -> None:
    """Compile, run both, print."""
    try:
        njit: Any = import_module("numba").njit
    except ImportError:
        print("numba is not installed: pip install numba")
        return
    kernels = globals()
    for name in ("_shaft_speed", "_mach_of", "_friction", "_raised", "_walk", "_solve"):
        kernels[name] = njit(kernels[name], error_model="numpy")
    plain, ours = PlainMachine(), machine(PlainMachine())
    record = tuple_of(plain)
    speeds = np.random.default_rng(1).uniform(0.0, 90.0, BATCH)
    thrust = np.empty(BATCH)
    start = time.process_time()
    _solve(record, 101_325.0, 288.15, speeds[:10], thrust[:10])
    print(f"compiling: {time.process_time() - start:.1f} s")
    stream = free_stream(AIR, speeds)
    rates: dict[str, list[float]] = {"compiled": [], "matching alone": [], "every output": []}
    for _ in range(ROUNDS):
        for name, task in (
                ("compiled", lambda: _solve(record, 101_325.0, 288.15, speeds, thrust)),
                ("matching alone", lambda: _matched(ours, stream)),
                ("every output", lambda: operate_ducted(ours, air=AIR, airspeed=speeds))):
            start = time.process_time()
            task()
            rates[name].append(BATCH / (time.process_time() - start))
    point = operate_ducted(ours, air=AIR, airspeed=speeds)
    worst = np.nanmax(np.abs(thrust / point.net_thrust - 1.0))
    for name, found in rates.items():
        print(f"{name}: {np.median(found):,.0f} points/s")
    for name in ("matching alone", "every output"):
        print(f"compiled over {name}: "
              f"{np.median(np.divide(rates['compiled'], rates[name])):.2f}")
    print(f"largest relative disagreement in net thrust: {worst:.1e}; not solved: "
          f"{np.count_nonzero(np.isnan(thrust))}")


def _matched(ours: Ducted, stream: FreeStream) -> None:
    """Both unknowns of every point of the batch, in chunks, as the package works them out."""
    with np.errstate(all="ignore"):
        for begin in range(0, BATCH, CHUNK):
            piece = slice(begin, min(begin + CHUNK, BATCH))
            match(take(ours, (BATCH,), piece), take(stream, (BATCH,), piece),
                  piece.stop - piece.start)


def tuple_of(plain: PlainMachine) -> Any:
    """The machine as a named tuple, which numba knows."""
    from collections import namedtuple
    from dataclasses import asdict

    values = asdict(plain)
    return namedtuple("Machine", values)(**values)


if __name__ == "__main__":
    main()
