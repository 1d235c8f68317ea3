"""The pack: voltage and resistance against state of charge, and what sag does to it."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cache
from importlib import resources

import numpy as np

from thrustlapse.arrays import FIXED, Array, Values

ROUND_OFF = 1e-15
"""Relative round-off of the difference under the root of a source's current."""


@dataclass(frozen=True, kw_only=True)
class CellCurve:
    """Open-circuit voltage of one cell [V] at states of charge [-], and where it was read."""

    state_of_charge: Array = field(metadata=FIXED)
    voltage: Array = field(metadata=FIXED)
    source: str = ""


@dataclass(frozen=True, kw_only=True)
class ResistanceCurve:
    """Resistance of a cell over the one it is known by [-], at states of charge [-]."""

    state_of_charge: Array = field(metadata=FIXED)
    ratio: Array = field(metadata=FIXED)
    source: str = ""


HALF_CHARGE = 0.5
"""State of charge at which one number stands for a cell's resistance [-]."""


@cache
def _rows(name: str) -> tuple[str, Array]:
    """Source and numbers of a table in ``power/cells``."""
    lines = resources.files("thrustlapse.power").joinpath("cells").joinpath(
        name).read_text(encoding="utf-8").splitlines()
    source = next(line.removeprefix("# source:").strip() for line in lines
                  if line.startswith("# source:"))
    return source, np.array([[float(cell) for cell in line.split(",")]
                             for line in lines if line and line[0].isdigit()])


def resistance_from_half_charge(*, state_of_charge: Array, resistance: Array,
                                source: str = "") -> tuple[float, ResistanceCurve]:
    """Resistance at half charge [ohm], and the curve over it, of resistances above 0 [ohm].

    At the end nearest to half charge where the curve does not hold it.
    """
    from scipy.interpolate import PchipInterpolator

    middle = float(min(max(HALF_CHARGE, state_of_charge[0]), state_of_charge[-1]))
    half = float(PchipInterpolator(state_of_charge, resistance)(middle))
    return half, ResistanceCurve(state_of_charge=state_of_charge, ratio=resistance / half,
                                 source=source)


@cache
def typical_resistance() -> ResistanceCurve:
    """Typical resistance of a lithium-ion cell over that at half charge, at room temperature.

    Of one measured cell (Schuster et al., J. Energy Storage 1 (2015) 44-53, NMC 18650): flat
    above 40 %, 1.29 times at 20 %, 1.57 at 10 %, 1.95 when empty. For other cells this shape is
    judgement; no source at hand gives it against temperature.
    """
    source, data = _rows("liion_nmc_18650_resistance.csv")
    return resistance_from_half_charge(state_of_charge=data[:, 0] / 100.0, resistance=data[:, 1],
                                       source=source)[1]


@dataclass(frozen=True, kw_only=True)
class Pack:
    """Cells in series and parallel.

    Parameters
    ----------
    curve : CellCurve
        Open-circuit voltage of a cell
    series, parallel : array_like
        Cells in series, strings in parallel [-]
    cell_resistance : array_like
        Internal resistance of a cell at half charge [ohm]
    cell_capacity : array_like
        Charge of a cell [A s]
    state_of_charge : array_like
        Share of that charge still in it [-]
    lead_resistance : array_like
        Pack leads, connector and switch, shared by all units [ohm]
    resistance_curve : ResistanceCurve
        How a cell's resistance goes with its charge; typical unless given
    """

    curve: CellCurve
    series: Values
    parallel: Values = 1.0
    cell_resistance: Values
    cell_capacity: Values
    state_of_charge: Values
    lead_resistance: Values = 0.0
    resistance_curve: ResistanceCurve = field(default_factory=typical_resistance)


@dataclass(frozen=True, kw_only=True)
class Supply:
    """What drives see: open-circuit voltage [V], shared resistance [ohm], number of units.

    ``full_voltage`` [V] is that of the full pack, which a current into it should not pass.
    """

    voltage: Values
    resistance: Values = 0.0
    units: Values = 1.0
    full_voltage: Values = np.inf


CURVES = {
    "NMC": "liion_nmc_21700.csv",
    "NCA": "liion_nca_21700.csv",
    "NMC 18650": "liion_nmc_18650.csv",
}
"""Cell chemistries with a published open-circuit curve in the package."""


@cache
def cell_curve(chemistry: str) -> CellCurve:
    """Published open-circuit curve of a chemistry named in :data:`CURVES`.

    Raises
    ------
    KeyError
        For a chemistry without a curve.
    """
    source, data = _rows(CURVES[chemistry])
    return CellCurve(state_of_charge=data[:, 0] / 100.0, voltage=data[:, 1], source=source)


def open_circuit_voltage(pack: Pack) -> Array:
    """Voltage of the resting pack [V]; NaN outside the curve's states of charge."""
    from scipy.interpolate import PchipInterpolator

    read = PchipInterpolator(pack.curve.state_of_charge, pack.curve.voltage, extrapolate=False)
    return np.asarray(pack.series * read(np.asarray(pack.state_of_charge, dtype=float)))


def charged_resistance(pack: Pack) -> Array:
    """Resistance of one cell at the pack's state of charge [ohm]; NaN outside its curve."""
    from scipy.interpolate import PchipInterpolator

    curve = pack.resistance_curve
    read = PchipInterpolator(curve.state_of_charge, curve.ratio, extrapolate=False)
    return np.asarray(pack.cell_resistance * read(np.asarray(pack.state_of_charge, dtype=float)))


def pack_resistance(pack: Pack) -> Array:
    """Resistance of cells and pack leads at the state of charge [ohm]."""
    return np.asarray(pack.series * charged_resistance(pack) / pack.parallel
                      + pack.lead_resistance)


def supply(pack: Pack, *, units: Values = 1.0) -> Supply:
    """The pack at its state of charge, as a number of equal units sees it."""
    return Supply(voltage=open_circuit_voltage(pack), resistance=pack_resistance(pack), units=units,
                  full_voltage=pack.series * float(pack.curve.voltage[-1]))


def terminal_current(*, voltage: Values, resistance: Values, power: Values) -> Array:
    """Smaller current [A] at which a source gives a power [W] at its terminals.

    Lower root of P = (V - I R) I, that is the upper root of the terminal voltage, in a form that
    keeps its digits as R or P vanishes. NaN where the source cannot give the power.
    """
    v, p = np.asarray(voltage), np.asarray(power)
    under = v * v - 4.0 * p * resistance
    # the greatest power of all must not be lost to round-off
    under = np.where(np.abs(under) <= ROUND_OFF * v * v, 0.0, under)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.asarray(2.0 * p / (v + np.sqrt(np.where(under >= 0.0, under, np.nan))))


def greatest_power(*, voltage: Values, resistance: Values) -> Array:
    """Largest power [W] a source can give at its terminals: V^2 / (4 R)."""
    with np.errstate(divide="ignore"):
        return np.asarray(np.square(voltage) / (4.0 * np.asarray(resistance)))
