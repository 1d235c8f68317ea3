"""A ducted machine solved by scanning: every balance there is, one point at a time, plain floats.

Written from the definitions alone, with none of the package's solvers or physics: the throat by
``brentq`` at each flow coefficient, every limit of the drive on its own, all sign changes of
ln(nozzle flow / rotor flow) along the map, and the vertical branch of a sonic eye.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise

from scipy.optimize import brentq

from thrustlapse.air.atmosphere import Air
from thrustlapse.power.motor import ConstantsMotor
from thrustlapse.propulsor.ducted_match import Ducted

GAMMA, GAS = 1.4, 287.05287
CP = 3.5 * GAS
SONIC = 1.0 / 1.2**3
CRITICAL = 1.2**3.5


@dataclass(frozen=True, kw_only=True)
class Scan:
    """All flow coefficients at which the machine balances, and the outputs at the largest."""

    flows: tuple[float, ...]
    blocked: bool
    eye_choked: bool
    net_thrust: float
    mass_flow: float
    shaft_speed: float
    shaft_power: float


def dc_speed(machine: Ducted, load: float) -> float:
    """Least speed over the limits of a direct-current drive; NaN where it cannot turn."""
    drive, motor, volts = machine.drive, machine.drive.motor, machine.supply.voltage
    kt, idle, slope = motor.torque_constant, motor.no_load_current, motor.no_load_current_slope
    shared = machine.supply.units * machine.supply.resistance
    upstream = shared + drive.controller_lead_resistance
    series = motor.resistance + drive.motor_lead_resistance

    def amps(w: float) -> float:
        return load * w * w / kt + idle + slope * w

    # a load that drives turns the idle motor without current at this speed, and no faster
    free = math.inf if load >= 0.0 else kt * (slope + math.sqrt(
        slope**2 - 4.0 * load / kt * idle)) / (-2.0 * load)

    def root(wanting) -> float:
        if wanting(0.0) > 0.0:
            return math.nan
        if load >= 0.0:
            return brentq(wanting, 0.0, 1e9, xtol=1e-12, rtol=1e-14)
        steps = [free * k / 400.0 for k in range(401)]
        rise = next((k for k in range(400) if wanting(steps[k + 1]) > 0.0), None)
        return math.inf if rise is None else brentq(wanting, steps[rise], steps[rise + 1],
                                                    xtol=1e-12, rtol=1e-14)

    def at_full_duty(w: float) -> float:
        circuit = series + drive.duty**2 / drive.controller_efficiency * upstream
        return kt * w + amps(w) * circuit - drive.duty * volts

    def at_terminals(watts: float):
        current = 2.0 * watts / (volts + math.sqrt(volts**2 - 4.0 * watts * shared))
        fed = drive.controller_efficiency * (watts
                                             - current**2 * drive.controller_lead_resistance)
        return lambda w: amps(w) * (kt * w + amps(w) * series) - fed

    speeds = [float(drive.speed_limit), root(at_full_duty), free]
    if math.isfinite(drive.motor_current_limit):
        speeds.append(root(lambda w: amps(w) - drive.motor_current_limit))
    caps = [drive.power_limit]
    if drive.supply_current_limit * shared < 0.5 * volts:
        caps.append(drive.supply_current_limit * (volts - drive.supply_current_limit * shared))
    speeds += [root(at_terminals(watts)) for watts in caps
               if math.isfinite(watts) and 4.0 * watts * shared <= volts**2]
    return math.nan if any(math.isnan(speed) for speed in speeds) else min(speeds)


def rated_speed(machine: Ducted, load: float) -> float:
    """Speed of a motor known by its efficiency; NaN where the pack holds it down."""
    drive, motor, volts = machine.drive, machine.drive.motor, machine.supply.voltage
    shared = machine.supply.units * machine.supply.resistance
    most = volts**2 / (4.0 * shared) if shared > 0.0 else math.inf
    watts = min(drive.power_limit, most)
    current = 2.0 * watts / (volts + math.sqrt(max(volts**2 - 4.0 * watts * shared, 0.0)))
    fed = watts - current**2 * drive.controller_lead_resistance
    points = list(zip(motor.input_power, motor.shaft_power, strict=True))
    low, high = next(pair for pair in pairwise(points) if fed <= pair[1][0])
    shaft = low[1] + (fed - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
    speed = (shaft / load) ** (1.0 / 3.0)
    if speed > drive.speed_limit:
        return float(drive.speed_limit)
    return math.nan if drive.power_limit > most else speed


class Plain:
    """One machine at one airspeed in one air."""

    def __init__(self, machine: Ducted, *, air: Air, airspeed: float) -> None:
        self.machine, self.p0, self.v0 = machine, float(air.pressure), airspeed
        self.tt = float(air.temperature) + airspeed**2 / (2.0 * CP)
        self.pt0 = self.p0 * (self.tt / float(air.temperature)) ** 3.5
        self.diameter = machine.rotor.tip_diameter

    def inlet(self, throat: float) -> tuple[float, float]:
        """Mass flow and total pressure at the rotor face; beyond 1, shocks divide the pressure."""
        part, mach = self.machine.inlet, min(throat, 1.0)
        static = self.tt / (1.0 + 0.2 * mach**2)
        sound = math.sqrt(GAMMA * GAS * static)
        along = self.v0 * math.cos(part.facing)
        smooth = self.p0 + part.ram_recovery * (self.pt0 - self.p0)
        if mach * sound > along:
            # momentum: p0 A + mdot V0 cos = p1 A + mdot V1, with rho1 = p1 / (R T1)
            p1 = self.p0 / (1.0 + mach * sound * (mach * sound - along) / (GAS * static))
            thin = p1 * (self.tt / static) ** 3.5
        else:
            thin = self.p0 * (self.tt / (self.tt - along**2 / (2.0 * CP))) ** 3.5
        arriving = (1.0 - part.lip_sharpness) * smooth + part.lip_sharpness * thin
        p1 = arriving * (static / self.tt) ** 3.5
        density = p1 / (GAS * static)
        face = arriving - part.loss_coefficient * 0.5 * density * (mach * sound) ** 2
        return density * mach * sound * part.throat_area, face / max(throat, 1.0)

    def speed(self, flow: float, face: float) -> float:
        """Shaft speed at a flow coefficient."""
        load = float(self.machine.rotor.stage.power(flow)) * face / (GAS * self.tt)
        load *= self.diameter**5 / 8.0
        return (dc_speed(self.machine, load)
                if isinstance(self.machine.drive.motor, ConstantsMotor)
                else rated_speed(self.machine, load))

    def throat(self, flow: float) -> float:
        """Throat variable that feeds the rotor at a flow coefficient."""
        def excess(ln_throat: float) -> float:
            mdot, face = self.inlet(math.exp(ln_throat))
            if face <= 0.0:
                return 1.0
            density = face / (GAS * self.tt)
            return math.log(mdot / (flow * density * 0.5 * self.speed(flow, face)
                                    * self.diameter**3))
        return math.exp(brentq(excess, math.log(1e-9), math.log(1e3), xtol=1e-13, rtol=1e-14))

    def behind(self, flow: float, face: float, speed: float,
               head: float | None = None) -> dict[str, float]:
        """Stage, duct and nozzle; ``over`` is ln(nozzle flow / rotor flow)."""
        machine, density = self.machine, face / (GAS * self.tt)
        tip = 0.5 * speed * self.diameter
        mdot = flow * density * tip * self.diameter**2
        power = float(machine.rotor.stage.power(flow)) * density * tip**3 * self.diameter**2
        psi = float(machine.rotor.stage.head(flow)) if head is None else head
        pt3 = face * (1.0 + psi * tip**2 / (CP * self.tt)) ** 3.5
        tt7 = self.tt + (power + self.heat(speed, power)) / (mdot * CP)
        found = {"mdot": mdot, "power": power, "over": -math.inf, "thrust": 0.0, "tt": tt7}
        share = mdot * math.sqrt(GAS * tt7 / GAMMA) / (machine.duct.area * pt3)
        if share >= SONIC:
            return found
        mach = brentq(lambda m: m / (1.0 + 0.2 * m * m) ** 3 - share, 0.0, 1.0, xtol=1e-15)
        static = tt7 / (1.0 + 0.2 * mach**2)
        p3 = pt3 * (static / tt7) ** 3.5
        lost = machine.duct.loss_coefficient
        if machine.duct.length > 0.0:
            viscosity = 1.458e-6 * static**1.5 / (static + 110.4)
            reynolds = mdot * machine.duct.hydraulic_diameter / (machine.duct.area * viscosity)
            lost += churchill(reynolds, machine.duct.roughness / machine.duct.hydraulic_diameter) \
                * machine.duct.length / machine.duct.hydraulic_diameter
        pt7 = pt3 - lost * 0.7 * p3 * mach**2
        swirl = float(machine.rotor.stage.swirl(flow)) * tip
        axial_tt = tt7 - swirl**2 / (2.0 * CP)
        if pt7 <= 0.0:
            return found
        return found | self.nozzle(pt7 * (axial_tt / tt7) ** 3.5, axial_tt, mdot)

    def heat(self, speed: float, power: float) -> float:
        """Share of the motor's heat that the air takes."""
        motor, torque = self.machine.drive.motor, power / speed
        if isinstance(motor, ConstantsMotor):
            idle = motor.no_load_current + motor.no_load_current_slope * speed
            current = torque / motor.torque_constant + idle
            lost = current**2 * motor.resistance + motor.torque_constant * speed * idle
        else:
            points = list(zip(motor.shaft_power, motor.input_power, strict=True))
            low, high = next(pair for pair in pairwise(points) if power <= pair[1][0])
            lost = low[1] + (power - low[0]) / (high[0] - low[0]) * (high[1] - low[1]) - power
        return self.machine.duct.heat_share * lost

    def nozzle(self, pt: float, tt: float, mdot: float) -> dict[str, float]:
        """Flow and thrust of the nozzle."""
        part, ratio = self.machine.nozzle, pt / self.p0
        if ratio <= 1.0:
            return {}
        p8 = self.p0 if ratio < CRITICAL else pt / CRITICAL
        ideal_t = tt * (p8 / pt) ** (1.0 / 3.5)
        ideal_v = math.sqrt(2.0 * CP * (tt - ideal_t))
        passed = part.discharge_coefficient * part.exit_area * p8 / (GAS * ideal_t) * ideal_v
        jet = part.velocity_coefficient * ideal_v
        static = tt - jet**2 / (2.0 * CP)
        area = passed * GAS * static / (p8 * jet)
        return {"over": math.log(passed / mdot),
                "thrust": passed * (jet - self.v0) + (p8 - self.p0) * area}

    def over(self, flow: float) -> float:
        """ln(nozzle flow / rotor flow) at a flow coefficient."""
        _, face = self.inlet(self.throat(flow))
        return self.behind(flow, face, self.speed(flow, face))["over"]

    def crossings(self, top: float, points: int) -> list[float]:
        """Flow coefficients up to ``top`` at which nozzle flow and rotor flow are equal."""
        def bounded(flow: float) -> float:
            return max(self.over(flow), -50.0)

        grid = [top * (1e-4 + (1.0 - 1e-4) * (k / points) ** 1.5) for k in range(points + 1)]
        values = [bounded(flow) for flow in grid]
        return [brentq(bounded, grid[k], grid[k + 1], xtol=1e-15, rtol=1e-13)
                for k in range(points) if (values[k] > 0.0) != (values[k + 1] > 0.0)]

    def scan(self, *, points: int = 40) -> Scan:
        """All balances inside the map up to a sonic eye, and what holds at the largest."""
        top = float(self.machine.rotor.stage.highest_flow)
        if math.isnan(self.speed(0.5 * top, self.p0)):
            return Scan(flows=(), blocked=False, eye_choked=False, net_thrust=math.nan,
                        mass_flow=math.nan, shaft_speed=math.nan, shaft_power=math.nan)
        pinned, speed, face = self.sonic_eye(top)
        limit = min(top, pinned)
        flows = self.crossings(limit, points)
        if pinned < top and self.behind(pinned, face, speed)["over"] > 0.0:
            return self.vertical_branch(flows, pinned, face, speed)
        if not flows:
            return Scan(flows=(), blocked=self.over(1e-4 * top) <= 0.0, eye_choked=False,
                        net_thrust=math.nan, mass_flow=math.nan, shaft_speed=math.nan,
                        shaft_power=math.nan)
        _, face = self.inlet(self.throat(flows[-1]))
        return self.outcome(flows, False, face, self.speed(flows[-1], face))

    def outcome(self, flows: list[float], choked: bool, face: float, speed: float,
                head: float | None = None) -> Scan:
        """What holds at the largest of the flows."""
        found = self.behind(flows[-1], face, speed, head)
        return Scan(flows=tuple(flows), blocked=False, eye_choked=choked,
                    net_thrust=found["thrust"], mass_flow=found["mdot"], shaft_speed=speed,
                    shaft_power=found["power"])

    def sonic_eye(self, top: float) -> tuple[float, float, float]:
        """Flow coefficient, shaft speed and face pressure with a sonic eye, if inside the map."""
        most = SONIC * self.machine.rotor.eye_area / math.sqrt(GAS * self.tt / GAMMA)

        def spare(ln_throat: float) -> float:
            mdot, face = self.inlet(math.exp(ln_throat))
            return 1.0 if face <= 0.0 else math.log(mdot / (most * face))

        mdot, face = self.inlet(math.exp(brentq(spare, math.log(1e-9), math.log(1e6),
                                                xtol=1e-13)))
        volume = mdot * GAS * self.tt / face * 2.0 / self.diameter**3

        def settled(flow: float) -> float:
            return self.speed(flow, face) * flow / volume - 1.0

        if settled(top) < 0.0:
            return math.inf, math.nan, face
        flow = brentq(settled, 1e-9, top, xtol=1e-15, rtol=1e-13)
        return flow, volume / flow, face

    def vertical_branch(self, flows: list[float], flow: float, face: float, speed: float) -> Scan:
        """Flow pinned by the eye; the head is what duct and nozzle leave of it."""
        tip = 0.5 * speed * self.diameter
        least = -0.99 * CP * self.tt / tip**2
        head = brentq(lambda psi: max(self.behind(flow, face, speed, psi)["over"], -50.0), least,
                      float(self.machine.rotor.stage.head(flow)), xtol=1e-15, rtol=1e-13,
                      maxiter=400)
        return self.outcome([*flows, flow], True, face, speed, head)


def churchill(reynolds: float, rough: float) -> float:
    """Churchill's Darcy friction factor, Chem. Eng. 84 (1977) 91-92."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * rough))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
