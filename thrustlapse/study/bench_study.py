"""Everything a bench report shows: the fit, its curves, the answer and the next reading."""

from __future__ import annotations

from dataclasses import dataclass

from thrustlapse.bench.readings import BenchReadings
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.bench_curves import MapCurve, SettingCurve, map_curve, setting_curves
from thrustlapse.study.bench_fit import UNLIKELY, FitError, FittedMachine, fit_bench
from thrustlapse.study.experiment_design import (
    STATIC,
    TOP,
    Answer,
    NextReading,
    bench_answer,
    next_readings,
)
from thrustlapse.study.scenario_like import ScenarioLike


@dataclass(frozen=True, kw_only=True)
class BenchStudy:
    """One candidate on the bench, fitted and asked; ``instead`` says why another question than
    the usual one is answered."""

    name: str
    fit: FittedMachine
    settings: tuple[SettingCurve, ...]
    map: MapCurve
    answer: Answer
    following: tuple[NextReading, ...]
    instead: str = ""

    @property
    def contradiction(self) -> str:
        """Why the fit answers nothing: its readings and the model contradict each other; or ""."""
        one = self.fit
        if one.probability >= UNLIKELY or one.robust:
            return ""
        return (f"the readings do not fit together, or not the model (chi-square "
                f"{one.chi_square:.0f}, about {one.freedom} expected)")


def study_bench(scenario: ScenarioLike, name: str, readings: BenchReadings, *,
                chosen: tuple[str, ...] | None = None, asked: str = "", airspeed: float = 0.0,
                rival: str = "") -> BenchStudy:
    """Fit a candidate and answer the question asked; where none is, top speed, or static thrust
    where the scenario's aircraft has no top speed.

    Raises
    ------
    FitError
        Readings that cannot be fitted, or an answer the scenario does not have.
    """
    if not isinstance(scenario.candidates[name].unit, Ducted):
        raise FitError(f"{name} is an open rotor, and a bench report is of a machine with a "
                       "nozzle: give its readings to thrustlapse evidence add")
    fit = fit_bench(scenario.candidates[name], readings, chosen=chosen)
    wanted = asked or (STATIC if scenario.airframe is None else TOP)
    instead = ""
    try:
        found = bench_answer(scenario, name, fit, wanted, airspeed=airspeed, rival=rival)
    except FitError as error:
        if asked:
            raise
        instead = f"static thrust is told in place of the top speed ({error})"
        found = bench_answer(scenario, name, fit, STATIC)
    return BenchStudy(name=name, fit=fit, settings=setting_curves(fit), map=map_curve(fit),
                      answer=found, following=next_readings(fit, found), instead=instead)
