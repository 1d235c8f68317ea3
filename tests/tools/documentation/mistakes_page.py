"""The page of common mistakes: a wrong line, what the check says to it now, and what was meant."""

from __future__ import annotations

from tests.known_machines import AIRFRAME, MACHINE
from tests.tools.documentation.markdown import block, heading
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text

MISTAKES = (
    ("Grams under a heading in newtons", MACHINE, 'thrust = "2.1 N"', 'thrust = "210"',
     "A kitchen scale reads grams, whose force is written `gf`; a plain number is in newtons."),
    ("Grams written as a mass", MACHINE, 'thrust = "2.1 N"', 'thrust = "214 g"',
     "Thrust is a force: the scale's grams are `gf` here."),
    ("A length without its unit", MACHINE, 'exit_diameter = "24 mm"', 'exit_diameter = "24"',
     "Every quantity takes its unit; a plain number is read in SI, here in metres."),
    ("The word of a shop for the kind", MACHINE, 'kind = "blower"', 'kind = "EDF"',
     "Kinds are named by what the rotor is: a blower has a centrifugal wheel, an axial fan blades "
     "in a duct."),
    ("A comma or point too many", MACHINE, 'exit_diameter = "24 mm"',
     'exit_diameter = "24 mm"\nshaft_speed = "78.000 rpm"',
     "A point is a decimal point: seventy-eight thousand turns a minute are `78000 rpm` or "
     "`78 krpm`."),
    ("More thrust than the watts can make", MACHINE, 'electrical_power = "250 W"',
     'electrical_power = "25 W"',
     "Thrust, watts and exit of one moment: the jet cannot carry more power than the pack gave. "
     "Look for a thrust of all units beside the watts of one, or watts read at another throttle."),
)
"""Title, text of the candidate, the right line and the wrong one, and what to do."""

NOTICED_LATER = (
    ("The jet blows on the scale or the table", "What blows onto the scale, its table or a wall "
     "behind it pushes back. Let the jet go free for some twenty diameters, turn the machine round "
     "once, and take the mean of push and pull (common practice, no source)."),
    ("The exit is measured outside", "The jet has the inner diameter of the nozzle's last edge. A "
     "wall of 1 mm on an exit of 24 mm is 17 % of its area."),
    ("Watts at full voltage or at a cap", "Where the watts are a controller's cap they stay when "
     "the aircraft flies; at full voltage they follow the rotor. It decides how thrust falls with "
     "airspeed: the key `supply` of the readings says which; without it both are drawn."),
    ("Thrust at rest taken for thrust in flight", "The scale tells nothing of ram drag, of the pod "
     "or of the lapse: compare, and read the figure of thrust against airspeed at the speed that "
     "you mean to fly."),
)


def page() -> str:
    """Markdown of the page."""
    parts = [heading("Common mistakes"),
             "What goes wrong most, and what `thrustlapse check` says to it. The first part is "
             "made by giving each wrong line to the check.\n"]
    for title, machine, right, wrong, remedy in MISTAKES:
        parts += [heading(title, 2), block(wrong, "toml"), block(said(machine, right, wrong)),
                  f"{remedy}\n"]
    parts += [heading("What no check can see", 2)]
    for title, remedy in NOTICED_LATER:
        parts += [heading(title, 3), f"{remedy}\n"]
    return "\n".join(parts)


def said(machine: str, right: str, wrong: str) -> str:
    """The faults of the file with a wrong line in it.

    Raises
    ------
    ValueError
        Where nothing is found wrong: the page would show what is no mistake.
    """
    text = f'title = "Mine"\n{AIRFRAME}{machine.replace(right, wrong)}'
    try:
        read_text(text, name="mine.toml")
    except ScenarioError as error:
        return str(error)
    raise ValueError(f"nothing is wrong with {wrong!r}")
