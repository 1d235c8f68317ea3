"""What every report says about danger, and about what its numbers leave out."""

from __future__ import annotations

CAUTIONS = (
    "High-speed rotors can burst. Stand out of the plane of rotation, put a shield round it, and "
    "switch on and off from a distance. Raise the speed in steps, and look at the rotor between "
    "them.",
    "Prints creep, age and soften when warm, and come apart between their layers: a printed rotor "
    "or duct that held once need not hold again.",
    "Lithium packs burn when shorted, crushed or overcharged. Switches and connectors can weld "
    "shut: have a second way to cut the power, and do not trust one switch.",
    "Small fast machines are loud enough to hurt: wear hearing protection, and eye protection.",
    "A blocked inlet or outlet heats the machine and can raise its speed. Keep clothing, straps, "
    "grass and fingers away from the inlet.",
    "Rotor stress is judged here from thin-disc formulas and typical strengths: it shows what is "
    "unsafe, never that a rotor is safe.",
    "This estimate clears nothing to run and is no clearance to fly. Follow the local rules for "
    "model and unmanned aircraft, their classes of weight and speed among them, and have anything "
    "that carries or overflies people checked by a licensed engineer.",
)
"""Printed with every report."""

LIMITS = (
    "Air is a perfect gas of constant specific heat, dry, and still; that costs about 1 % in "
    "specific heat at 400 K and 2.5 % at 500 K.",
    "A machine is known only as far as its map or table goes. Beyond that there is no value: lines "
    "end and cells are empty.",
    "A propeller table knows what Reynolds and Mach number do only at the shaft speeds it holds: "
    "between them it is read in a straight line, outside them the nearest tabulated speed is used, "
    "and flagged.",
    "Stall, surge and swirl are flagged where the map shows them; sound is a rough rule; vibration "
    "and transients are not computed.",
    "Top speeds and crossovers are of level, steady, straight flight at the stated state of "
    "charge. Interference between propulsor and airframe is only what the scenario's drag items "
    "say.",
    "The efficiency of a map computed from dimensions is that of wheel, diffuser and scroll, "
    "without motor; whole small units, motor and controller included, are found at 25 to 65 %. Its "
    "constants come from larger machines: on a measured 56 mm one, whose dimensions had to be "
    "sought, work was up to 16 % too much and pressure rise 9 % too little to 11 % too much.",
    "Bands and shares of draws count the spreads that the scenario states and those of every "
    "assumed value; a wrong description of a machine is not counted.",
)
"""What the method leaves out, on every page."""
