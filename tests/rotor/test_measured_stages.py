"""Two large impellers and a stage with splitters: work, pressure rise, efficiency, largest flow.

Efficiency is isentropic, total to total, of impeller and vaneless space, without scroll or motor.
"""

from __future__ import annotations

import numpy as np
import pytest

from tests.credibility.records import Pair, agree, authority
from tests.rotor.measured_stages import (
    MACHINES,
    Line,
    drawn_stage_lines,
    impeller_lines,
    missed,
    onset_without,
    stage_432_mm,
    stage_lines,
    stage_rims,
)
from thrustlapse.rotor.centrifugal.losses import EXCHANGE_ONSET
from thrustlapse.rotor.centrifugal.points import LIMITS
from thrustlapse.rotor.centrifugal.stage import LOSS_UNCERTAINTY

REACH = "reach aimed for on machines of known dimensions"
FAMILIES = {"O": "400 mm impeller O", "432 mm": "432 mm stage",
            "A": "400 mm impeller A, doubtful readings"}
"""What the panels of a machine are called; part load was judged on the first two."""

LEANS = (27.0, 31.0, 35.0)
"""Exit lean of the 432 mm stage [degrees]: hub to shroud of its coordinates."""


def _means(line: Line, note: str = ""):
    """Means of a line, beside none: what the reach asks of each."""
    name = f"{line.machine} at {line.tip_speed:.0f} m/s{note}"
    rise = 0.08 if line.tip_speed < 350.0 else 0.12
    for what, error, within in (("work", line.work_error, 0.05),
                                ("pressure rise", line.rise_error, rise),
                                ("efficiency", line.efficiency_error, 0.03)):
        yield from agree(f"{name}, mean error of {what}", float(np.mean(error)), 0.0,
                         within=within, why=REACH)
    yield from _pairs(line, name)


def _pairs(line: Line, name: str):
    """Work, head and efficiency at every reading that the map reaches, each by itself."""
    reached = line.points.limit == LIMITS.index("within")
    missed = int(np.sum(~reached))
    name += f", {missed} of {reached.size} flows not reached" if missed else ""
    for what, measured, ours in (
            ("work over U^2", line.work, line.our_work),
            ("head over U^2", line.work * line.efficiency, line.our_head),
            ("efficiency", line.efficiency, line.our_head / line.our_work)):
        yield Pair(series=name, quantity=what, measured=measured[reached],
                   predicted=np.asarray(ours)[reached],
                   family=FAMILIES[line.machine])


@authority(part="impeller", what="work, pressure rise and efficiency of a 400 mm impeller",
           source="Eckardt's impeller O, digitised second hand", status="published",
           kind="measured")
def test_radial_impeller():
    """Every line, 209 to 335 m/s, in the mean."""
    for line in impeller_lines("O"):
        yield from _means(line)


@authority(part="impeller", what="work, pressure rise and efficiency of a 432 mm stage",
           source="NASA vaneless build, public test release", status="published",
           kind="measured")
def test_stage_with_splitters():
    """Every line, 363 to 474 m/s, in the mean; lean of the coordinates at mid height."""
    for line in stage_lines():
        yield from _means(line)


@authority(part="impeller", what="pressures behind the impeller of a 432 mm stage",
           source="NASA vaneless build, public test release", status="published",
           kind="measured")
def test_impeller_of_the_stage():
    """Static pressure at the rim's casing and total pressure at 1.071 of its radius: what impeller
    and mixing lose, without the vaneless space and the bend behind it."""
    for rim, static in stage_rims():
        for what, error in (("static pressure at the rim", static),
                            ("total pressure behind it", rim.rise_error)):
            name = f"432 mm at {rim.tip_speed:.0f} m/s, error of the rise of {what}"
            for kind, value in (("mean", np.mean(error)),
                                ("greatest", error[np.argmax(np.abs(error))])):
                yield from agree(f"{name}, {kind}", float(value), 0.0, within=0.04,
                                 why="its lean, 27 to 35 degrees, alone moves a rise by 4 %")


@authority(part="impeller", what="what the vaneless space of a 432 mm stage loses",
           source="NASA vaneless build, public test release", status="published",
           kind="measured")
def test_vaneless_space_of_the_stage():
    """Fall of total pressure, as a logarithm, from 1.071 of the rim's radius to the exit."""
    for rim, line in zip((rim for rim, _ in stage_rims()), stage_lines(), strict=True):
        ours, theirs = (float(np.mean(np.log(a / b))) for a, b in (
            (rim.our_ratio, line.our_ratio), (rim.ratio, line.ratio)))
        yield from agree(f"432 mm at {line.tip_speed:.0f} m/s, mean fall of total pressure", ours,
                         theirs, within=LOSS_UNCERTAINTY * theirs, why="the stated error of losses",
                         known_miss="it ends in a bend into a narrow ring, which is not computed; "
                                    "walls that rub twice as much, as some practice has it, would "
                                    "put the 400 mm impeller 3 points too low")


@authority(part="impeller", what="a leaning impeller of doubtful readings",
           source="Eckardt's impeller A, digitised second hand", status="published",
           kind="measured")
def test_leaning_impeller():
    """Its readings imply a slip factor of 0.96 to 0.99, unexplained; none tuned on it."""
    for line in impeller_lines("A"):
        yield from agree(f"A at {line.tip_speed:.0f} m/s, mean error of work",
                         float(np.mean(line.work_error[line.points.limit == 0])), 0.0, within=0.05,
                         why=REACH, known_miss="readings imply hardly any slip")
        yield from _pairs(line, f"A at {line.tip_speed:.0f} m/s, doubtful")


def test_each_machine_left_out():
    """The one constant chosen with these machines in sight, without each: what it would be moves
    the work of the one left out by little."""
    for name in ("O", "432 mm"):
        onset, error = onset_without(name)
        every = np.concatenate([line.work_error for line in MACHINES[name]()])
        assert onset < EXCHANGE_ONSET   # part load of a slow fan holds it up, not these machines
        assert error == pytest.approx(np.sqrt(np.mean(every**2)), abs=0.01)
        assert error < 0.05


def test_reach_with_doubtful_inputs_drawn():
    """The 432 mm stage over draws of lean, splitters, width and blades: line means and every
    reading in the median draw; and most draws, machines that the drawings do not exclude, meet all
    of it at once."""
    drawn = list(drawn_stage_lines(60))
    for place, line in enumerate(drawn[0]):
        each = [one[place] for one in drawn]
        rise = 0.08 if line.tip_speed < 350.0 else 0.12
        for errors, mean, worst in (([one.work_error for one in each], 0.05, 0.08),
                                    ([one.rise_error for one in each], rise, rise),
                                    ([one.efficiency_error for one in each], 0.03, 0.06)):
            assert abs(np.mean(errors)) < mean, line.tip_speed
            assert np.all(np.abs(np.median(errors, axis=0)) < worst), line.tip_speed
    assert np.mean([not any(list(missed(line)) for line in one) for one in drawn]) > 0.5


def test_nothing_is_missed_of_what_is_aimed_for():
    """Means and every reading of work, pressure rise and efficiency, at the lean of mid height."""
    for line in (*impeller_lines("O"), *stage_lines()):
        assert not list(missed(line)), line.tip_speed


def test_every_measured_flow_is_reached():
    for line in (*impeller_lines("O"), *stage_lines()):
        assert (line.points.limit == LIMITS.index("within")).all()


def test_lean_and_splitters_act_as_the_sources_say():
    # 1 degree of lean is 0.9 % of work; splitters in place of full blades take about 4 %
    work = {lean: np.mean([np.mean(line.our_work) for line in stage_lines(lean=lean)])
            for lean in LEANS}
    per_degree = (work[27.0] / work[35.0] - 1.0) / 8.0
    assert per_degree == pytest.approx(0.009, abs=0.003)
    g = stage_432_mm()
    full = np.mean([np.mean(line.our_work) for line in stage_lines(splitter_length=1.0)])
    assert g.effective_blades < 30.0
    none = np.mean([np.mean(line.our_work) for line in stage_lines(splitter_length=1e-6)])
    assert 0.0 < full / work[31.0] - 1.0 < full / none - 1.0
