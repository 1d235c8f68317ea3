"""Propulsive efficiencies of textbooks."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values


def propulsive_efficiency(*, jet_speed: Values, airspeed: Values) -> Array:
    """Thrust power over thrust power plus lost jet energy of one stream [-]: 2 V0 / (V0 + Vj)."""
    return np.asarray(2.0 * np.asarray(airspeed) / (np.asarray(airspeed) + jet_speed))


def propulsive_efficiency_with_fuel(*, air_flow: Values, fuel_flow: Values, jet_speed: Values,
                                    airspeed: Values) -> Array:
    """Propulsive efficiency where mass is added to the stream [-].

    Thrust power over thrust power plus the jet's kinetic energy relative to still air:
    F V / (F V + 0.5 (ma + mf) (Vj - V)^2) with F = (ma + mf) Vj - ma V.
    """
    total = np.asarray(air_flow) + fuel_flow
    useful = (total * jet_speed - np.asarray(air_flow) * airspeed) * airspeed
    lost = 0.5 * total * np.square(np.asarray(jet_speed) - airspeed)
    return np.asarray(useful / (useful + lost))


def propulsive_efficiency_of_rise(*, air_flow: Values, fuel_flow: Values, jet_speed: Values,
                                  airspeed: Values) -> Array:
    """Propulsive efficiency against the rise of kinetic energy, mass added to the stream [-].

    F V / (0.5 (ma + mf) Vj^2 - 0.5 ma V^2): the fuel is counted as if it had stood still.
    """
    total = np.asarray(air_flow) + fuel_flow
    useful = (total * jet_speed - np.asarray(air_flow) * airspeed) * airspeed
    rise = 0.5 * (total * np.square(jet_speed) - np.asarray(air_flow) * np.square(airspeed))
    return np.asarray(useful / rise)
