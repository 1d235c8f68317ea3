"""The readings of a bench, as one record of arrays in SI.

Readings are what instruments showed, reduced only so far that they can be held against a model:
stand friction is out of the thrust, units are SI. A NaN is a reading not taken, and every array
has one entry per reading.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from typing import Annotated, get_type_hints

import numpy as np
from numpy.typing import ArrayLike

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.glossary import read_as

UNNAMED = "unnamed"
"""Drive setting of rows that name none; they count as one setting."""

AS_FLOWN = "as it flies"
"""Drive setting of rows that were read as the aircraft flies: the description's own."""


@dataclass(frozen=True, kw_only=True)
class UsualSpread:
    """Standard deviation of a usual instrument: a fixed part and a share of the reading, added as
    squares. ``instrument`` says which."""

    fixed: float
    share: float = 0.0
    instrument: str

    def at(self, value: Array) -> Array:
        """Standard deviation of a reading, in its own unit."""
        return np.hypot(self.fixed, self.share * np.abs(value))


@dataclass(frozen=True, kw_only=True)
class BenchColumn:
    """A quantity that is read: one a machine answers with (``measured``; a reading without any of
    them says nothing) or a condition. People read it in ``unit``."""

    measured: bool
    unit: str
    usual: UsualSpread

    @property
    def factor(self) -> float:
        """What people read of 1 in SI."""
        return read_as(1.0, self.unit)


def _answer(unit: str, instrument: str, fixed_and_share: tuple[float, float]) -> BenchColumn:
    fixed, share = fixed_and_share
    return BenchColumn(measured=True, unit=unit, usual=UsualSpread(
        fixed=fixed, share=share, instrument=instrument))


def _condition(unit: str, instrument: str, fixed: float) -> BenchColumn:
    return BenchColumn(measured=False, unit=unit, usual=UsualSpread(
        fixed=fixed, instrument=instrument))


@dataclass(frozen=True, kw_only=True)
class BenchReadings:
    """Readings of one machine, arrays of shape (rows,) in SI; NaN where not read.

    Parameters
    ----------
    nozzle_diameter : array
        Exit diameter of the nozzle [m]; NaN: as the machine came, not told
    inlet_blocked, outlet_blocked : array of bool
        The inlet, or the nozzle's exit, was shut. Two different states: behind a shut inlet the
        air is thin
    orifice_diameter : array
        Bore of a thin plate in front of the inlet [m]; NaN: no plate
    suction : array
        How far the pressure between that plate and the inlet lies below ambient [Pa], positive
    voltage, current, electrical_power : array
        At the supply or pack terminals, all units together [V], [A], [W]; direct current
    shaft_speed : array
        [rad/s]
    thrust : array
        Forward force of the machine on its stand, friction taken out [N]
    static_pressure : array
        Gauge static pressure at the nozzle entry [Pa]
    units : array
        Units that ran together on the bench [-]; thrust and watts are theirs
    by_log : array of bool
        The thrust follows from a flight log: no scale read it
    airspeed : array
        Through undisturbed air [m/s]; 0 where the file does not say
    air_temperature, air_pressure : array
        Of the undisturbed air, [K] and absolute at the bench, not reduced to sea level [Pa];
        ``bench.air_density.air_of`` gives air for every row, standing in for what was not read
    relative_humidity : array
        Of the undisturbed air [-]
    duty : array
        Share of the supply voltage the controller passes on [-]; NaN: not told
    spread : mapping of str to array
        For each quantity above its standard deviation in the same unit, shape (rows,); NaN where
        none is stated. ``with_default_uncertainty`` fills those with what is usual
    row : array of int
        Line of each reading in its file, for messages
    note, setting : tuple of str
        A remark; a word naming the drive setting. Rows of the same setting share whatever the
        setting is (a power cap, a duty): :data:`UNNAMED` is one setting too
    stand_friction : array
        Friction force of the stand that was taken out [N]; NaN where thrust was read directly
    source : str
        Where the readings come from
    told : tuple of str
        What was assumed or reduced on the way, in sentences

    Raises
    ------
    ValueError
        When the arrays differ in shape, or a spread is negative or of an unknown quantity.
    """

    nozzle_diameter: Annotated[Array, _condition("mm", "calipers on a print", 1e-4)]
    inlet_blocked: BoolArray
    outlet_blocked: BoolArray
    orifice_diameter: Annotated[Array, _condition("mm", "calipers on a drilled hole", 5e-5)]
    voltage: Annotated[Array, _answer("V", "hand-held meter", (0.05, 0.005))]
    thrust: Annotated[Array, _answer("N", "kitchen scale, 2 g, on a stand", (0.02, 0.01))]
    electrical_power: Annotated[Array, _answer("W", "wattmeter", (1.0, 0.02))]
    current: Annotated[Array, _answer("A", "wattmeter or clamp", (0.1, 0.02))]
    shaft_speed: Annotated[Array, _answer("krpm", "tone or counted frames", (1.0, 0.005))]
    static_pressure: Annotated[Array, _answer("kPa", "water column, 1 mm", (10.0, 0.01))]
    suction: Annotated[Array, _answer("kPa", "water column, 1 mm", (10.0, 0.01))]
    units: Array
    by_log: BoolArray
    airspeed: Annotated[Array, _condition("m/s", "model air data", 0.5)]
    air_temperature: Annotated[Array, _condition("K", "room thermometer", 1.0)]
    air_pressure: Annotated[Array, _condition("hPa", "telephone barometer", 200.0)]
    relative_humidity: Annotated[Array, _condition("%", "room hygrometer", 0.05)]
    duty: Annotated[Array, _condition("%", "controller's own figure", 0.005)]
    spread: Mapping[str, Array]
    row: IntArray
    note: tuple[str, ...]
    setting: tuple[str, ...]
    stand_friction: Array
    source: str = ""
    told: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        rows = (len(self.row),)
        for item in fields(self):
            value = getattr(self, item.name)
            if isinstance(value, np.ndarray) and value.shape != rows:
                raise ValueError(f"{item.name} has shape {value.shape}, expected {rows}")
        if len(self.note) != len(self.row) or len(self.setting) != len(self.row):
            raise ValueError("note and setting need one entry per reading")
        if set(self.spread) != {*CONDITIONS, *MEASURED}:
            raise ValueError("spread needs an array for every quantity and for nothing else")
        for name, value in self.spread.items():
            if value.shape != rows or np.any(value < 0.0):
                raise ValueError(f"spread of {name}: shape {rows} and nothing below 0")

    def __len__(self) -> int:
        return len(self.row)

    @property
    def names(self) -> tuple[str, ...]:
        """Measured quantities that at least one row has."""
        return tuple(name for name in MEASURED if np.isfinite(getattr(self, name)).any())


READ: dict[str, BenchColumn] = {
    name: kept for name, hint in get_type_hints(BenchReadings, include_extras=True).items()
    for kept in getattr(hint, "__metadata__", ()) if isinstance(kept, BenchColumn)}
"""Every quantity that is read, by name. The usual spreads are common practice, no source: what
hobby instruments are good for when read with care."""

CONDITIONS = tuple(name for name, one in READ.items() if not one.measured)
"""Quantities that say under which conditions a reading was taken."""

MEASURED = tuple(name for name, one in READ.items() if one.measured)
"""Quantities a machine answers with."""


def bench_readings(*, row: Sequence[int] | None = None, note: Sequence[str] | None = None,
                   setting: Sequence[str] | None = None,
                   spread: Mapping[str, ArrayLike] | None = None, source: str = "",
                   told: Sequence[str] = (), **columns: ArrayLike) -> BenchReadings:
    """Readings from the columns that were read, in SI; all others are filled with NaN.

    Parameters
    ----------
    row, note, setting, source, told
        As in :class:`BenchReadings`; rows are counted from 1 where no line is given
    spread : mapping, optional
        Standard deviations by quantity, broadcast to the rows
    **columns : array_like
        Any fields of :class:`BenchReadings`, broadcast against each other

    Raises
    ------
    TypeError
        For a column that does not exist.
    ValueError
        When nothing is given, or shapes do not broadcast to one axis.
    """
    numeric = (*CONDITIONS, *MEASURED, "stand_friction", "units")
    flags = ("inlet_blocked", "outlet_blocked", "by_log")
    unknown = set(columns) - {*numeric, *flags}
    if unknown:
        raise TypeError(f"no such column: {', '.join(sorted(unknown))}")
    given = {name: np.asarray(value, dtype=bool if name in flags else float)
             for name, value in columns.items()}
    shape = np.broadcast_shapes(*(value.shape for value in given.values()), (1,))
    if not given or len(shape) != 1:
        raise ValueError("readings are columns of one axis, and at least one of them")
    values = {name: np.full(shape, np.nan) for name in numeric}
    values["airspeed"] = np.zeros(shape)
    values["units"] = np.ones(shape)
    shut = {name: np.zeros(shape, dtype=bool) for name in flags}
    filled = {name: np.broadcast_to(value, shape).copy() for name, value in given.items()}
    deviations = {name: np.full(shape, np.nan) for name in (*CONDITIONS, *MEASURED)}
    for name, stated in (spread or {}).items():
        deviations[name] = np.broadcast_to(np.asarray(stated, dtype=float), shape).copy()
    return BenchReadings(
        **(values | shut | filled), spread=deviations, source=source, told=tuple(told),
        row=np.arange(1, shape[0] + 1) if row is None else np.asarray(row, dtype=np.int64),
        note=("",) * shape[0] if note is None else tuple(note),
        setting=(UNNAMED,) * shape[0] if setting is None else tuple(setting))
