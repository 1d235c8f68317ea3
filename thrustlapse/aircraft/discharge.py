"""The pack as it runs down: voltage and energy against state of charge, when it counts as empty,
and how warm it and the motors get.

Voltage follows the open-circuit curve and sags by the pack's resistance, which grows as the cells
empty; nothing else is modelled: no polarisation with time, no resistance that grows in the cold.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np

from thrustlapse.arrays import FIXED, Array, Values
from thrustlapse.power.pack import Pack, Supply

CUT_OFF_VOLTAGE = 3.2
"""Voltage of one cell under load at which flying stops [V]; common practice for lithium cells in
aircraft, no source."""


@dataclass(frozen=True, kw_only=True)
class RunningPack:
    """A pack with the end of its use.

    Parameters
    ----------
    pack : Pack
        As it is at launch; scalars
    cut_off_voltage : float
        Voltage of one cell under load at which it counts as empty [V]
    least_state_of_charge : float
        State of charge at which it counts as empty [-]; never below where its curve begins
    """

    pack: Pack
    cut_off_voltage: float = CUT_OFF_VOLTAGE
    least_state_of_charge: float = 0.0
    curves: Any = field(default=None, repr=False, compare=False, metadata=FIXED)

    def __post_init__(self) -> None:
        if self.curves is None:
            from scipy.interpolate import PchipInterpolator

            pack = self.pack
            curve, inside = pack.curve, pack.resistance_curve
            voltage = PchipInterpolator(curve.state_of_charge, curve.voltage, extrapolate=False)
            string = inside.ratio * float(np.asarray(pack.cell_resistance) / pack.parallel)
            object.__setattr__(self, "curves", (
                voltage, voltage.antiderivative(),
                PchipInterpolator(inside.state_of_charge, string, extrapolate=False)))

    @property
    def start(self) -> float:
        """State of charge at launch [-]."""
        return float(np.asarray(self.pack.state_of_charge))

    @property
    def floor(self) -> float:
        """State of charge below which nothing is drawn, or nothing is known [-]."""
        return max(self.least_state_of_charge, float(self.pack.curve.state_of_charge[0]),
                   float(self.pack.resistance_curve.state_of_charge[0]))

    @property
    def series(self) -> float:
        """Cells in series."""
        return float(np.asarray(self.pack.series))

    @property
    def capacity(self) -> float:
        """Charge between full and empty [A s]."""
        return float(np.asarray(self.pack.parallel) * np.asarray(self.pack.cell_capacity))

    def resistance(self, state_of_charge: Values) -> Array:
        """Resistance of cells and pack leads [ohm]; NaN outside the curves."""
        return np.asarray(self.series * self.curves[2](np.asarray(state_of_charge, dtype=float))
                          + self.pack.lead_resistance)

    def lead_share(self, state_of_charge: Values) -> Array:
        """Share of that resistance outside the cells [-]."""
        whole = self.resistance(state_of_charge)
        return np.asarray(np.where(whole > 0.0, self.pack.lead_resistance, 0.0)
                          / np.where(whole > 0.0, whole, 1.0))

    def voltage(self, state_of_charge: Values) -> Array:
        """Open-circuit voltage of the pack [V]; NaN outside the curve."""
        return np.asarray(self.series * self.curves[0](np.asarray(state_of_charge, dtype=float)))

    def energy(self, state_of_charge: Values) -> Array:
        """Energy drawn from a state of charge down to the curve's beginning [J]."""
        return np.asarray(self.series * self.capacity
                          * self.curves[1](np.asarray(state_of_charge, dtype=float)))

    def supply(self, state_of_charge: Values, *, units: Values) -> Supply:
        """What a number of equal units sees at a state of charge [-]."""
        return Supply(voltage=self.voltage(state_of_charge), units=units,
                      resistance=self.resistance(state_of_charge))

    def cell_voltage(self, terminal_voltage: Values) -> Array:
        """Voltage of one cell under load [V], as a monitor at the pack's terminals reads it."""
        return np.asarray(np.asarray(terminal_voltage) / self.series)

    def at(self, state_of_charge: float) -> RunningPack:
        """Same pack at another state of charge."""
        return replace(self, pack=replace(self.pack, state_of_charge=state_of_charge),
                       curves=self.curves)


@dataclass(frozen=True, kw_only=True)
class ThermalBody:
    """Something that heats through and cools to the air.

        heat_capacity dT/dt = heat - conductance (T - T_air)

    ``heat_capacity`` [J/K], for example mass times 450 J/(kg K) for a motor of iron and copper,
    1000 J/(kg K) for lithium cells (both from memory); ``conductance`` [W/K] to the air;
    ``limit`` [K] at which a flight notes that it is too hot.
    """

    heat_capacity: float
    conductance: float
    limit: float | None = None


@dataclass(frozen=True, kw_only=True)
class Thermal:
    """Lumped thermal model of one motor and of the pack.

    The motor takes its whole heat and hands it on by its conductance; the share that the duct's
    air is said to carry away in the books is a statement about steady running. Resistances do not
    follow the temperatures.
    """

    motor: ThermalBody | None = None
    pack: ThermalBody | None = None
