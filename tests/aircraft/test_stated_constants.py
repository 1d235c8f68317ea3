"""Constants of the airframe, each against what was published elsewhere or a closed form.

``python -m tests.tools.constants`` changes every one of them by a tenth; these notice.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.aircraft.textbook_drag import TRANSITION_CONSTANTS
from thrustlapse.aircraft.climb import SERVICE_RATES
from thrustlapse.aircraft.flight_log import EVENLY_SPREAD
from thrustlapse.aircraft.runway import FRICTION
from thrustlapse.aircraft.span_efficiency import MODEL_SCATTER


@pytest.mark.parametrize(("name", "turbulent", "within"), [
    ("Schlichting", 0.455 / np.log10(5e5) ** 2.58, 0.01), ("Prandtl", 0.074 / 5e5**0.2, 0.04)])
def test_constants_of_transition_join_two_laws(name, turbulent, within):
    # a plate laminar up to Re 5e5: A = Re (turbulent less laminar mean friction) there, each of the
    # two printed values with the turbulent law of its time; the printed ones are rounded
    joined = 5e5 * (turbulent - 1.328 / np.sqrt(5e5))
    assert TRANSITION_CONSTANTS[name] == pytest.approx(joined, rel=within)


def test_service_ceilings_are_at_their_rates():
    # 100 international feet of 0.3048 m a minute; 0.5 m/s is the metric rate by its own name
    assert SERVICE_RATES["100 ft/min"] == pytest.approx(0.508)
    assert {name: rate for name, rate in SERVICE_RATES.items() if "m/s" in name} == {
        name: float(name.split()[0]) for name in SERVICE_RATES if "m/s" in name}


def test_a_moment_somewhere_within_an_interval():
    # standard deviation of an even spread over 0 to 1, by the midpoints of a fine grid
    middle = (np.arange(100_000) + 0.5) / 100_000
    assert pytest.approx(np.std(middle), rel=1e-6) == EVENLY_SPREAD


def test_rolling_friction_of_andersons_examples():
    # Anderson, Aircraft performance and design, take-off and landing of the CJ-1: 0.02 and 0.4
    assert FRICTION["paved"] == pytest.approx(0.02)
    assert FRICTION["braked"] == pytest.approx(0.4)


def test_span_efficiencies_of_small_aircraft():
    # scatter of the three measured (NASA/UMN, UMN, Gryte et al. 2018) over what a textbook's form
    # estimates of them
    assert np.std([0.63 / 0.81, 0.75 / 0.77, 0.83 / 0.86], ddof=1) == pytest.approx(
        MODEL_SCATTER, abs=0.005)
