"""From the stage to the nozzle there is one way, states by the balance and by the choked eye."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.machines import AIR, BLOWER
from thrustlapse.arrays import take
from thrustlapse.propulsor import ducted_match
from thrustlapse.propulsor.ducted import free_stream
from thrustlapse.propulsor.ducted_match import behind_stage, match, station_states

SPEEDS = np.linspace(0.0, 60.0, 7)


@pytest.mark.parametrize(("eye", "chokes"), [(1.0, False), (0.2, True)])
def test_a_loss_put_in_behind_the_stage_reaches_balance_and_choked_eye(
        monkeypatch: pytest.MonkeyPatch, eye: float, chokes: bool) -> None:
    """History: the choked eye had a copy of this way; a loss left out of it made points NaN."""
    def lossy(*machine: Any, pressure: np.ndarray, **rest: Any) -> ducted_match.Behind:
        return behind_stage(*machine, pressure=0.97 * pressure, **rest)

    monkeypatch.setattr(ducted_match, "behind_stage", lossy)
    unit = replace(BLOWER, rotor=replace(BLOWER.rotor, eye_area=eye * BLOWER.rotor.eye_area),
                   duct=replace(BLOWER.duct, heat_share=0.3))
    everyone = np.arange(SPEEDS.size)
    free = take(free_stream(AIR, SPEEDS), SPEEDS.shape, everyone)
    solved = match(unit, free, SPEEDS.size)
    states = station_states(unit, free, flow=solved.flow, throat=solved.throat, head=solved.head)
    assert solved.converged.all()
    assert (solved.eye_choked == chokes).all()
    assert states.axial_pressure == pytest.approx(states.needed_pressure, rel=1e-9)
    assert np.all(states.nozzle_pressure < 0.97 * states.stage_pressure)
