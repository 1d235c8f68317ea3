"""Words of the flight's figures: titles, captions, and the figures described."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from thrustlapse.report.flight.figures import (
    figure_flight,
    figure_flight_books,
    figure_flight_forces,
    shares,
)
from thrustlapse.report.flight.words import duration, energy, way
from thrustlapse.report.number_format import listed, newtons, percent, short_speed
from thrustlapse.report.plot import Plot
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.flight_study_record import Flown


def _each(comparison: Comparison, tell: Callable[[str, Flown], str]) -> str:
    study = comparison.flights
    if study is None:
        return "No flight is flown."
    told = [tell(name, one) for name, one in study.flights.items() if one.time > 0.0]
    return "; ".join([*told, *(f"{name} is not flown" for name in study.not_flown)])


def _flight(comparison: Comparison) -> str:
    def tell(name: str, one: Flown) -> str:
        return (f"{name} flies {way(one.distance)} in {duration(one.time)}, at most "
                f"{short_speed(float(np.max(one.track.airspeed)))} fast and "
                f"{way(float(np.max(one.track.height)))} high"
                + ("" if one.completed else f", and breaks off ({one.reason})"))

    return f"Line charts of airspeed and height against time. {_each(comparison, tell)}."


def _forces(comparison: Comparison) -> str:
    def tell(name: str, one: Flown) -> str:
        track = one.track
        return (f"{name} gives {newtons(float(np.max(track.thrust)))} at most; drag, its own "
                f"included, is at most "
                f"{newtons(float(np.max(track.drag + track.external_drag)))}")

    return f"Line charts of thrust and drag against time. {_each(comparison, tell)}."


def _books(comparison: Comparison) -> str:
    def tell(name: str, one: Flown) -> str:
        if not one.energy > 0.0:
            return f"{name} draws nothing from the pack"
        parts = [f"{word} {percent(value / one.energy)}"
                 for word, value in shares(one.track).items()
                 if abs(value) >= 0.005 * one.energy]
        return f"{name} draws {energy(one.energy)}: {listed(parts)}"

    return f"Stacked charts of energy against time, one each. {_each(comparison, tell)}."


PLOTS = (
    Plot(
        name="flight", title="Airspeed and height along the flight",
        draw=figure_flight, describe=_flight,
        caption="Airspeed and height of the aircraft with each candidate against time, all flying "
                "the same legs; dots: ends of legs; a cross: where a flight breaks off."),
    Plot(
        name="flight_forces", title="Thrust and drag along the flight",
        draw=figure_flight_forces, describe=_forces,
        caption="Net thrust of all units, drag of the airframe, and on top of it what the "
                "candidate drags of its own, against time. Where thrust is above both, the "
                "aircraft gains speed or height."),
    Plot(
        name="flight_books", title="Where the energy of the flight goes",
        draw=figure_flight_books, describe=_books,
        caption="Energy since the launch, stacked by where it has gone; black: what pack and "
                "launcher have delivered. Speed and height gained shrink again when they are "
                "spent on drag. The stack and the line are summed apart; that they meet is the "
                "check."),
)
