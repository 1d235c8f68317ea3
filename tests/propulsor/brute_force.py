"""A ducted machine solved by scanning: every balance there is, one point at a time, plain floats.

Written from the definitions alone, with none of the package's solvers or physics: states
along a grid of the throat, the shaft speed at each held mass flow from the torque law of motor
and limits, all falling sign changes of ln(nozzle flow / rotor flow), and the vertical branch of a
sonic eye.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from itertools import pairwise

from scipy.optimize import brentq, minimize_scalar

from thrustlapse.air.atmosphere import Air
from thrustlapse.power.drive import Drive
from thrustlapse.power.motor import ConstantsMotor, EfficiencyMotor
from thrustlapse.power.pack import Supply
from thrustlapse.propulsor.ducted_unit import Ducted

GAMMA, GAS = 1.4, 287.05287
CP = 3.5 * GAS
SONIC = 1.0 / 1.2**3
CRITICAL = 1.2**3.5
NOTHING = -50.0
"""ln(nozzle flow / rotor flow) of a nozzle that passes nothing, in place of minus infinity."""


@dataclass(frozen=True, kw_only=True)
class Scan:
    """Flow coefficients of all stable balances inside the map, and the outputs at the largest."""

    flows: tuple[float, ...]
    blocked: bool = False
    eye_choked: bool = False
    net_thrust: float = math.nan
    mass_flow: float = math.nan
    shaft_speed: float = math.nan
    shaft_power: float = math.nan


def torque(drive: Drive, supply: Supply, w: float) -> float:
    """Shaft torque on offer at a shaft speed, from motor and limits, the speed cap left out."""
    if isinstance(drive.motor, EfficiencyMotor):
        return rated_torque(drive, supply, w)
    motor = drive.motor
    kt, idle = motor.torque_constant, motor.no_load_current + motor.no_load_current_slope * w
    shared = supply.units * supply.resistance
    upstream, eta = shared + drive.controller_lead_resistance, drive.controller_efficiency
    series = motor.resistance + drive.motor_lead_resistance
    duty, back, volts = drive.duty, kt * w, supply.voltage
    if duty * volts > back:
        amps = min((duty * volts - back) / (series + duty**2 / eta * upstream),
                   drive.motor_current_limit)
        caps = [drive.power_limit]
        if drive.supply_current_limit < (0.5 * volts / shared if shared > 0.0 else math.inf):
            caps.append(drive.supply_current_limit * (volts - drive.supply_current_limit * shared))
        for watts in caps:
            if watts <= most_useful(drive, supply) and math.isfinite(watts):
                drawn = 2.0 * watts / (volts + math.sqrt(volts**2 - 4.0 * watts * shared))
                fed = eta * (watts - drawn**2 * drive.controller_lead_resistance)
                # I (kt w + I R) = fed
                amps = min(amps, (math.sqrt(back**2 + 4.0 * series * fed) - back) / (2.0 * series)
                           if series > 0.0 else fed / back)
        return kt * (amps - idle)
    meets = duty if drive.synchronous_rectification else 1.0
    if back <= meets * volts:
        return -kt * idle
    return kt * ((meets * volts - back) / (series + meets**2 * eta * upstream) - idle)


def rated_torque(drive: Drive, supply: Supply, w: float) -> float:
    """The same of a motor known by its efficiency: it only drives."""
    if drive.duty == 0.0:
        return 0.0
    motor, volts = drive.motor, supply.voltage
    shared = supply.units * supply.resistance
    watts = min(asked_watts(drive, supply), most_useful(drive, supply))
    current = 2.0 * watts / (volts + math.sqrt(max(volts**2 - 4.0 * watts * shared, 0.0)))
    fed = watts - current**2 * drive.controller_lead_resistance
    points = list(zip(motor.input_power * motor.rating * motor.input_scale,
                      motor.shaft_power * motor.rating, strict=True))
    low, high = next((pair for pair in pairwise(points) if fed <= pair[1][0]), points[-2:])
    shaft = low[1] + (fed - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
    rated = not motor.endless and fed > points[-1][0]
    return (points[-1][1] if rated else shaft) / w


def capped(drive: Drive, balanced: Callable[[Drive], float]) -> float:
    """Shaft speed with the speed cap: held from below, and overrun by the air the drive is cut.

    ``balanced(drive)`` is the shaft speed without the cap. What is cut switches nothing, so nothing
    rectifies.
    """
    speed, cap = balanced(drive), float(drive.speed_limit)
    if not speed > cap:
        return speed
    free = balanced(Drive(motor=drive.motor, duty=0.0,
                          motor_lead_resistance=drive.motor_lead_resistance,
                          controller_lead_resistance=drive.controller_lead_resistance,
                          controller_efficiency=drive.controller_efficiency))
    return free if free > cap else cap


def asked_watts(drive: Drive, supply: Supply) -> float:
    """Power at the terminals that the caps ask of the pack, were it able to give it."""
    volts, amps = supply.voltage, drive.supply_current_limit
    shared = supply.units * supply.resistance
    if amps < (0.5 * volts / shared if shared > 0.0 else math.inf):
        return min(drive.power_limit, amps * (volts - amps * shared))
    return drive.power_limit


def starved(drive: Drive, supply: Supply, w: float, shaft: float) -> bool:
    """Whether no current within the caps brings what holds a shaft at a balance, by Ohm's law.

    A voltage V behind a resistance R gives at most V^2 / (4 R). A motor known by its efficiency has
    no voltage of its own to give way: where its cap is what holds it, the pack must give the cap.
    """
    motor, volts = drive.motor, supply.voltage
    shared = supply.units * supply.resistance
    upstream = shared + drive.controller_lead_resistance
    if isinstance(motor, ConstantsMotor):
        back = motor.torque_constant * w
        amps = shaft / (w * motor.torque_constant) + (
            motor.no_load_current + motor.no_load_current_slope * w)
        series, eta = motor.resistance + drive.motor_lead_resistance, drive.controller_efficiency
        at_full = (drive.duty * volts - back) / (series + drive.duty**2 / eta * upstream)
        if amps > 0.0 and abs(amps / at_full - 1.0) < 1e-6:
            drawn = drive.duty * amps / eta
            return (drawn > drive.supply_current_limit * (1.0 + 1e-6)
                    or drawn * (volts - drawn * shared) > drive.power_limit * (1.0 + 1e-6))
        return 4.0 * amps * (back + amps * series) / eta * upstream > volts**2 * (1.0 + 1e-9)
    if drive.duty == 0.0:
        return False
    points = list(zip(motor.shaft_power * motor.rating,
                      motor.input_power * motor.rating * motor.input_scale, strict=True))
    low, high = next((pair for pair in pairwise(points) if shaft <= pair[1][0]), points[-2:])
    taken = low[1] + (shaft - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
    rated = not motor.endless and shaft >= points[-1][0] * (1.0 - 1e-9)
    if rated or w >= drive.speed_limit * (1.0 - 1e-9):
        return 4.0 * taken * upstream > volts**2
    return asked_watts(drive, supply) > most_useful(drive, supply)


def most_useful(drive: Drive, supply: Supply) -> float:
    """Power at the terminals that brings most through pack and leads: at half the voltage."""
    shared = supply.units * supply.resistance
    upstream = shared + drive.controller_lead_resistance
    if upstream == 0.0:
        return math.inf
    amps = 0.5 * supply.voltage / upstream
    return amps * (supply.voltage - amps * shared)


class Plain:
    """One machine at one airspeed in one air."""

    def __init__(self, machine: Ducted, *, air: Air, airspeed: float) -> None:
        self.machine, self.p0, self.v0 = machine, float(air.pressure), airspeed
        self.tt = float(air.temperature) + airspeed**2 / (2.0 * CP)
        self.pt0 = self.p0 * (self.tt / float(air.temperature)) ** 3.5
        self.diameter = machine.rotor.tip_diameter
        stage = machine.rotor.stage
        self.top = float(stage.highest_flow)
        self.bottom = max(float(stage.lowest_flow), 1e-4 * self.top)

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

    def held(self, throat: float) -> tuple[float, float, float, bool]:
        """Flow coefficient, shaft speed, face pressure at a throat; and whether the map has them.

        The shaft speed at which the load of the held mass flow takes what the drive gives, more
        load above it. Where that lies beyond the map, its end stands in.
        """
        mdot, face = self.inlet(throat)
        if face <= 0.0:
            return math.nan, math.nan, face, False
        drive, supply, stage = self.machine.drive, self.machine.supply, self.machine.rotor.stage
        density = face / (GAS * self.tt)
        volume = mdot / density * 2.0 / self.diameter**3
        scale = density * self.diameter**5 / 8.0

        def balanced(drive: Drive) -> float:
            def excess(w: float) -> float:
                return torque(drive, supply, w) - float(stage.power(volume / w)) * scale * w * w

            slowest, fastest = volume / self.top, volume / self.bottom
            if not excess(slowest) > 0.0:
                return slowest
            if not excess(fastest) < 0.0:
                return fastest
            return brentq(excess, slowest, fastest, xtol=1e-300, rtol=1e-14)

        flow = volume / capped(drive, balanced)
        within = self.bottom * (1.0 + 1e-12) < flow < self.top * (1.0 - 1e-12)
        flow = min(max(flow, self.bottom), self.top)
        return flow, volume / flow, face, within

    def behind(self, flow: float, face: float, speed: float,
               head: float | None = None) -> dict[str, float]:
        """Stage, duct and nozzle; ``over`` is ln(nozzle flow / rotor flow)."""
        machine, density = self.machine, face / (GAS * self.tt)
        tip = 0.5 * speed * self.diameter
        mdot = flow * density * tip * self.diameter**2
        power = float(machine.rotor.stage.power(flow)) * density * tip**3 * self.diameter**2
        psi = float(machine.rotor.stage.head(flow)) if head is None else head
        left = 1.0 + psi * tip**2 / (CP * self.tt)
        tt7 = self.tt + (power + self.heat(speed, power)) / (mdot * CP)
        found = {"mdot": mdot, "power": power, "over": -math.inf, "thrust": 0.0, "tt": tt7}
        if not (left > 0.0 and tt7 > 0.0):
            return found  # more taken out than there is
        pt3 = face * left**3.5
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
        if pt7 <= 0.0 or axial_tt <= 0.0:
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
            points = list(zip(motor.shaft_power * motor.rating, motor.input_power * motor.rating,
                              strict=True))
            low, high = next((pair for pair in pairwise(points) if power <= pair[1][0]),
                             points[-2:])
            lost = (low[1] + (power - low[0]) / (high[0] - low[0]) * (high[1] - low[1])
                    ) * motor.input_scale - power
        return self.machine.duct.heat_share * lost

    def nozzle(self, pt: float, tt: float, mdot: float) -> dict[str, float]:
        """Flow and thrust of the nozzle."""
        part, ratio = self.machine.nozzle, pt / self.p0
        if ratio <= 1.0:  # how far from any flow, so that a narrow hump shows
            return {"over": NOTHING - (1.0 - ratio)}
        p8 = self.p0 if ratio < CRITICAL else pt / CRITICAL
        ideal_t = tt * (p8 / pt) ** (1.0 / 3.5)
        ideal_v = math.sqrt(2.0 * CP * (tt - ideal_t))
        passed = part.discharge_coefficient * part.exit_area * p8 / (GAS * ideal_t) * ideal_v
        if passed <= 0.0:  # a ratio of one to round-off
            return {"over": NOTHING}
        jet = part.velocity_coefficient * ideal_v
        static = tt - jet**2 / (2.0 * CP)
        area = passed * GAS * static / (p8 * jet)
        return {"over": max(math.log(passed / mdot), NOTHING),
                "thrust": passed * (jet - self.v0) + (p8 - self.p0) * area}

    def over(self, throat: float) -> float:
        """ln(nozzle flow / rotor flow) at a throat variable, bounded."""
        flow, speed, face, _ = self.held(throat)
        if math.isnan(flow):
            return 2.0 * NOTHING
        return max(self.behind(flow, face, speed)["over"], 2.0 * NOTHING)

    def scan(self, *, points: int = 48) -> Scan:
        """All stable balances inside the map up to a sonic eye, and what holds at the largest."""
        pinned = self.sonic_eye()
        flow, speed, face, known = self.held(pinned)
        if known and self.behind(flow, face, speed)["over"] > 0.0:
            return self.vertical_branch(flow, face, speed)
        grid = [*(10.0 ** (-7.0 + k / 4.0) for k in range(24)),
                *(pinned * k / points for k in range(1, points))]
        # the sonic eye itself is the last: by round-off a share of one may lie beyond it
        grid = [*sorted(throat for throat in grid if throat < pinned), pinned]
        values = [self.over(throat) for throat in grid]
        self.add_extrema(grid, values)
        roots = [brentq(self.over, grid[k], grid[k + 1], xtol=1e-16, rtol=1e-14)
                 for k in range(len(grid) - 1) if values[k] > 0.0 >= values[k + 1]]
        inside = [found for root in roots if (found := self.held(root))[3]]
        if not inside:
            # below the map's lowest flow a motor without a voltage may be said to stand still
            known = next((over for throat, over in zip(grid, values, strict=True)
                          if self.held(throat)[3]), values[0])
            return Scan(flows=(), blocked=not roots and known <= 0.0)
        flow, speed, face, _ = inside[-1]
        return self.outcome([one[0] for one in inside], False, face, speed)

    def add_extrema(self, grid: list[float], values: list[float]) -> None:
        """Put in tops that rise above zero between places below it, and bottoms the other way."""
        for k in reversed(range(1, len(grid) - 1)):
            left, here, right = values[k - 1:k + 2]
            way = 1.0 if here > 0.0 else -1.0
            if way * here <= min(way * left, way * right):
                found = minimize_scalar(lambda throat, way=way: way * self.over(throat),
                                        method="bounded", bounds=(grid[k - 1], grid[k + 1]),
                                        options={"xatol": 1e-12})
                if found.fun < 0.0:
                    place = k if found.x < grid[k] else k + 1
                    grid.insert(place, float(found.x))
                    values.insert(place, way * float(found.fun))

    def outcome(self, flows: list[float], choked: bool, face: float, speed: float,
                head: float | None = None) -> Scan:
        """What holds at the largest of the flows."""
        found = self.behind(flows[-1], face, speed, head)
        return Scan(flows=tuple(flows), blocked=False, eye_choked=choked,
                    net_thrust=found["thrust"], mass_flow=found["mdot"], shaft_speed=speed,
                    shaft_power=found["power"])

    def sonic_eye(self) -> float:
        """Throat variable at which the eye is sonic."""
        most = SONIC * self.machine.rotor.eye_area / math.sqrt(GAS * self.tt / GAMMA)

        def spare(ln_throat: float) -> float:
            mdot, face = self.inlet(math.exp(ln_throat))
            return 1.0 if face <= 0.0 else math.log(mdot / (most * face))

        return math.exp(brentq(spare, math.log(1e-9), math.log(1e6), xtol=1e-14, rtol=1e-15,
                               maxiter=400))

    def vertical_branch(self, flow: float, face: float, speed: float) -> Scan:
        """Flow pinned by the eye; the head is what duct and nozzle leave of it."""
        tip = 0.5 * speed * self.diameter
        least = -0.99 * CP * self.tt / tip**2
        head = brentq(lambda psi: max(self.behind(flow, face, speed, psi)["over"], NOTHING), least,
                      float(self.machine.rotor.stage.head(flow)), xtol=1e-15, rtol=1e-13,
                      maxiter=400)
        return self.outcome([flow], True, face, speed, head)


def churchill(reynolds: float, rough: float) -> float:
    """Churchill's Darcy friction factor, Chem. Eng. 84 (1977) 91-92."""
    a = (2.457 * math.log(1.0 / ((7.0 / reynolds) ** 0.9 + 0.27 * rough))) ** 16
    b = (37530.0 / reynolds) ** 16
    return 8.0 * ((8.0 / reynolds) ** 12 + (a + b) ** -1.5) ** (1.0 / 12.0)
