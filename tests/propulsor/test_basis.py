"""Footings: words, and units of what is compared."""

from __future__ import annotations

import pytest

from thrustlapse.propulsor import basis


@pytest.mark.parametrize(("footing", "unit", "read"), [
    ("as given", "N", "N"), ("same electrical power", "N", "N"),
    ("thrust per installed mass", "N/kg", "N/kg"), ("thrust per frontal area", "N/m^2", "N/cm^2"),
])
def test_each_footing_has_its_unit(footing: str, unit: str, read: str) -> None:
    assert basis.measure_unit(footing) == unit
    shown, factor = basis.measure_display(footing)
    assert shown == read
    assert factor == (1e-4 if read == "N/cm^2" else 1.0)
