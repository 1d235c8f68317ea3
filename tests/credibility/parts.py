"""The parts of the chain that the credibility file is grouped by, in the order of the air."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, kw_only=True)
class Part:
    """A part of the chain: its name, what it is compared with, and how far that goes."""

    title: str
    against: str
    reach: str


PARTS = {
    "air": Part(
        title="standard air", against="ICAO Doc 7488/3, US 1976 and pilots' tables, two libraries",
        reach="every printed digit, but for entries that the tables themselves round wrongly"),
    "gas": Part(
        title="gas dynamics", against="NACA 1135 type tables, mass-flow functions, a library",
        reach="every printed digit"),
    "nozzle": Part(
        title="inlet, duct and nozzle",
        against="16 worked nozzles, nozzle coefficients, the thin lip, a library's pipe friction",
        reach="printed digits; coefficients are given, not predicted"),
    "thrust": Part(
        title="thrust bookkeeping", against="published worked examples, momentum theory",
        reach="to their printed precision"),
    "lapse": Part(
        title="matched chain and lapse",
        against="ideal lapse tables, a fan and nozzle in closed form, one propeller at constant "
                "power",
        reach="1e-6 in the low-Mach limit; real air departs by 0.2 % at rest and about 9 % at "
              "80 m/s, as stated with the case"),
    "fan laws": Part(
        title="fan laws and maps", against="worked examples, a printed fan, the integral of v dp",
        reach="printed digits; 1e-10 for the integral"),
    "impeller": Part(
        title="impeller and scroll",
        against="examples of six textbooks, slip tables, disc friction, a volute schedule",
        reach="most within half a digit, the rest with their reason; a 400 and a 432 mm machine "
              "within 5 % of work and 3 points of efficiency in the mean of a line, a third of "
              "doubtful readings not"),
    "blower": Part(
        title="whole small blowers",
        against="a measured compressor of 56 mm and a measured blower, of unknown dimensions; "
                "catalogue units",
        reach="pressure rise of one 56 mm machine within 10 % at every reading, with dimensions "
              "sought for it inside those of eight small wheels, its work then 14 to 24 % too "
              "high; else shape and order of magnitude"),
    "axial": Part(
        title="axial fan parts",
        against="course exercises, printed lift and drag, design tables, ranges of practice",
        reach="printed digits of the exercises; 5 % in lift, 25 % in a published fan's load, and "
              "ranges of practice from memory"),
    "ducted propeller": Part(
        title="axial stage in a duct", against="one measured 7-ft ducted propeller",
        reach="6 to 10 % rms of peak thrust and power coefficient"),
    "section": Part(
        title="blade sections", against="measured low-Reynolds polars, printed reduced sections",
        reach="the stated bands of lift and drag"),
    "blade element": Part(
        title="blade elements", against="published worked elements, a windmill",
        reach="printed digits"),
    "propeller": Part(
        title="propellers by blade elements", against="11 measured propellers",
        reach="table below; two miss the aim"),
    "motor": Part(
        title="motor, wire and pack", against="catalogue motors, a wire table, an endurance "
                                              "example",
        reach="relations between the catalogue's own numbers; no motor was measured on a bench"),
    "bench": Part(
        title="reductions of the bench", against="orifice coefficients from memory, a "
                                                 "stroboscope example, a made-up curve, "
                                                 "catalogue units",
        reach="printed digits of the arithmetic; no reading of our own"),
    "strength": Part(
        title="rotor strength", against="thin-disc formulas, strengths from memory",
        reach="the formulas exactly; the strengths are an order of magnitude"),
    "airframe": Part(
        title="airframe performance",
        against="textbook aircraft, skin friction and form factor tables, measured polars",
        reach="printed digits of the examples; build-ups to the spread of their own tables"),
}
