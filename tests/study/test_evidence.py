"""One posterior of all evidence: order, leaving out, disagreement, the flight log's two thrusts."""

from __future__ import annotations

from dataclasses import fields, replace
from functools import cache
from itertools import pairwise, permutations
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest

import thrustlapse as tl
from thrustlapse.bench.evidence import BENCH, LOG, SOUND, Piece
from thrustlapse.bench.readings import AS_FLOWN, BenchReadings, bench_readings
from thrustlapse.propulsor.candidate import operate
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.scenario.files.read import read_text
from thrustlapse.study.bench_fit import FitError, fit_bench, unread
from thrustlapse.study.evidence import (
    _deleted,
    disagreements,
    history,
    in_order,
    machine_of,
    read_at_rest,
    read_in_flight,
)

SCENARIOS = Path(__file__).parents[2] / "scenarios"


@cache
def _story() -> Scenario:
    return tl.read_scenario(SCENARIOS / "three_ways_to_push.toml")


def _rows(read: BenchReadings, start: int, end: int) -> BenchReadings:
    rows = slice(start, end)
    cut = {item.name: getattr(read, item.name)[rows] for item in fields(read)
           if isinstance(getattr(read, item.name), np.ndarray)}
    return replace(read, **cut, spread={name: one[rows] for name, one in read.spread.items()},
                   note=read.note[rows], setting=read.setting[rows])


@cache
def _five() -> tuple[Piece, ...]:
    bench = tl.read_bench(SCENARIOS / "story_blower_bench.csv")
    point = operate(_story().candidates["blower"], airspeed=np.zeros(1))
    parts = [*((BENCH, _rows(bench, *ends)) for ends in ((0, 6), (6, 11), (11, 17))),
             (SOUND, bench_readings(shaft_speed=point.shaft_speed, setting=[AS_FLOWN],
                                    spread={"shaft_speed": 5.0})),
             (LOG, bench_readings(thrust=0.98 * point.net_thrust, airspeed=[0.0], by_log=[True],
                                  setting=[AS_FLOWN], spread={"thrust": 0.2}))]
    return tuple(Piece(kind=kind, name=f"piece {place}", digest=f"{(7 * place) % 5}abc",
                       date=f"2026-0{place + 1}-01", readings=read)
                 for place, (kind, read) in enumerate(parts))


def test_the_order_in_which_evidence_comes_plays_no_part() -> None:
    candidate, first = _story().candidates["blower"], machine_of(_story().candidates["blower"],
                                                                 _five())
    spread = np.sqrt(np.diag(first.scaled_covariance))
    for place, order in enumerate(permutations(_five())):
        if place % 40 == 7:  # three of the 120
            fit = machine_of(candidate, order)
            assert np.max(np.abs(fit.scaled - first.scaled) / spread) < 1e-9
            np.testing.assert_allclose(np.diag(fit.scaled_covariance), spread**2, rtol=1e-9)
    assert {one.digest for one in in_order(_five())} == {one.digest for one in _five()}


def test_more_evidence_never_widens_what_agrees() -> None:
    steps = history(_story(), "blower", _five())
    widths = [one.answer.deviation for one in steps]
    assert steps[0].piece is None
    assert [one.piece.date for one in steps[1:] if one.piece] == sorted(
        one.date for one in _five())
    assert all(after <= 1.02 * before for before, after in pairwise(widths))
    assert widths[-1] < 0.3 * widths[0]
    without = [one.without for one in steps[1:]]
    assert without[-1] is not None
    assert without[-1].value == steps[-2].answer.value
    assert all(one is not None and one.deviation > 0.98 * widths[-1] for one in without)


def test_no_evidence_is_the_description() -> None:
    candidate = _story().candidates["blower"]
    fit = machine_of(candidate, ())
    assert not fit.residuals
    assert fit.scaled_covariance.tolist() == np.eye(len(fit.unknowns)).tolist()
    own, described = (operate(one, airspeed=np.array([0.0, 20.0])).net_thrust
                      for one in (fit.candidate, candidate))
    # medians of what is assumed and the nominal values differ by a cut normal spread
    np.testing.assert_allclose(own, described, rtol=1e-4)


def test_pieces_that_agree_are_not_accused() -> None:
    assert disagreements(machine_of(_story().candidates["blower"], _five()), _five()) == ()


def _wrong(factor: float) -> tuple[Piece, ...]:
    pieces = list(_five())
    read = pieces[1].readings
    pieces[1] = replace(pieces[1], readings=replace(read, thrust=factor * read.thrust))
    return tuple(pieces)


def test_a_piece_with_a_wrong_scale_is_named_with_what_would_explain_it() -> None:
    pieces = _wrong(1.12)
    worst = disagreements(machine_of(_story().candidates["blower"], pieces), pieces)[0]
    assert worst.name == "piece 1"
    assert worst.probability < 1e-6
    assert worst.cause.startswith("every thrust of it too high by ")
    said = float(worst.cause.split(" by ")[1].split(" %")[0])
    assert said == pytest.approx(12.0, abs=3.0)


def test_the_closed_form_of_leaving_rows_out_is_what_a_fit_without_them_gives() -> None:
    """Deletion by residuals and leverages against least squares without the rows (Cook and
    Weisberg, 1982, section 2.2), with normal priors, by brute force."""
    random = np.random.default_rng(8)
    slopes, read = random.standard_normal((11, 4)), random.standard_normal(11)
    gone = np.array([2, 5, 6])
    kept = np.setdiff1d(np.arange(11), gone)

    def fitted(rows: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        covariance = np.linalg.inv(slopes[rows].T @ slopes[rows] + np.eye(4))
        return covariance @ slopes[rows].T @ read[rows], covariance

    value, covariance = fitted(kept)
    difference = read[gone] - slopes[gone] @ value
    whole = np.eye(3) + slopes[gone] @ covariance @ slopes[gone].T
    with_all, _ = fitted(np.arange(11))
    fit = SimpleNamespace(jacobian=-slopes, whitened=read - slopes @ with_all)
    assert _deleted(fit, gone) == pytest.approx(  # type: ignore[arg-type]
        difference @ np.linalg.solve(whole, difference), rel=1e-9)


def test_a_log_s_two_thrusts_say_all_that_its_factor_and_slope_do() -> None:
    """Thrusts at two airspeeds, taken as independent, give the log's joint covariance back."""
    candidate = _story().candidates["blower"]
    joint = np.array([[4e-4, 1e-4, 3e-4], [1e-4, 9e-4, -2e-4], [3e-4, -2e-4, 25e-4]])
    log = SimpleNamespace(covariance=joint[:2, :2], joint=joint, scatter=1.3, slope_told=True,
                          thrust_factor=0.93, slope=-0.08, middle=24.0)
    read = read_in_flight(log, candidate)  # type: ignore[arg-type]
    predicted = operate(candidate, airspeed=read.airspeed).net_thrust
    design = np.stack([np.ones(2), read.airspeed / 24.0 - 1.0], axis=1)
    weight = np.diag((predicted / read.spread["thrust"]) ** 2)
    found = np.linalg.inv(design.T @ weight @ design)
    np.testing.assert_allclose(found, 1.3**2 * joint[np.ix_([0, 2], [0, 2])], rtol=1e-9)
    np.testing.assert_allclose(found @ design.T @ weight @ (read.thrust / predicted),
                               [0.93, -0.08], rtol=1e-9)


def test_a_log_without_a_slope_is_one_thrust_and_without_power_none() -> None:
    candidate = _story().candidates["blower"]
    covariance = np.array([[1e-4, 0.0], [0.0, 1e-3]])
    log = SimpleNamespace(covariance=covariance, joint=np.eye(3), scatter=0.5, slope_told=False,
                          thrust_factor=1.1, slope=0.0, middle=20.0)
    read = read_in_flight(log, candidate)  # type: ignore[arg-type]
    assert read.airspeed.tolist() == [20.0]
    assert read.by_log.all()
    predicted = float(operate(candidate, airspeed=np.array([20.0])).net_thrust[0])
    assert read.thrust[0] == pytest.approx(1.1 * predicted, rel=1e-12)
    assert read.spread["thrust"][0] == pytest.approx(0.01 * predicted, rel=1e-12)
    covariance[0, 0] = np.inf
    with pytest.raises(FitError, match="without power"):
        read_in_flight(log, candidate)  # type: ignore[arg-type]


def test_a_machine_s_own_table_counts_as_its_first_bench() -> None:
    told = tl.read_scenario(SCENARIOS / "kitchen_scale.toml").candidates["blower"]
    assert told.known_by is not None
    known = replace(told.known_by, suction=9e3, second_thrust=1.9,
                    second_exit_area=np.pi / 4.0 * 0.02**2, shaft_speed=5e3)
    read = read_at_rest(known)
    assert read.electrical_power[0] == 250.0
    assert read.nozzle_diameter[:2] == pytest.approx([0.024, 0.020])
    assert read.thrust[1] == 1.9
    assert read.suction[2] == 9e3
    assert read.inlet_blocked.tolist() == [False, False, True]
    assert read.voltage.tolist() == [22.2] * 3
    assert len(read_at_rest(replace(told.known_by, voltage=None))) == 1


def test_a_question_that_has_no_answer_falls_back_or_says_so() -> None:
    bare = replace(_story(), airframe=None)
    steps = history(bare, "blower", _five()[:1])
    assert steps[-1].answer.words == "static thrust"
    with pytest.raises(FitError, match="no \\[airframe\\]"):
        history(bare, "blower", _five()[:1], asked="top speed")


@pytest.mark.parametrize("name", ["three_ways_to_push.toml", "kitchen_scale.toml"])
def test_a_propeller_learns_what_its_table_is_off_by(name: str) -> None:
    """Readings of a propeller with a tenth more thrust at the same watts and speed."""
    candidate = tl.read_scenario(SCENARIOS / name).candidates["propeller"]
    speeds = np.array([0.0, 8.0, 16.0])
    true = operate(candidate, airspeed=speeds)
    read = bench_readings(
        thrust=1.1 * candidate.count * true.net_thrust, shaft_speed=true.shaft_speed,
        electrical_power=candidate.count * true.electrical_power, airspeed=speeds,
        units=float(candidate.count), setting=[AS_FLOWN] * 3,
        spread={"thrust": 0.01, "electrical_power": 0.5, "shaft_speed": 1.0, "airspeed": 0.0})
    fit = machine_of(candidate, [Piece(kind=BENCH, name="b", digest="d", date="e", readings=read)])
    learned = operate(fit.candidate, airspeed=speeds)
    gain = fit.values[[one.gain for one in fit.unknowns].index("thrust gain")]
    np.testing.assert_allclose(gain * learned.net_thrust / true.net_thrust, 1.1, atol=0.03)
    widths = dict(zip([one.key for one in fit.unknowns],
                      np.sqrt(np.diag(fit.scaled_covariance)), strict=True))
    assert widths["table.thrust_factor"] < 0.2
    assert {one.key for one in unread(candidate).unknowns} >= {"table.thrust_factor",
                                                              "table.power_factor"}


@pytest.mark.parametrize("name", ["three_ways_to_push.toml", "kitchen_scale.toml"])
def test_factors_that_a_file_gives_a_table_are_where_its_next_fit_starts(name: str) -> None:
    """A propeller with factors of its own is, by no reading at all, what its file says."""
    text = (SCENARIOS / name).read_text(encoding="utf-8")
    table = text.index("[candidates.propeller.table]")
    end = text.index("\n", table)
    told = read_text(f"{text[:end]}\nthrust_factor = 1.08\npower_factor = 0.93{text[end:]}")
    candidate, speeds = told.candidates["propeller"], np.array([0.0, 8.0, 16.0])
    fit = unread(candidate)
    values = dict(zip([one.key for one in fit.unknowns], fit.values, strict=True))
    assert values["table.thrust_factor"] == pytest.approx(1.08, rel=1e-9)
    assert values["table.power_factor"] == pytest.approx(0.93, rel=1e-9)
    own, described, bare = (operate(one, airspeed=speeds).shaft_speed for one in (
        fit.candidate, candidate, tl.read_scenario(SCENARIOS / name).candidates["propeller"]))
    np.testing.assert_allclose(own, described, rtol=2e-4)
    assert np.all(np.abs(bare / described - 1.0) > 2e-3)


def test_a_propeller_has_no_nozzle_to_read() -> None:
    candidate = _story().candidates["propeller"]
    for columns, said in (({"nozzle_diameter": [0.01]}, "nozzle diameter"),
                          ({"inlet_blocked": [True]}, "a blocked inlet or outlet")):
        read = bench_readings(thrust=[1.0], electrical_power=[10.0], shaft_speed=[900.0],
                              **columns)  # type: ignore[arg-type]
        with pytest.raises(FitError, match=said):
            fit_bench(candidate, read)
