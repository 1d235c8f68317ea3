"""The record of a flight: what every figure, table and verdict of it is drawn from."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.arrays import Array, IntArray


@dataclass(frozen=True, kw_only=True)
class FlightBooks:
    """Energy since the start of the flight [J], at every sample.

        pack_energy + launcher_work = pack_heat + lead_heat + controller_heat + motor_heat
            + machine_heat + jet_energy + swirl_energy + stored_energy
            + parasite_work + induced_work + compressibility_work + external_work
            + kinetic + potential

    ``pack_energy`` and ``kinetic`` and ``potential`` (both since the start) are read from the
    trajectory; everything else is a sum over it. So ``residual``, what the books miss, measures
    the integration. ``motor_heat`` leaves through the motor's own surface, ``machine_heat`` is
    dissipated in the stream tube, motor heat given to the duct's air included.
    """

    pack_energy: Array
    launcher_work: Array
    pack_heat: Array
    lead_heat: Array
    controller_heat: Array
    motor_heat: Array
    machine_heat: Array
    jet_energy: Array
    swirl_energy: Array
    stored_energy: Array
    parasite_work: Array
    induced_work: Array
    compressibility_work: Array
    external_work: Array
    kinetic: Array
    potential: Array
    residual: Array

    @property
    def paid(self) -> Array:
        """What went in [J]."""
        return np.asarray(self.pack_energy + self.launcher_work)

    @property
    def relative_residual(self) -> float:
        """Largest miss over the largest of what went in and the kinetic and potential energy."""
        size = max(float(np.max(np.abs(part))) for part in (self.paid, self.kinetic,
                                                            self.potential))
        worst = float(np.max(np.abs(self.residual)))
        return worst / size if size > 0.0 else worst


SPENT = ("pack_heat", "lead_heat", "controller_heat", "motor_heat", "machine_heat", "jet_energy",
         "swirl_energy", "stored_energy", "parasite_work", "induced_work",
         "compressibility_work", "external_work", "kinetic", "potential")
"""Where the energy went, in the order of a figure."""


@dataclass(frozen=True, kw_only=True)
class FlightEvent:
    """Something that happened: time [s], index of the leg, a name for programs, words for people.
    """

    time: float
    leg: int
    name: str
    text: str


@dataclass(frozen=True, kw_only=True)
class LegResult:
    """One leg as flown: its words, whether it was flown to its end, and why it ended.

    ``start``, ``end`` [s], ``distance`` [m], ``energy`` drawn from the pack in it [J]; samples of
    the flight from ``first`` to ``last`` (inclusive), both -1 where it was not begun.
    """

    name: str
    completed: bool
    reason: str
    start: float
    end: float
    distance: float
    energy: float
    first: int
    last: int


@dataclass(frozen=True, kw_only=True)
class Flight:
    """A flight of one candidate, sampled; SI, all units of the candidate together.

    ``height`` is above the site. ``thrust`` is the net thrust, ``external_drag`` the candidate's
    own, ``drag`` the airframe's. ``power``, ``current`` and ``terminal_voltage`` at the pack's
    terminals; temperatures are NaN where no thermal model was given. ``leg`` is the index of the
    leg at each sample, 0 being the launch. Where two phases meet there are two samples at one
    time. ``completed`` tells whether all legs were flown; ``reason`` why not.
    """

    candidate: str
    mass: float
    time: Array
    distance: Array
    height: Array
    airspeed: Array
    path_angle: Array
    heading: Array
    load_factor: Array
    thrust: Array
    external_drag: Array
    drag: Array
    power: Array
    current: Array
    terminal_voltage: Array
    shaft_speed: Array
    state_of_charge: Array
    motor_temperature: Array
    pack_temperature: Array
    drive_limit_code: IntArray
    leg: IntArray
    books: FlightBooks
    legs: tuple[LegResult, ...]
    events: tuple[FlightEvent, ...]
    completed: bool
    reason: str
    evaluations: int

    @property
    def energy_used(self) -> float:
        """Energy drawn from the pack, its own heat included [J]."""
        return float(self.books.pack_energy[-1])
