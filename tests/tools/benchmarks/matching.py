"""Matched ducted points per second against the plain script, same equations, same run.

    python -m tests.tools.benchmarks.matching

Prints points per second of one core, the ratio, the largest disagreement, the time of a
comparison's curve, and the peak memory of a batch of a million points. A benchmark, not a test:
nothing here passes or fails.
"""

from __future__ import annotations

import resource
import subprocess
import sys
import time

import numpy as np

from tests.tools.benchmarks.plain_chain import PlainMachine
from tests.tools.benchmarks.plain_chain import operate as plain_operate
from thrustlapse.air.atmosphere import Air
from thrustlapse.power.drive import Drive
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.duct import Duct
from thrustlapse.propulsor.ducted import operate_ducted
from thrustlapse.propulsor.ducted_unit import Ducted, Rotor
from thrustlapse.propulsor.inlet import Inlet
from thrustlapse.propulsor.nozzle import Nozzle
from thrustlapse.rotor.stage_map import CoefficientMap

AIR = Air(pressure=101_325.0, temperature=288.15)
BATCH, PLAIN, ROUNDS = 100_000, 60, 5
CURVE, CURVES, STATED = 400, 20, 430.0
"""Points of a curve, curves a round, and the plain script's points per second on the core that the
aims are stated for."""


def machine(plain: PlainMachine) -> Ducted:
    """The plain machine's numbers as parts of the package."""
    return Ducted(
        inlet=Inlet(throat_area=plain.throat_area, lip_sharpness=plain.lip,
                    loss_coefficient=plain.inlet_loss),
        rotor=Rotor(stage=CoefficientMap(
            head_shutoff=plain.psi0, head_slope=plain.psi1, head_curvature=plain.psi2,
            work_shutoff=plain.work0, work_slope=plain.work1, shutoff_power=plain.kappa,
            highest_flow=0.17), tip_diameter=plain.tip_diameter, eye_area=plain.throat_area),
        duct=Duct(area=plain.duct_area, loss_coefficient=plain.duct_loss,
                  length=plain.duct_length, hydraulic_diameter=plain.duct_diameter,
                  roughness=plain.roughness),
        nozzle=Nozzle(exit_area=plain.exit_area, discharge_coefficient=plain.discharge,
                      velocity_coefficient=plain.velocity),
        drive=Drive(motor=ConstantsMotor(
            torque_constant=plain.kt, resistance=plain.winding, no_load_current=plain.idle,
            no_load_current_slope=plain.idle_slope), power_limit=plain.power_limit,
            controller_efficiency=plain.controller, controller_lead_resistance=plain.leads),
        supply=Supply(voltage=plain.volts, resistance=plain.pack, units=1.0))


def main() -> None:
    """Run both and print."""
    if sys.argv[1:] == ["million"]:
        operate_ducted(machine(PlainMachine()), air=AIR, airspeed=np.linspace(0.0, 90.0, 1_000_000))
        print(f"{resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1e6:.2f}")
        return
    plain, fast = PlainMachine(), machine(PlainMachine())
    speeds = np.random.default_rng(1).uniform(0.0, 90.0, BATCH)
    operate_ducted(fast, air=AIR, airspeed=speeds[:1000])
    ratios, rates = [], []
    for _ in range(ROUNDS):
        start = time.process_time()
        slow = [plain_operate(plain, 101_325.0, 288.15, float(v)) for v in speeds[:PLAIN]]
        middle = time.process_time()
        point = operate_ducted(fast, air=AIR, airspeed=speeds)
        end = time.process_time()
        rates.append(BATCH / (end - middle))
        ratios.append(rates[-1] * (middle - start) / PLAIN)
    curve, took = np.linspace(0.0, 90.0, CURVE), []
    for _ in range(ROUNDS):
        start = time.process_time()
        for v in speeds[:PLAIN]:
            plain_operate(plain, 101_325.0, 288.15, float(v))
        middle = time.process_time()
        for _ in range(CURVES):
            operate_ducted(fast, air=AIR, airspeed=curve)
        took.append((time.process_time() - middle) / CURVES * PLAIN / (middle - start) / STATED)
    thrust = np.array([found["net_thrust"] for found in slow])
    worst = np.max(np.abs(point.net_thrust[:PLAIN] / thrust - 1.0))
    print(f"package: {np.median(rates):,.0f} points/s of one core, every output, batch {BATCH:,}")
    print(f"plain script: {np.median(rates) / np.median(ratios):,.0f} points/s")
    print(f"ratio: {np.median(ratios):,.0f} (median of {ROUNDS}; {min(ratios):,.0f} to "
          f"{max(ratios):,.0f})")
    print(f"a curve of {CURVE} points: {1e3 * min(took):.2f} ms (median "
          f"{1e3 * np.median(took):.2f}) where the plain script makes {STATED:.0f} points/s")
    print(f"largest relative disagreement in net thrust over {PLAIN} points: {worst:.1e}")
    peak = subprocess.run([sys.executable, "-m", "tests.tools.benchmarks.matching", "million"],
                          capture_output=True, text=True, check=True).stdout.strip()
    print(f"peak memory of a batch of a million points: {peak} GB")


if __name__ == "__main__":
    main()
