"""A small scenario with a search, invented, for tests."""

from __future__ import annotations

from pathlib import Path

from thrustlapse.designs.answers import points_per_design
from thrustlapse.designs.spec import Chunk, SearchSpec, chunks
from thrustlapse.scenario.build.designs import ScenarioDesigns, scenario_designs
from thrustlapse.scenario.files.read import read_text

MACHINES = """
title = "Small search"
invented = true

[pack]
chemistry = "NMC"
series = 6
parallel = 2
cell_capacity = "4 Ah"
cell_resistance = "11 mohm"
state_of_charge = "70 %"
mass = "0.86 kg"
current_rating = "60 A"

[airframe]
mass = "0.62 kg"
wing_area = "0.19 m^2"
span = "1.15 m"
span_efficiency = 0.78
minimum_drag_coefficient = 0.021
greatest_lift_coefficient = 1.05
launch_speed = "16 m/s"

[airspeed]
at = ["0 m/s", "20 m/s", "40 m/s"]

[comparison]
footing = "same electrical power"
electrical_power = "400 W"

[candidates.blower]
kind = "blower"
unit_mass = "260 g"
[candidates.blower.inlet]
throat_diameter = "25 mm"
lip = "rounded"
[candidates.blower.rotor]
tip_diameter = "38 mm"
eye_diameter = "21 mm"
hub_diameter = "8 mm"
material = "aluminium 7075-T6"
[candidates.blower.map]
source = "coefficients"
head_shutoff = 0.56
head_slope = 0.2
head_curvature = -16.0
work_shutoff = 0.80
work_slope = -1.35
shutoff_power = 0.012
highest_flow = 0.19
band = { head = 0.06, power = 0.08 }
[candidates.blower.duct]
diameter = "26 mm"
length = "60 mm"
[candidates.blower.nozzle]
exit_diameter = "15 mm"
[candidates.blower.motor]
model = "constants"
speed_constant = "4400 rpm/V"
resistance = "45 mohm"
no_load_current = "1.2 A"
current_rating = "40 A"

[candidates.prop]
kind = "propeller"
unit_mass = "170 g"
diameter = "178 mm"
[candidates.prop.table]
source = "points"
advance_ratio = [0.0, 0.1, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9]
thrust_coefficient = [0.110, 0.108, 0.103, 0.094, 0.082, 0.068, 0.052, 0.034, 0.015, -0.006]
power_coefficient = [0.052, 0.053, 0.054, 0.054, 0.052, 0.048, 0.042, 0.033, 0.022, 0.009]
[candidates.prop.motor]
model = "constants"
speed_constant = "1150 rpm/V"
resistance = "38 mohm"
no_load_current = "1.1 A"
"""

SEARCH = """
[search]
answers = ["current", "stress_margin", "spare_thrust"]
front = ["static_thrust", "top_speed"]

[[search.axes]]
name = "power"
key = "comparison.electrical_power"
at = ["200 W", "400 W"]

[[search.axes]]
name = "nozzle"
key = "candidates.blower.nozzle.exit_diameter"
lowest = "11 mm"
highest = "26 mm"
points = 6

[[search.axes]]
name = "units"
key = "candidates.blower.count"
at = [1, 2]

[[search.axes]]
name = "winding"
key = "candidates.prop.motor.speed_constant"
lowest = "800 rpm/V"
highest = "1300 rpm/V"
points = 3
"""

SAMPLED = """
[search]
best = "static_thrust"
samples = 64
seed = 7

[[search.axes]]
name = "nozzle"
key = "candidates.blower.nozzle.exit_diameter"
lowest = "11 mm"
highest = "20 mm"

[[search.axes]]
name = "charge"
key = "pack.state_of_charge"
lowest = "40 %"
highest = "90 %"
"""


def designs(search: str = SEARCH, *, machines: str = MACHINES) -> ScenarioDesigns:
    """The machines with a search."""
    return scenario_designs(read_text(machines + search))


def chunks_of(spec: SearchSpec) -> tuple[Chunk, ...]:
    """Bounds of a search's chunks."""
    return chunks(spec, points_per_design(spec.airspeed.size, spec.answers))


def scenario_file(folder: Path, search: str = SEARCH) -> Path:
    """The scenario as a file in a folder."""
    path = folder / "small.toml"
    path.write_text(MACHINES + search, encoding="utf-8")
    return path
