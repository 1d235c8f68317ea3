"""What a bench fit leaves of a map's band: nothing is counted twice."""

from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import pytest

from tests.aircraft.flyers import fan
from thrustlapse.propulsor.map_uncertainty import SIDES, beside_fit, own_band
from thrustlapse.rotor.stage_map import Band

OWN = Band(flow=0.08, head=0.15, power=0.11, basis="from its dimensions")


@pytest.mark.parametrize("unknowns", [(), *((key,) for key in SIDES), ("motor.resistance",),
                                      tuple(SIDES)])
def test_sides_that_were_fitted_leave_the_band(unknowns) -> None:
    """They stand in the covariance of the fit; the others keep theirs."""
    whole = fan()
    stage = SimpleNamespace(band=OWN)
    fitted = replace(whole, fit=SimpleNamespace(unknowns=unknowns), unit=replace(
        whole.unit, rotor=replace(whole.unit.rotor, stage=stage)))
    assert own_band(fitted) == OWN
    sides = {SIDES[key] for key in unknowns if key in SIDES}
    left = beside_fit(fitted)
    assert left == replace(OWN, **dict.fromkeys(sides, 0.0))
    assert beside_fit(replace(fitted, fit=None)) == OWN
