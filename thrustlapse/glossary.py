"""One word per quantity, everywhere: its symbol, its SI unit, how people read it, what it means.

Result files, tables and figures take names, keys and units from here, so that a quantity has the
same name in the code, in ``results.json`` and on a page. A record's field is always in the SI unit
given here; :func:`key` adds that unit to the name for a file (``net_thrust`` -> ``net_thrust_N``),
:func:`display` converts to the unit people read.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Quantity:
    """A word of the glossary.

    ``unit`` is the SI unit, empty for pure numbers, words and records; people read
    ``value * factor + offset`` in ``display_unit``. Of a quantity at an operating point ``shown``
    says where beside ``results.json``, see :data:`PLACES`. One that a search may be asked for says
    which way is ``better``, "more" or "less", whether it is ``of`` each "airspeed" or the "design",
    and whether it needs an ``airframe``.
    """

    name: str
    symbol: str
    unit: str
    display_unit: str
    factor: float
    offset: float
    meaning: str
    shown: frozenset[str] = frozenset()
    better: str = ""
    of: str = "airspeed"
    airframe: bool = False

    @property
    def words(self) -> str:
        """The name as people read it."""
        return self.name.replace("_", " ")

    @property
    def key(self) -> str:
        """The name as files carry it, with its unit: letters, digits and ``_`` only."""
        suffix = self.unit.replace("^", "").replace("/", "_").replace(" ", "_")
        return f"{self.name}_{suffix}" if suffix else self.name


ZERO_CELSIUS = 273.15

_READ_AS: dict[str, tuple[str, float, float]] = {
    "krpm": ("rad/s", 60.0 / (2.0 * math.pi) / 1000.0, 0.0),
    "degC": ("K", 1.0, -ZERO_CELSIUS),
    "g/s": ("kg/s", 1000.0, 0.0),
    "g": ("kg", 1000.0, 0.0),
    "mm": ("m", 1000.0, 0.0),
    "cm^2": ("m^2", 1e4, 0.0),
    "kPa": ("Pa", 1e-3, 0.0),
    "mN m": ("N m", 1000.0, 0.0),
    "%": ("", 100.0, 0.0),
    "deg": ("rad", 180.0 / math.pi, 0.0),
    "min": ("s", 1.0 / 60.0, 0.0),
    "km": ("m", 1e-3, 0.0),
}
"""Units people read, and how the SI value becomes one."""


PLACES = ("csv", "point", "rest", "top", "figure")
"""Columns of ``curves.csv``, rows of the table of one point, of the candidates side by side at rest
and at top speed, panels of the figure of efficiencies."""


def _word(name: str, symbol: str, unit: str, meaning: str, *, shown: str = "", better: str = "",
          of: str = "airspeed", airframe: bool = False) -> Quantity:
    """A word given with the unit people read: its SI unit follows from :data:`_READ_AS`."""
    si, factor, offset = _READ_AS.get(unit, (unit, 1.0, 0.0))
    return Quantity(name=name, symbol=symbol, unit=si, display_unit=unit, factor=factor,
                    offset=offset, meaning=meaning, shown=frozenset(shown.split()), better=better,
                    of=of, airframe=airframe)


_FLOW = (
    _word("airspeed", "V0", "m/s", "speed through undisturbed air",
          shown="csv point"),
    _word("net_thrust", "Fn", "N", "gross thrust less ram drag, one unit",
          shown="csv point", better="more"),
    _word("installed_thrust", "F", "N", "net thrust of all units less the candidate's own external "
          "drag",
          shown="csv point", better="more"),
    _word("gross_thrust", "Fg", "N", "mass flow times jet speed plus the jet's pressure force, "
          "one unit",
          shown="csv point"),
    _word("ram_drag", "Dr", "N", "mass flow times airspeed, one unit",
          shown="csv point"),
    _word("ideal_thrust", "Fi", "N", "most thrust momentum theory allows for the same shaft power "
          "and area, one unit",
          shown="csv point"),
    _word("external_drag", "De", "N", "candidate's own external drag, all units",
          shown="csv point", better="less"),
    _word("additive_drag", "Da", "N", "drag of the air an inlet spills, one unit"),
    _word("electrical_power", "P", "W", "power at the pack terminals, all units",
          shown="csv point rest top", better="less"),
    _word("current", "I", "A", "current at the pack terminals, all units",
          shown="csv point rest top", better="less"),
    _word("shaft_power", "P_shaft", "W", "power of one shaft",
          shown="csv point", better="less"),
    _word("shaft_speed", "omega", "krpm", "speed of the shaft",
          shown="csv point rest top", better="less"),
    _word("torque", "Q", "mN m", "torque on one shaft",
          shown="csv point"),
    _word("mass_flow", "mdot", "g/s", "air through one unit",
          shown="csv point rest", better="more"),
    _word("jet_speed", "V8", "m/s", "speed of the jet; of the far wake behind an open rotor",
          shown="csv point rest", better="more"),
    _word("jet_area", "Aj", "cm^2", "area the jet fills, one unit",
          shown="point"),
    _word("pressure_ratio", "NPR", "", "total pressure at the nozzle entry over ambient pressure",
          shown="csv point rest", better="less"),
    _word("flow_coefficient", "phi", "", "mass flow over density, tip speed and diameter squared; "
          "advance ratio J of an open rotor",
          shown="csv point"),
    _word("head_coefficient", "psi", "", "isentropic head over tip speed squared; thrust "
          "coefficient CT of an open rotor",
          shown="csv point"),
    _word("power_coefficient", "Pi", "", "shaft power over density, tip speed cubed and diameter "
          "squared; CP of an open rotor",
          shown="csv point"),
    _word("tip_mach", "M_tip", "", "rotor tip speed over speed of sound; with the airspeed, for "
          "an open rotor",
          shown="csv point", better="less"),
    _word("throat_mach", "M1", "", "Mach number in the inlet throat",
          shown="csv point", better="less"),
    _word("eye_mach", "M2", "", "Mach number in the rotor's eye",
          shown="csv point"),
    _word("duct_mach", "M7", "", "Mach number at the nozzle entry",
          shown="point"),
    _word("exit_temperature", "Tt7", "degC", "total temperature at the nozzle entry",
          shown="csv point", better="less"),
    _word("face_pressure", "pt2", "kPa", "total pressure at the rotor face"),
    _word("stage_pressure", "pt3", "kPa", "total pressure behind rotor and stator or scroll"),
    _word("nozzle_pressure", "pt7", "kPa", "total pressure at the nozzle entry"),
    _word("motor_current", "Im", "A", "current in one motor",
          shown="csv point", better="less"),
    _word("motor_voltage", "Vm", "V", "mean voltage at one motor",
          shown="point"),
    _word("duty", "d", "%", "share of the supply voltage the controller passes on",
          shown="csv point"),
    _word("terminal_voltage", "Vb", "V", "voltage at the pack terminals",
          shown="csv point", better="more"),
    _word("propulsive_efficiency", "eta_p", "%", "thrust power over thrust power plus what the jet "
          "carries away",
          shown="csv point top figure", better="more"),
    _word("overall_efficiency", "eta", "%", "installed thrust times airspeed over electrical "
          "power",
          shown="csv point top figure", better="more"),
    _word("drive_limit", "", "", "limit of the drive that holds the shaft speed"),
    _word("drive_limit_code", "", "", "drive limit as a number"),
    _word("flags", "", "", "notes and faults at the operating point"),
    _word("flag_bits", "", "", "flags as bits of a number"),
    _word("severity", "", "", "ok, note (value holds, read the flags), or invalid (no value)"),
    _word("ledger", "", "", "energy and forces of one unit"),
)

_LEDGER = (
    _word("heat_to_air", "", "W", "motor heat given to the air, one unit"),
    _word("thrust_power", "", "W", "net thrust times airspeed, one unit"),
    _word("jet_power", "", "W", "kinetic energy the jet leaves behind, one unit"),
    _word("swirl_power", "", "W", "energy of swirl left in the jet, one unit"),
    _word("stored_power", "", "W", "energy an under-expanded jet still stores, one unit"),
    _word("ram_loss", "", "W", "dissipated before the inlet throat, one unit"),
    _word("inlet_loss", "", "W", "dissipated in guards and struts of the inlet, one unit"),
    _word("rotor_loss", "", "W", "dissipated in rotor and stator or scroll, one unit; with swirl "
          "and profile drag for an open rotor"),
    _word("duct_loss", "", "W", "dissipated in the duct, one unit"),
    _word("heating_loss", "", "W", "motor heat that stays heat in the jet, one unit"),
    _word("nozzle_loss", "", "W", "dissipated in the nozzle, one unit"),
    _word("pack_heat", "", "W", "heat inside the pack, this unit's share; on top of electrical "
          "power"),
    _word("lead_heat", "", "W", "heat in the leads, one unit"),
    _word("controller_heat", "", "W", "heat in the controller, one unit"),
    _word("winding_heat", "", "W", "copper heat in the motor, one unit"),
    _word("no_load_heat", "", "W", "iron, bearing and windage losses of the motor, one unit"),
    _word("unsplit_heat", "", "W", "losses of motor and controller where only their joint "
          "efficiency is known, one unit"),
    _word("lip_force", "", "N", "forward force on the inlet lip, one unit"),
    _word("machine_force", "", "N", "forward force between throat and nozzle entry, one unit"),
    _word("nozzle_force", "", "N", "forward force on the nozzle, one unit"),
    _word("energy_residual", "", "", "what the first law misses, relative"),
    _word("electrical_residual", "", "", "what the electrical books miss, relative"),
    _word("force_residual", "", "", "wall forces less net thrust, relative"),
    _word("continuity_residual", "", "", "logarithm of nozzle flow over rotor flow"),
    _word("pressure_residual", "", "", "jet total pressure against that from the entropies, "
          "relative"),
)

_STUDY = (
    _word("name", "", "", "candidate's name"),
    _word("kind", "", "", "kind of candidate, or of crossover"),
    _word("count", "n", "", "number of equal units"),
    _word("installed_mass", "m", "g", "units, ducts, motors, controllers and pack; not the "
          "airframe",
          better="less", of="design"),
    _word("output_trust", "", "%", "relative standard deviation of the map's head, or of a "
          "propeller's thrust coefficient; null where none is stated"),
    _word("power_trust", "", "%", "relative standard deviation of the map's power; null where none "
          "is stated"),
    _word("trust_basis", "", "", "where those deviations come from"),
    _word("frontal_area", "", "cm^2", "largest cross-section; of a candidate, all units",
          better="less", of="design"),
    _word("assumptions", "", "", "defaults that stood in for what the scenario does not say"),
    _word("measured", "", "", "values that a bench fit found, and how surely; all others are given "
          "or assumed"),
    _word("curve", "", "", "operating points over the airspeeds"),
    _word("measure", "", "", "what the footing compares, in the footing's own unit"),
    _word("measure_unit", "", "", "unit of what the footing compares"),
    _word("short_of_reference", "", "", "1 where the candidate cannot draw the reference power"),
    _word("at_rest", "", "", "operating point at zero airspeed"),
    _word("at_top", "", "", "operating point at the top speed"),
    _word("lapse", "", "", "lapse in reduced form"),
    _word("nozzle", "", "", "study of the nozzle's exit diameter"),
    _word("drag", "D", "N", "airframe's drag in level flight at this candidate's mass"),
    _word("induced_drag", "Di", "N", "lift-dependent part of the drag"),
    _word("level", "", "", "level flight"),
    _word("external_drag_areas", "", "cm^2", "candidate's own drag items, all units, as drag "
          "areas"),
    _word("speeds", "", "m/s", "airspeeds at which thrust equals drag"),
    _word("stable", "", "", "true where the aircraft settles at that speed"),
    _word("stall_speed", "Vs", "m/s", "lowest speed of level flight, power off"),
    _word("launch_speed", "", "m/s", "airspeed of the launch"),
    _word("top_speed", "Vmax", "m/s", "level speed reached from the launch",
          better="more", of="design", airframe=True),
    _word("lowest_bound", "", "m/s", "speed known to be passed where the search ended before a "
          "balance"),
    _word("reason", "", "", "why the top speed is what it is"),
    _word("speed_ratio", "V0/V8s", "", "airspeed over jet speed at rest"),
    _word("thrust_ratio", "Fn/Fn0", "", "net thrust over net thrust at rest"),
    _word("constant_power", "", "", "thrust ratio at constant jet power"),
    _word("constant_pressure", "", "", "thrust ratio at constant pressure rise"),
    _word("constant_jet_speed", "", "", "thrust ratio at constant flow and jet speed"),
    _word("open_rotor", "", "", "thrust ratio of an open rotor at constant power"),
    _word("diameter", "d8", "mm", "nozzle exit diameter"),
    _word("thrust", "F", "N", "installed thrust over exit diameter (rows) and airspeed"),
    _word("best_diameter", "", "mm", "exit diameter of most installed thrust"),
    _word("best_thrust", "", "N", "installed thrust with that exit"),
    _word("at_edge", "", "", "true where the best exit is the widest the duct allows"),
    _word("fixed_diameter", "", "mm", "exit diameter of the scenario"),
    _word("fixed_thrust", "", "N", "installed thrust with that exit"),
    _word("cost", "", "%", "share of the best thrust that the fixed exit forgoes"),
    _word("between", "", "", "the two candidates"),
    _word("winner_below", "", "", "candidate ahead just below the airspeed"),
    _word("winner_above", "", "", "candidate ahead just above the airspeed"),
    _word("drag_area_threshold", "f*", "cm^2", "parasite drag area below which an aircraft gets "
          "beyond the crossover"),
    _word("rival", "", "", "of a flip item, the candidate that would become as fast as the "
          "fastest; of a break-even, the one to tie with"),
    _word("item", "", "", "drag item"),
    _word("drag_area", "f", "cm^2", "parasite drag over dynamic pressure: of the airframe, or of "
          "one item"),
    _word("needed", "", "cm^2", "drag area the rival must lose to be as fast as the fastest"),
    _word("possible", "", "", "true where the item alone is large enough for that"),
    _word("rank", "", "", "stop, check or note"),
    _word("subject", "", "", "what a finding is about"),
    _word("text", "", "", "a finding in words"),
    _word("value", "", "", "number found, in the finding's unit"),
    _word("limit", "", "", "limit it is held against, in the finding's unit"),
    _word("unit", "", "", "unit of value and limit"),
    _word("change", "", "", "what to change"),
    _word("about", "", "", "the part of a finding that holds for every subject"),
    _word("least", "", "", "whether the limit is a lower one"),
    _word("margin", "", "", "room to the limit as a share of it, below zero where it is broken"),
    _word("title", "", "", "scenario's title"),
    _word("question", "", "", "scenario's question"),
    _word("note", "", "", "scenario's note"),
    _word("invented", "", "", "true where the scenario is made up"),
    _word("footing", "", "", "what is held equal, and what is compared"),
    _word("reference", "", "", "candidate whose power the others are held to"),
    _word("reference_power", "", "W", "power all candidates are held to"),
    _word("altitude", "h", "m", "height above mean sea level"),
    _word("temperature", "T0", "degC", "temperature of the undisturbed air"),
    _word("pressure", "p0", "kPa", "pressure of the undisturbed air"),
    _word("density", "rho0", "kg/m^3", "density of the undisturbed air"),
    _word("airframe_mass", "", "g", "airframe without propulsion and pack"),
    _word("candidates", "", "", "candidates by name"),
    _word("crossovers", "", "", "airspeeds where one candidate overtakes another; net thrust there "
          "is of all units, installed or also less induced drag, as the kind says; where a footing "
          "compares per mass or area it is that of the first of the two named"),
    _word("other_footings", "", "", "crossovers on the other footings"),
    _word("footing_curves", "", "", "what each footing compares, by footing and candidate, over "
          "the airspeeds"),
    _word("best_nozzles", "", "", "ducted candidates with the exit of most installed thrust at "
          "each airspeed, by name"),
    _word("break_even", "", "", "what the candidate of each pair would need to tie with its rival, "
          "over the airspeeds; null where that means nothing"),
    _word("candidate", "", "", "candidate that is to tie with its rival"),
    _word("exit", "", "", "nozzle exit: as built, or the best at each airspeed"),
    _word("own_chain_efficiency", "", "%", "net thrust times the mean of airspeed and fully "
          "expanded jet speed, over the power at the pack"),
    _word("needed_chain_efficiency_jet_held", "", "%", "chain efficiency that ties at the same jet "
          "speed (the exit grows); above 100 % no machine of that jet speed can do it at that "
          "power"),
    _word("needed_chain_efficiency_exit_held", "", "%", "chain efficiency that ties with the same "
          "exit (the jet gets faster)"),
    _word("needed_jet_speed", "", "m/s", "jet speed that ties at its own chain efficiency and "
          "power; null where none does"),
    _word("needed_power", "", "W", "power at the pack that ties at its own chain efficiency and "
          "exit"),
    _word("allowed_drag_area", "", "cm^2", "largest external drag area of its own with which it "
          "ties; below zero where it is short even without"),
    _word("allowed_mass", "", "g", "largest installed mass with which it ties; null where none "
          "does"),
    _word("flip_items", "", "", "single drag items that would flip the verdict"),
    _word("findings", "", "", "what is unsafe, impossible or worth knowing"),
    _word("scenario_digest", "", "", "SHA-256 of the scenario file"),
    _word("version", "", "", "package version"),
    _word("methods", "", "", "methods used"),
    _word("verdict", "", "", "headline and sentences, composed from the numbers"),
)

_FLIGHT = (
    _word("flights", "", "", "flight of each candidate over the same legs; SI, shares of 1"),
    _word("time", "t", "s", "time since the launch"),
    _word("height", "h", "m", "height above the site"),
    _word("flight_thrust", "F", "N", "net thrust of all units along the flight"),
    _word("flight_drag", "D", "N", "drag of the airframe along the flight"),
    _word("motor_temperature", "", "degC", "temperature of one motor, heated through evenly"),
    _word("pack_temperature", "", "degC", "temperature of the cells, heated through evenly"),
)

_AIRCRAFT = (
    _word("aircraft", "", "", "drag and performance of the aircraft"),
    _word("uncertainty", "", "", "chances and intervals over all draws; SI, shares of 1"),
    _word("drag_source", "", "", "airframe's polar and what it rests on"),
    _word("rolls", "", "", "true for an aircraft that rolls until it flies"),
    _word("cut_off_voltage", "", "V", "voltage of one cell under load at which flying stops"),
    _word("performances", "", "", "level and climbing flight with each candidate, by name"),
    _word("source", "", "", "where it comes from, or what the limit of a finding rests on"),
    _word("drag_area_low", "", "cm^2", "least the drag area may be: its band, or one standard "
          "deviation below"),
    _word("drag_area_high", "", "cm^2", "most the drag area may be: its band, or one standard "
          "deviation above"),
    _word("drag_area_at_top", "", "cm^2", "built-up drag area at the fastest top speed"),
    _word("minimum_drag_coefficient", "CDmin", "", "least drag coefficient, on the wing area"),
    _word("drag_deviation", "", "", "standard deviation of the least drag coefficient"),
    _word("induced_factor", "k", "", "drag coefficient per lift coefficient squared, about the "
          "lift of least drag"),
    _word("induced_deviation", "", "", "standard deviation of the induced factor"),
    _word("lift_of_least_drag", "CL0", "", "lift coefficient at the least drag"),
    _word("span_efficiency", "e", "", "e in the induced factor 1 / (pi e AR)"),
    _word("reference_speed", "", "m/s", "airspeed at which skin friction is worked out"),
    _word("scatter", "", "", "scatter of readings over their stated deviation"),
    _word("separable", "", "", "true where readings tell least drag and induced factor apart"),
    _word("parts", "", "", "parts of a build-up"),
    _word("wetted_area", "", "cm^2", "skin that the air wets"),
    _word("reynolds", "Re", "", "Reynolds number on the length of a part"),
    _word("friction", "Cf", "", "mean skin-friction coefficient"),
    _word("form_factor", "", "", "what thickness adds to the friction of a flat plate"),
    _word("interference", "", "", "what neighbours add to the drag of a part"),
    _word("coefficient", "CD", "", "drag coefficient on the frontal area"),
    _word("total_mass", "", "g", "airframe and candidate together"),
    _word("slowest_top_speed", "", "m/s", "level top speed with the most drag area there may be"),
    _word("fastest_top_speed", "", "m/s", "level top speed with the least drag area there may be"),
    _word("climb_rate", "", "m/s", "rate of climb at full power"),
    _word("best_climb_rate", "", "m/s", "fastest rate of climb at the site"),
    _word("best_climb_speed", "", "m/s", "airspeed of the fastest climb"),
    _word("steepest_angle", "", "deg", "steepest angle of climb at the site"),
    _word("steepest_climb_speed", "", "m/s", "airspeed of the steepest climb"),
    _word("climb_reason", "", "", "why it does not climb, or climbs upright"),
    _word("absolute_ceiling", "", "m", "altitude at which the best rate of climb is zero"),
    _word("service_ceiling", "", "m", "altitude at which the best rate of climb falls to the "
          "service rate"),
    _word("service_rate", "", "m/s", "rate of climb that defines the service ceiling"),
    _word("ceiling_reason", "", "", "why the ceiling is what it is"),
    _word("pack_ceiling", "", "m", "altitude at which the pack's charge is gone on the way up at "
          "full power, at most"),
    _word("altitudes", "", "m", "altitudes at which top speed and climb are also worked out"),
    _word("top_speed_there", "", "m/s", "level top speed at those altitudes"),
    _word("climb_rate_there", "", "m/s", "best rate of climb at those altitudes"),
    _word("best_glide_ratio", "", "", "greatest distance over height lost, motor cut"),
    _word("best_glide_speed", "", "m/s", "airspeed of that glide"),
    _word("least_sink", "", "m/s", "least rate of height lost, motor cut"),
    _word("least_sink_speed", "", "m/s", "airspeed of least sink"),
    _word("least_thrust", "", "N", "least installed thrust that holds height"),
    _word("least_thrust_speed", "", "m/s", "airspeed of least thrust"),
    _word("least_power", "", "W", "least thrust power that holds height"),
    _word("least_power_speed", "", "m/s", "airspeed of least thrust power"),
    _word("launch_speed_needed", "", "m/s", "lowest launch speed that leads to the highest level "
          "speed"),
    _word("units_needed", "", "", "least number of units that flies level from the launch"),
    _word("most_units", "", "", "number of units up to which that was tried"),
    _word("take_off_run", "", "m", "distance rolled until it flies"),
    _word("lift_off_speed", "", "m/s", "airspeed at which it leaves the ground"),
    _word("longest", "", "", "level flight of longest endurance"),
    _word("farthest", "", "", "level flight of longest distance"),
    _word("cruises", "", "", "level flights at the airspeeds asked for"),
    _word("endurance", "", "min", "time until the pack counts as empty"),
    _word("distance", "", "km", "distance through still air"),
    _word("state_of_charge", "", "%", "share of the charge left in the cells"),
    _word("ending", "", "", "why the flight ends, or cannot be flown"),
)

_SEARCH = (
    _word("spare_thrust", "F - D", "N", "installed thrust less the airframe's drag in level "
          "flight",
          better="more", airframe=True),
    _word("thrust_per_mass", "F/m", "N/kg", "installed thrust over installed mass",
          better="more"),
    _word("tip_speed", "U", "m/s", "speed of the rotor's tip round the shaft",
          better="less"),
    _word("stress_margin", "", "", "strength of the rotor's material over its stress at 115 % of "
          "its fastest speed, running or blocked",
          better="more"),
    _word("static_thrust", "F0", "N", "installed thrust at rest",
          better="more", of="design"),
)

QUANTITIES: dict[str, Quantity] = {
    word.name: word for word in (*_FLOW, *_LEDGER, *_STUDY, *_AIRCRAFT, *_FLIGHT, *_SEARCH)}
"""Every word, by name."""

UNIT_TEXT = {"m/s": "m/s", "degC": "°C", "deg": "°", "cm^2": "cm²", "m^2": "m²", "kg/m^3": "kg/m³",
             "mN m": "mN·m", "N m": "N·m", "N/m^2": "N/m²", "N/cm^2": "N/cm²"}
"""Units as print shows them, where that differs."""


def shown(place: str) -> tuple[str, ...]:
    """Names of the quantities shown in one of :data:`PLACES`, in the order of this file."""
    return tuple(name for name, word in QUANTITIES.items() if place in word.shown)


def quantity(name: str) -> Quantity:
    """The word for a field.

    Raises
    ------
    KeyError
        For a name the glossary does not have: add it there, not elsewhere.
    """
    try:
        return QUANTITIES[name]
    except KeyError:
        raise KeyError(f"{name!r} is not in thrustlapse/glossary.py") from None


def key(name: str) -> str:
    """Name with its SI unit, as files carry it: ``mass_flow`` -> ``mass_flow_kg_s``."""
    return quantity(name).key


def display(name: str, value: float) -> float:
    """A value in the unit people read."""
    word = quantity(name)
    return value * word.factor + word.offset


def unit_text(unit: str) -> str:
    """A unit as print shows it: ``cm^2`` -> ``cm²``."""
    return UNIT_TEXT.get(unit, unit)
