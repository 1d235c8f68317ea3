"""The sentences of the live part of a page, as templates that the browser fills in."""

from __future__ import annotations

from thrustlapse.report.articles import BEFORE, NOUNS
from thrustlapse.study.live_table import POWER

WORDS = {
    "handles": "What to change",
    "set_to": "drawn for",
    "nozzle": "{name}: nozzle exit diameter",
    "drag_area": "parasite drag area of the airframe",
    "mass": "airframe mass, without propulsion and pack",
    "read_at": "airspeed to read at",
    "back": "As in the scenario",
    "fit": "Zoom to fit",
    "chart": "Installed thrust of each candidate and drag of the airframe against airspeed; the "
             "table below has the numbers",
    "airspeed_axis": "airspeed [m/s]",
    "thrust_axis": "thrust and drag [N]",
    "table": "Results. Thrust and current are of all units.",
    "static_thrust": "installed thrust at rest",
    "thrust_here": "installed thrust at {speed} m/s",
    "drag_here": "drag of the aircraft at {speed} m/s",
    "current_here": "current at {speed} m/s",
    "notes_here": "warnings at {speed} m/s",
    "top_speed": "level top speed from the launch",
    "at_least": "at least",
    "why_launch": "launched below its stall speed",
    "why_unknown": "nothing is known at launch",
    "why_short": "does not fly level",
    "why_end": "not known",
    "no_number": "nothing",
    "fault": "{given} cannot be used: give {low} to {high} {unit}. {kept} {unit} still stands.",
    "nothing": "nothing is known of any candidate here",
    "rest": "at rest {name} makes most thrust, {force}",
    "none": "level flight is impossible with any of these",
    "fastest": "{name} is the fastest, {speed}",
    "fastest_known": "{name} is the fastest of what is known and still gaining at {speed}",
    "slower": "{name} {speed}",
    "least": "{name} still gaining at {speed}, where its table ends",
    "grounded": "{name} does not fly level",
    "beyond": "{name} is then beyond {speed}, where it overtakes {other}",
    "would": "{name} would overtake {best} only at {speed}; to get there the airframe would need "
             "less than {area} of drag area, and has {own}",
    "alone": "nobody overtakes it where thrust is left",
    "overtakes": "{name} overtakes {other} at {speed}",
    "crossing": "{name} overtakes {other} at {speed}, with {force} left for parasite drag: within "
                "reach below {area} of drag area",
    "nouns": " ".join(sorted(NOUNS)),
    "before": " ".join(sorted(BEFORE)),
    "over": "{name}, {limit}: {value} A against a rating of {bound} A",
}
"""Key -> template; ``{name}`` and the like are filled in by the browser."""

DRIVE_LABELS = {POWER: ("electrical power of each candidate", "W")}
"""What the drive handle is called, and its unit; the other is the supply's voltage."""

VOLTAGE_LABEL = ("resting voltage of the supply", "V")

FOLLOWS = ("Curves, level top speeds, crossovers, currents and every current rating that is "
           "given follow the handles. Everything else on this page does not: rotor stress and "
           "blocked speeds, heat, sound, climb, endurance, flights, draws, the mass that another "
           "nozzle or pack would have. Values are read from a table of operating points, with a "
           "cubic between them: of the thrust at rest, mostly within 1 % of the full computation, "
           "and up to 3.5 % near where another limit of the drive takes over, in the examples that "
           "were tried. A shaded band is that of the scenario's own draws, nine in ten of them, "
           "carried along with its curve. Run the scenario again "
           "before you build anything.")
"""What the handles move and what they leave alone."""

NO_SCRIPT = ("This part moves only in a browser that runs scripts. Everything else on the page "
             "stands without.")

NOT_OFFERED = ("This comparison has no handles: the power of one candidate at each airspeed is the "
               "measure of the others, so a nozzle moved on the one would move all. thrustlapse "
               "live works them out together.")
"""Why a page has no part that moves."""
