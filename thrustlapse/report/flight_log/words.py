"""What a flight log says, in sentences: for the terminal and for the page."""

from __future__ import annotations

import math

import numpy as np

from thrustlapse.report.number_format import amount, area, number, sentence, short_speed, speed
from thrustlapse.report.table import Table
from thrustlapse.study.log_study import LogStudy

HONEST = 1.5
"""Scatter of the readings over their stated deviations from which it is told (judgement)."""

BELIEVED = (0.7, 1.4)
"""Factors outside which a wrong input is likelier than so wrong a prediction (judgement)."""

EQUAL = 2.0
"""Deviations within which a factor counts as one."""


def headline(study: LogStudy) -> str:
    """One sentence that answers: was the prediction right?"""
    found = study.reduction
    thrust, drag = _deviations(study)
    if not found.separable and math.isfinite(thrust):
        return sentence("the log cannot tell thrust from drag: only what they give together is "
                        "known, " + _top(study))
    said = []
    if math.isfinite(thrust):
        said.append(_compared("thrust", found.thrust_factor, thrust))
    said.append(_compared("parasite drag", found.drag_factor, drag))
    return sentence(f"in flight {' and '.join(said)}; {_top(study)}")


def sentences(study: LogStudy) -> list[str]:
    """What else the log says, and what it does not."""
    found, said = study.reduction, []
    thrust, drag = _deviations(study)
    if math.isfinite(thrust):
        said.append(f"Thrust factor {_with(found.thrust_factor, thrust)}, drag factor "
                    f"{_with(found.drag_factor, drag)} (one standard deviation), correlation "
                    f"{number(found.correlation, 2)}")
    else:
        said.append(f"Drag factor {_with(found.drag_factor, drag)} (one standard deviation)")
    said += _doubts(study)
    said.append(_lapse(study))
    said.append(found.wind.note[:1].upper() + found.wind.note[1:])
    said.append(_level_run(study))
    said.append(f"Parasite drag area of the airframe {area(study.drag_area)} as the scenario says, "
                f"{area(found.drag_factor * study.drag_area)} by the log")
    said.append(found.note[:1].upper() + found.note[1:])
    if found.scatter > HONEST:
        said.append(f"The readings scatter {number(found.scatter, 2)} times as much as they state: "
                    "wind, turns or a wrong mass; the deviations above are widened by that")
    said += [text[:1].upper() + text[1:] for text in study.log.told]
    calibrated = "" if found.wind.known else "the airspeed sensor, "
    turns = ("" if study.log.load_factor is not None or study.log.bank is not None else
             "that turns were flat (neither bank nor load factor is logged; banked turns look like "
             "more drag), ")
    said.append(f"Taken for granted: the mass, {calibrated}{turns}air that neither rises nor sinks "
                "nor changes its wind, the lift-dependent drag, the machine's own external drag, "
                "and that the pack's power at each moment is what was logged")
    return [sentence(text) for text in said]


def _doubts(study: LogStudy) -> list[str]:
    """What is said of a factor that nobody should believe."""
    found = study.reduction
    low, high = BELIEVED
    wrong = [(name, factor, causes) for name, factor, causes in (
        ("thrust", found.thrust_factor,
         "another propeller, motor or pack than the scenario's, or a current sensor that is off"),
        ("drag", found.drag_factor,
         "the mass, the wing area, banked turns, or an airspeed that is not true airspeed"))
        if not low <= factor <= high]
    return [f"A {name} factor of {number(factor)} is doubtful: outside {low:g} to {high:g} a wrong "
            f"input is likelier than so wrong a prediction. Check {causes}"
            for name, factor, causes in wrong]


def _lapse(study: LogStudy) -> str:
    """What the log says of the change of thrust with airspeed."""
    found = study.reduction
    if not found.slope_told:
        return ("The log cannot test the thrust lapse: how the thrust factor changes with airspeed "
                "is taken as none. Stretches with power at well different airspeeds, and glides at "
                "the same, would tell it")
    ratio, deviation = found.lapse()
    slow, fast = found.powered
    verdict = ("as predicted within its error" if abs(ratio - 1.0) <= EQUAL * deviation else
               f"{'less' if ratio > 1.0 else 'more'} lapse than predicted")
    return (f"Thrust lapse from {short_speed(slow)} to {short_speed(fast)}: the thrust that is "
            f"left is {_with(ratio, deviation)} times what was predicted, {verdict}")


def _level_run(study: LogStudy) -> str:
    run = study.reduction.level_run
    if run is None:
        return ("The log holds no steady level run at full power of five seconds or more, so it "
                "tells no top speed; what is given follows from the model with these factors")
    return (f"Steady and level at full power from {number(run.start)} to {number(run.end)} s: "
            f"{speed(run.airspeed)}")


def factor_table(study: LogStudy) -> Table:
    """Both factors and the top speed, predicted and explained."""
    found = study.reduction
    thrust, drag = _deviations(study)
    rows = []
    if math.isfinite(thrust):
        rows.append((f"net thrust at {short_speed(found.middle)}", "1",
                     number(found.thrust_factor), number(thrust, 2)))
    if found.slope_told:
        ratio, deviation = found.lapse()
        rows.append((f"thrust at {short_speed(found.powered[1])} over that at "
                     f"{short_speed(found.powered[0])}", "1", number(ratio), number(deviation, 2)))
    rows += [("parasite drag", "1", number(found.drag_factor), number(drag, 2)),
             ("top speed, computed", short_speed(study.top_speed),
              short_speed(study.explained_top_speed),
              amount("top_speed", study.top_speed_deviation, 2))]
    return Table(name="factors", caption="What multiplies the prediction, and where that leads",
                 heads=("", "predicted", "by the log", "standard deviation"), rows=tuple(rows))


def log_lines(study: LogStudy) -> list[str]:
    """The answer on a terminal."""
    return [headline(study), "", *(f"- {text}" for text in sentences(study))]


def _deviations(study: LogStudy) -> tuple[float, float]:
    with np.errstate(invalid="ignore"):
        thrust, drag = np.sqrt(np.diag(study.reduction.widened))
    return float(thrust), float(drag)


def _compared(what: str, factor: float, deviation: float) -> str:
    if abs(factor - 1.0) <= EQUAL * deviation:
        return f"{what} is as predicted within {100.0 * EQUAL * deviation:.0f} %"
    more = "above" if factor > 1.0 else "below"
    return f"{what} is {100.0 * abs(factor - 1.0):.0f} % {more} the prediction"


def _with(factor: float, deviation: float) -> str:
    return f"{number(factor)} ± {number(deviation, 2)}"


def _top(study: LogStudy) -> str:
    if not math.isfinite(study.explained_top_speed):
        return "no level top speed follows from it"
    if study.reduction.level_run is None:
        return ("it tells no top speed, as it holds no steady level run at full power (the model "
                f"with these factors would reach {speed(study.explained_top_speed)})")
    if not math.isfinite(study.top_speed):
        return f"by it the top speed is {speed(study.explained_top_speed)}"
    return (f"by it the top speed is {speed(study.explained_top_speed)}, where "
            f"{short_speed(study.top_speed)} was predicted")
