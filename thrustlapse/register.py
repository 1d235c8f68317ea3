"""What is not known: every value that is assumed where a person gives none, with its spread.

One table. The draws, the bench fit's priors, ``check`` and the pages read it. Nominal values are
medians, so that a page without draws and the median of the draws agree. A source is named where
there is one; the rest is judgement, and says so.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from thrustlapse.distributions import Spread

JUDGED = "judgement, no source"


@dataclass(frozen=True, kw_only=True)
class Entry:
    """One assumed value.

    ``spread`` in SI; of a ``factor`` on the value worked out for the machine its nominal is 1.
    ``drawn`` is False for what is not of the machine: the gain of an instrument widens a fit and
    is never drawn in flight.
    """

    words: str
    spread: Spread
    source: str
    factor: bool = False
    drawn: bool = True


@dataclass(frozen=True, kw_only=True)
class Assumed:
    """An entry of the register at a key of a candidate, because nothing is given there.

    ``spread.key`` is the dotted key. Of a nozzle's contraction ``velocity_key`` is the key of the
    velocity coefficient it belongs to, and ``velocity`` the nominal value there. ``source`` where
    the spread is not the entry's own.
    """

    entry: str
    candidate: str
    spread: Spread
    velocity_key: str = ""
    velocity: float = 1.0
    source: str = ""


def _normal(nominal: float, deviation: float, *, most: float = np.inf) -> Spread:
    ends = "" if np.isinf(most) else f", at most {most:g}"
    return Spread(nominal=nominal, form="normal", deviation=deviation, high=most,
                  text=f"{nominal:g} ± {deviation:g}{ends}")


def _between(low: float, high: float, nominal: float | None = None) -> Spread:
    middle = 0.5 * (low + high) if nominal is None else nominal
    return Spread(nominal=middle, form="uniform", low=low, high=high, text=f"{low:g} .. {high:g}")


def _times(factor: float, nominal: float = 1.0, *, least: float = np.nan) -> Spread:
    """Cut alike on both sides, so that the nominal value stays the median."""
    most = nominal**2 / least
    ends = "" if np.isnan(least) else f", from {least:g} to {most:.3g}"
    return Spread(nominal=nominal, form="lognormal", deviation=float(np.log(factor)), low=least,
                  high=most, text=f"{nominal:g}, factor {factor:g}{ends}")


SHAPES = HEAD_SHAPE, POWER_SHAPE = "map head shape", "map power shape"
"""Entries for the form of a map that is known by a few coefficients."""

SHAPE_MEASURED = ("lines of two small machines of 56 and 70 mm (head) and of four machines (power) "
                  "beside a typical blower's; large ones depart by half")
"""Source of how far a typical map's form may be off."""

TYPICAL_SHAPES = "typical head shape", "typical power shape"
"""Their entries where the map is only typical of its kind."""

NOZZLE_VELOCITY, NOZZLE_CONTRACTION = 0.98, 0.98735
"""Medians of a short convergent nozzle [-]; together a discharge coefficient of 0.960."""

REGISTER: Mapping[str, Entry] = MappingProxyType({
    "nozzle velocity": Entry(
        words="jet speed over the loss-free one", spread=_normal(NOZZLE_VELOCITY, 0.008, most=1.0),
        source="textbooks give 0.95 to 0.99 for short convergent nozzles (from memory)"),
    # discharge is a share of the widest that the velocity coefficient allows, so that no draw has
    # a jet wider than the exit: 0.96 with a deviation of 0.011 together
    "nozzle contraction": Entry(
        words="discharge coefficient over the largest the exit allows",
        spread=_normal(NOZZLE_CONTRACTION, 0.003, most=1.0),
        source=f"a discharge coefficient of 0.96; {JUDGED}"),
    "rounded lip": Entry(
        words="sharpness of a rounded lip", spread=_between(0.2, 0.6),
        source="0.74 at a radius of 2 % of the diameter to 0.15 at 10 % (Idelchik diagram 3-4, as "
        "reprinted by ASHRAE)"),
    "ram recovery": Entry(
        words="ram recovery of a clean inlet",
        spread=Spread(nominal=0.94 + 0.06 * float(np.sqrt(0.5)), form="triangular", low=0.94,
                      high=1.0, peak=1.0, text="0.94 .. 1, most likely 1"),
        source=JUDGED),
    "inlet loss": Entry(words="loss of guard and struts before the rotor", spread=_times(1.5),
                        factor=True, source=JUDGED),
    "duct loss": Entry(words="loss of the way from rotor to nozzle", spread=_times(1.5),
                       factor=True, source=JUDGED),
    "wall roughness": Entry(words="roughness of the duct's wall", spread=_times(2.0), factor=True,
                            source=JUDGED),
    "heat share": Entry(words="share of the motor's heat that the air carries off",
                        spread=_between(0.6, 1.0), source=JUDGED),
    "controller efficiency": Entry(
        words="efficiency of the controller", spread=_between(0.92, 0.98),
        source="0.92 to 0.98 (from memory)"),
    "no-load growth": Entry(
        words="growth of the no-load current up to the unloaded speed on this supply",
        spread=_between(0.0, 0.5), source=JUDGED),
    "controller leads": Entry(
        words="leads between pack and controller [ohm]", spread=_times(1.5, 5e-3),
        source="0.6 m of AWG 14 there and back is 5 mohm (wire table); factor judged"),
    "motor leads": Entry(words="leads between controller and motor [ohm]", spread=_times(1.5, 2e-3),
                         source=JUDGED),
    "pod drag": Entry(words="drag of pod, casing or duct", spread=_times(1.4), factor=True,
                      source="0.06 to 0.15 on the frontal area of nacelles (from memory); "
                      + JUDGED),
    "base drag": Entry(words="drag of the blunt rear", spread=_times(1.4), factor=True,
                       source=JUDGED),
    "scrubbing drag": Entry(words="friction of the airframe in the jet", spread=_times(1.4),
                            factor=True, source=JUDGED),
    HEAD_SHAPE: Entry(
        words="departure of the head from the map's form, smooth in flow",
        spread=_times(1.05), factor=True, source=SHAPE_MEASURED),
    POWER_SHAPE: Entry(
        words="departure of the power from the map's form, smooth in flow",
        spread=_times(1.06), factor=True, source=SHAPE_MEASURED),
    "thrust gain": Entry(words="gain of the thrust stand, common to all its readings",
                         spread=_normal(1.0, 0.010), factor=True, drawn=False, source=JUDGED),
    "power gain": Entry(words="gain of the wattmeter, common to all its readings",
                        spread=_normal(1.0, 0.015), factor=True, drawn=False, source=JUDGED),
    "voltage gain": Entry(words="gain of the voltmeter, common to all its readings",
                          spread=_normal(1.0, 0.005), factor=True, drawn=False, source=JUDGED),
    "thrust reading": Entry(words="thrust a machine is known by", spread=_times(1.01), factor=True,
                            source=JUDGED),
    "power reading": Entry(words="watts a machine is known by", spread=_times(1.015), factor=True,
                           source=JUDGED),
    "exit ruler": Entry(words="exit of a machine known by readings", spread=_times(1.0125),
                        factor=True, source="0.3 mm with a ruler on 24 mm; " + JUDGED),
    "typical shut-off power": Entry(
        words="power at no flow of a typical map", spread=_times(1.8), factor=True,
        source="a published fan takes half of its greatest power when shut (Fox and McDonald, "
        "example 10.11), maps from dimensions a tenth; " + JUDGED),
    "speed reading": Entry(words="shaft speed a machine is known by", spread=_times(1.005),
                           factor=True, source=JUDGED),
    "suction reading": Entry(words="suction a machine is known by", spread=_times(1.02),
                             factor=True, source=JUDGED),
    "typical wheel": Entry(
        words="wheel of a machine known by readings", factor=True, spread=_times(1.3, least=0.6),
        source="exits of at least 85 % of the best thrust at one power pass a fifth to nine tenths "
        "of a machine's free flow; " + JUDGED),
    "typical flow": Entry(
        words="flow of a typical map at the same head and shaft speed", factor=True, drawn=False,
        spread=_times(1.5), source="widths of a blower's wheel and settings of a fan's blades "
        "differ by two and more; " + JUDGED),
    "stalled fan": Entry(
        words="head and power of an axial fan at no flow beside the line it works on", factor=True,
        drawn=False, spread=_times(1.5), source="a stalled rotor throws the air outwards, and its "
        "shut head says little of its blades; " + JUDGED),
    "typical fall": Entry(
        words="head of a typical map at its largest flow beside that at none", drawn=False,
        spread=_normal(0.0, 0.7), source="at one slope where it works the flow of no head differs "
        "by a seventh; " + JUDGED),
    TYPICAL_SHAPES[0]: Entry(
        words="departure of the head from the typical map's form, smooth in flow",
        spread=_times(1.25), factor=True, source=JUDGED),
    TYPICAL_SHAPES[1]: Entry(
        words="departure of the power from the typical map's form, smooth in flow",
        spread=_times(1.40), factor=True, source=JUDGED),
    "motor copper merit": Entry(
        words="motor constant times greatest speed over root mass of a freely sized motor "
        "[W^0.5/kg^0.5]", spread=_times(1.2, 400.0),
        source="315 to 450 of seven small motors (data sheets, from memory)"),
    "motor iron loss": Entry(
        words="no-load loss over mass of a freely sized motor [W/kg]", spread=_times(1.3, 330.0),
        source="290 to 400 of three small motors (from memory)"),
    "motor heat shed": Entry(
        words="heat a freely sized motor sheds for long, over mass^(2/3) [W/kg^(2/3)]",
        spread=_times(1.4, 400.0),
        source="a cylinder 80 K above a 40 m/s stream sheds 300 by its outside (Hilpert, from "
        "memory), up to twice that where air passes through; " + JUDGED),
    "motor rim speed": Entry(
        words="greatest speed a motor can be built for, times mass^(1/3) [kg^(1/3) rad/s]",
        spread=_times(1.2, 5100.0), source="124 krpm at 60 g (from memory)"),
    "unit structure": Entry(
        words="mass of wheel, casing and duct of a freely sized unit", spread=_times(1.4),
        factor=True, source=JUDGED),
    "wheel of a known speed": Entry(
        words="wheel of a machine whose shaft speed is known", factor=True, source=JUDGED,
        spread=_between(0.9, 1.1)),
    "drive efficiency": Entry(
        words="efficiency of motor and controller together", spread=_between(0.62, 0.86),
        source="0.96 of the controller times 0.65 to 0.9 of the motor; " + JUDGED),
    "drive law": Entry(
        words="whether the watts were full voltage's (above a half) or a regulated cap's",
        spread=_between(0.0, 1.0),
        source=JUDGED),
    "ruler": Entry(words="a diameter read with a ruler [m]", spread=_normal(0.0, 0.3e-3),
                   drawn=False, source=JUDGED),
})
"""Assumed values by name."""
