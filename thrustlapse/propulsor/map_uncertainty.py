"""How far a candidate's map may be trusted, once a bench has had its say.

A fit starts from the map's own band and narrows it: what is left of a side of the map is then in
the covariance of the fit, and the band must not be counted beside it.
"""

from __future__ import annotations

from thrustlapse.propulsor.bench_fit import FLOW_FORM, HEAD_NODES
from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.rotor.stage_map import Band

THRUST_FACTOR, POWER_FACTOR = "table.thrust_factor", "table.power_factor"
"""Keys of what readings made of a propeller's table."""

SIDES = {THRUST_FACTOR: "head", POWER_FACTOR: "power", "map.flow_scale": "flow",
         "map.head_scale": "head", "map.power_scale": "power",
         "map.head_shutoff": "head", "map.work_shutoff": "power"}
"""Fitted unknown -> side of the band that its prior was."""

OF_READINGS = {FLOW_FORM: "flow", "rotor.tip_diameter": "flow", HEAD_NODES[0]: "head",
               "readings.thrust": "power"}
"""The same of a machine known by its readings, whose map is scaled to them."""


def fitted_sides(candidate: Candidate) -> frozenset[str]:
    """Sides of the map's band that a bench fit has taken over: ``flow``, ``head``, ``power``."""
    unknowns = () if candidate.fit is None else candidate.fit.unknowns
    sides = SIDES if candidate.known_by is None else SIDES | OF_READINGS
    return frozenset(sides[key] for key in unknowns if key in sides)


def own_band(candidate: Candidate) -> Band:
    """Band that the map or table was made with, whatever a bench said since."""
    unit = candidate.unit
    return unit.rotor.stage.band if isinstance(unit, Ducted) else unit.table.band


def beside_fit(candidate: Candidate) -> Band:
    """Band that still counts beside the covariance of a fit: 0 on the sides that were fitted."""
    band, fitted = own_band(candidate), fitted_sides(candidate)
    return Band(flow=0.0 if "flow" in fitted else band.flow,
                head=0.0 if "head" in fitted else band.head,
                power=0.0 if "power" in fitted else band.power, basis=band.basis)


def known_band(candidate: Candidate) -> Band:
    """Band that counts where no covariance is drawn: of a fitted side, what the fit left of it."""
    band, fit = own_band(candidate), candidate.fit
    sides = fitted_sides(candidate)
    if fit is None or not sides or candidate.known_by is not None:
        return band  # of a typical map it says how far all such machines are
    left = {SIDES[key]: float(deviation / abs(value))
            for key, value, deviation in zip(fit.unknowns, fit.values, fit.deviations, strict=True)
            if key in SIDES}
    return Band(flow=left.get("flow", band.flow), head=left.get("head", band.head),
                power=left.get("power", band.power),
                basis=f"{', '.join(sorted(sides))} fitted to {fit.bench}; else {band.basis}")
