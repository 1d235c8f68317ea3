"""Measured blade designs predicted by constants that never saw them, and anchored to a reading."""

import numpy as np
import pytest

from tests.credibility.records import Pair, agree, authority, between
from tests.rotor.left_out_propellers import (
    anchored_prediction,
    biases,
    by_design,
    deviations,
    fitted_without,
    left_out,
    pooled,
)
from thrustlapse.rotor.propeller.blades import BANDS
from thrustlapse.rotor.propeller.section import SECTIONS

SOURCE = "University of Illinois propeller tests, AIAA 2011-1255 and AIAA 2014-2151"


FITTED = (("clark y", "lift_slope", 0.03), ("clark y", "friction_drag", 0.03),
          ("clark y", "camber_angle", 0.03), ("clark y", "stall_angle", 0.02),
          ("clark y", "lift_drag", 0.02), ("thin cambered", "camber_angle", 0.02),
          ("thin cambered", "stall_angle", 0.02), ("thin cambered", "lift_drag", 0.01),
          ("thin moderate", "camber_angle", 0.02))
"""Constants of sections that lie where the fits without each design put them, and by which share
they may stand beside."""


def _hold_constants(found) -> None:
    """The package's constants are those that measured propellers and polars ask for."""
    names = sorted({one.design for one in found})
    for section, field, beside in FITTED:
        fits = [abs(getattr(fitted_without(name)[section], field)) for name in names]
        own = abs(getattr(SECTIONS[section], field))
        assert (1.0 - beside) * min(fits) < own < (1.0 + beside) * max(fits), (section, field, own)
    errors = {name: [np.square(deviations(one)) for one in found
                     if one.tested.geometry.section == name] for name in BANDS}
    for name, side, place in (("clark y", "head", 0), ("thin cambered", "power", 1)):
        own = np.sqrt(np.mean(errors[name], axis=0))[place]
        assert getattr(BANDS[name], side) == pytest.approx(own, rel=0.08), (name, side, own)


def _hold_apart(found) -> None:
    """Errors of two designs are drawn apart: over all pairs of eight designs their mean product is
    a small share of their mean square, of loading and of power in excess of momentum theory. Of
    independent errors it scatters by 1/sqrt(28) = 0.19."""
    names = sorted({one.design for one in found})
    means = np.array([np.mean([biases(one) for one in found if one.design == name], axis=0)
                      for name in names])
    pairs = np.square(means.sum(axis=0)) - np.square(means).sum(axis=0)
    shared = pairs / (len(names) - 1) / np.square(means).sum(axis=0)
    assert np.all(np.abs(shared) < 0.19), shared


@authority(part="propeller", what="blade designs left out of the fit", status="published",
           source=SOURCE,
           kind="measured")
def test_left_out_by_design():
    """Eight blade designs, each predicted from its blades by constants fitted without it; then
    scaled in CT and CP to its highest static reading."""
    found = left_out()
    _hold_constants(found)
    _hold_apart(found)
    for one in found:
        for symbol, measured, predicted in (("CT", one.tested.thrust, one.thrust),
                                            ("CP", one.tested.power, one.power)):
            yield Pair(series=f"propeller {one.name}", quantity=symbol, measured=measured,
                       predicted=predicted, family="propellers, their blade left out")
    for symbol, error, goal in zip(("CT", "CP"), by_design(found), (0.07, 0.10), strict=True):
        yield from agree(f"mean rms of {symbol} over its peak", error, 0.0, within=goal,
                         why="reach aimed for")
    for times, low, high in ((1.0, 0.55, 0.85), (1.96, 0.90, 1.0)):
        for symbol, share in zip(("CT", "CP"), pooled(found, times, anchored=False),
                                 strict=True):
            yield from between(f"share of {symbol} within {times:g} deviations", share, low,
                               high, why="a stated band")
    found = tuple(map(anchored_prediction, found))
    for symbol, error, goal in zip(("CT", "CP"), by_design(found), (0.10, 0.15), strict=True):
        yield from agree(f"anchored, mean rms of {symbol} over its peak", error, 0.0,
                         within=goal, why="reach aimed for")
    for symbol, share in zip(("CT", "CP"), pooled(found, 1.96, anchored=True), strict=True):
        yield from between(f"anchored, share of {symbol} within the 95 % band", share, 0.90, 1.0,
                           why="a stated band")


def test_one_design_left_out():
    """The quick part: one fit without the blade of the 9 x 6 inch propeller."""
    (one,) = left_out("9x6")
    assert np.all(by_design((one,)) < [0.12, 0.18])
