"""The result record: what one unit and its candidate do at every operating point.

Values never raise: each element carries a severity and the flags of all simultaneous causes. Notes
keep their value; only invalid elements are NaN.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from enum import IntEnum, IntFlag
from typing import Any

import numpy as np
import numpy.typing as npt

from thrustlapse.arrays import Array, BoolArray, IntArray
from thrustlapse.notebook_view import NotebookView
from thrustlapse.power.drive import DriveLimit


class Severity(IntEnum):
    """How an element of a result is to be read."""

    OK = 0
    NOTE = 1
    INVALID = 2

    @property
    def words(self) -> str:
        """Name as tables and results print it."""
        return self.name.lower()


class Flag(IntFlag):
    """Causes behind a severity; several may hold at once."""

    THROAT_CHOKED = 1
    EYE_CHOKED = 2
    DUCT_CHOKED = 4
    NOZZLE_CHOKED = 8
    STALL_SIDE = 16
    TWO_MATCHES = 32
    WINDMILLING = 64
    FREEWHEELING = 128
    NO_THROUGH_FLOW = 256
    INLET_SPILLS = 512
    SPEED_OUTSIDE_TABLE = 1024
    TIP_MACH_HIGH = 2048
    OUTSIDE_MAP = 4096
    PACK_CANNOT_DELIVER = 8192
    CANNOT_TURN = 16384
    NOT_CONVERGED = 32768
    AIR_UNKNOWN = 65536
    REGENERATING = 131072
    OVERCHARGING = 262144
    UNSTABLE = 524288
    IMPOSSIBLE = 1048576

    @property
    def words(self) -> str:
        """Name as tables and results print it."""
        return (self.name or "").lower().replace("_", " ")


TIP_MACH_LIMIT = 0.85
"""Relative Mach number of blade tips beyond which low-speed coefficients cannot be trusted (common
practice)."""

INVALID = (Flag.OUTSIDE_MAP | Flag.PACK_CANNOT_DELIVER | Flag.CANNOT_TURN | Flag.NOT_CONVERGED
           | Flag.AIR_UNKNOWN | Flag.UNSTABLE | Flag.IMPOSSIBLE)
"""Flags that leave no value to report."""

MEANING = {
    Flag.THROAT_CHOKED: "the inlet throat passes all it can; shocks behind it cost pressure",
    Flag.EYE_CHOKED: "the rotor's eye passes all the air it can; head falls at constant flow",
    Flag.DUCT_CHOKED: "the duct passes all the air it can",
    Flag.NOZZLE_CHOKED: "the jet leaves at the speed of sound and above ambient pressure",
    Flag.STALL_SIDE: "less flow than at peak head: the machine may stall or surge here",
    Flag.TWO_MATCHES: "two flows satisfy the balance; the larger is given",
    Flag.WINDMILLING: "the air drives the rotor's flow: it takes head out instead of adding it",
    Flag.FREEWHEELING: "the load drives the shaft; the motor carries no current",
    Flag.NO_THROUGH_FLOW: "pressure behind the rotor stays below ambient: no air goes through",
    Flag.INLET_SPILLS: "the inlet takes in less air than it meets; the rest spills round the lip "
                       "and adds drag",
    Flag.SPEED_OUTSIDE_TABLE: "the shaft speed lies outside the table: its nearest one is used",
    Flag.TIP_MACH_HIGH: "air meets the blade tips above Mach 0.85: beyond what coefficients know",
    Flag.OUTSIDE_MAP: "the balance lies outside the map, so nothing is known there",
    Flag.PACK_CANNOT_DELIVER: "the pack cannot deliver the power the drive asks for",
    Flag.CANNOT_TURN: "the drive cannot turn the shaft",
    Flag.NOT_CONVERGED: "no balance was found",
    Flag.REGENERATING: "the air drives the shaft: current flows back into the pack",
    Flag.OVERCHARGING: "the current back into the pack lifts it above its full-charge voltage",
    Flag.UNSTABLE: "the only balance inside the map is one from which the flow runs away",
    Flag.IMPOSSIBLE: "a bound of physics is broken: an error of this program, please report it",
    Flag.AIR_UNKNOWN: "the altitude lies outside the standard atmosphere used here",
}
"""One line per flag, in plain words."""


@dataclass(frozen=True, kw_only=True)
class Ledger:
    """First law and forces of one unit's stream tube at each point; see ``energy_ledger.py``.

    Powers in W, forces in N, residuals relative. Losses are dissipation at exit conditions, shared
    in proportion to the entropy each part produces.
    """

    shaft_power: Array
    heat_to_air: Array
    thrust_power: Array
    jet_power: Array
    swirl_power: Array
    stored_power: Array
    ram_loss: Array
    inlet_loss: Array
    rotor_loss: Array
    duct_loss: Array
    heating_loss: Array
    nozzle_loss: Array
    pack_heat: Array
    lead_heat: Array
    controller_heat: Array
    winding_heat: Array
    no_load_heat: Array
    unsplit_heat: Array
    lip_force: Array
    machine_force: Array
    nozzle_force: Array
    energy_residual: Array
    electrical_residual: Array
    force_residual: Array
    continuity_residual: Array
    pressure_residual: Array


LOSSES = tuple(item.name for item in fields(Ledger) if item.name.endswith("_loss"))
"""Names of all losses of the stream tube, in the order of the flow."""


@dataclass(frozen=True, kw_only=True)
class OperatingPoint(NotebookView):
    """Operating points of one candidate; every array has the broadcast shape of the question.

    Per unit, except ``installed_thrust``, ``external_drag``, ``electrical_power`` and ``current``,
    which are for all units of the candidate (the last two at the pack terminals).
    """

    airspeed: Array
    net_thrust: Array
    gross_thrust: Array
    ram_drag: Array
    ideal_thrust: Array
    mass_flow: Array
    jet_speed: Array
    jet_area: Array
    shaft_speed: Array
    shaft_power: Array
    torque: Array
    tip_mach: Array
    flow_coefficient: Array
    head_coefficient: Array
    power_coefficient: Array
    throat_mach: Array
    eye_mach: Array
    duct_mach: Array
    face_pressure: Array
    stage_pressure: Array
    nozzle_pressure: Array
    pressure_ratio: Array
    exit_temperature: Array
    motor_current: Array
    motor_voltage: Array
    duty: Array
    terminal_voltage: Array
    additive_drag: Array
    installed_thrust: Array
    external_drag: Array
    electrical_power: Array
    current: Array
    drive_limit_code: IntArray
    flag_bits: IntArray
    ledger: Ledger

    @property
    def shape(self) -> tuple[int, ...]:
        """Shape of every array."""
        return self.net_thrust.shape

    @property
    def drive_limit(self) -> npt.NDArray[np.str_]:
        """Which limit of the drive gives the shaft speed, in words."""
        return in_words(self.drive_limit_code, DriveLimit)

    @property
    def severity_code(self) -> IntArray:
        """Severity as an integer, see :class:`Severity`."""
        return severity_of(self.flag_bits)

    @property
    def severity(self) -> npt.NDArray[np.str_]:
        """``ok``, ``note`` or ``invalid``."""
        return in_words(self.severity_code, Severity)

    @property
    def flags(self) -> npt.NDArray[np.str_]:
        """All causes at each element, in words joined by ``"; "``; empty where there is none."""
        distinct, place = np.unique(self.flag_bits, return_inverse=True)
        names = np.array(["; ".join(flag_names(int(bits))) for bits in distinct], dtype=np.str_)
        return names[place].reshape(self.flag_bits.shape)

    def flagged(self, flag: Flag | str) -> BoolArray:
        """Where a flag, given as :class:`Flag` or in words, is raised."""
        wanted = flag if isinstance(flag, Flag) else Flag[flag.upper().replace(" ", "_")]
        return np.asarray((self.flag_bits & int(wanted)) != 0)

    @property
    def valid(self) -> BoolArray:
        """Where the element has values."""
        return np.asarray((self.flag_bits & int(INVALID)) == 0)

    @property
    def pushing(self) -> BoolArray:
        """Where efficiencies mean something: the drive drives, and the jet leaves faster than the
        aircraft flies and pushes it."""
        with np.errstate(invalid="ignore"):
            return np.asarray((self.net_thrust > 0.0) & (self.electrical_power > 0.0)
                              & (self.ledger.shaft_power > 0.0)
                              & (self.jet_speed > self.airspeed))

    @property
    def propulsive_efficiency(self) -> Array:
        """Thrust power over thrust power plus what the jet carries away [-]; zero at rest.

        NaN where the machine is not :attr:`pushing`: a windmilling one may rightly pass 1.
        """
        useful = self.ledger.thrust_power
        with np.errstate(invalid="ignore", divide="ignore"):
            share = useful / (useful + self.ledger.jet_power + self.ledger.swirl_power)
        return np.where(self.pushing, np.where(useful == 0.0, 0.0, share), np.nan)

    @property
    def overall_efficiency(self) -> Array:
        """Installed thrust times airspeed over electrical power [-]; NaN where not pushing."""
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.where(self.pushing, self.installed_thrust * self.airspeed
                            / self.electrical_power, np.nan)


def severity_of(flag_bits: IntArray) -> IntArray:
    """Severity of each set of flags."""
    bits = np.asarray(flag_bits)
    return np.where((bits & int(INVALID)) != 0, int(Severity.INVALID),
                    np.where(bits != 0, int(Severity.NOTE), int(Severity.OK)))


def in_words(codes: IntArray, kind: Any) -> npt.NDArray[np.str_]:
    """Names of an enumeration's codes, elementwise."""
    names = np.array([kind(value).words for value in range(max(kind) + 1)], dtype=np.str_)
    return np.asarray(names[codes])


def flag_names(bits: int) -> list[str]:
    """Names of the flags in one element's bits."""
    return [flag.words for flag in Flag if bits & flag]


def select(record: Any, key: Any) -> Any:
    """Same record (point or ledger) at an index of its arrays."""
    changed = {}
    for item in fields(record):
        value = getattr(record, item.name)
        changed[item.name] = (np.asarray(value[key]) if isinstance(value, np.ndarray)
                              else select(value, key))
    return type(record)(**changed)
