"""How sure we are, in words: shares as draws in a hundred, intervals."""

from __future__ import annotations

import math
from collections.abc import Mapping

from thrustlapse.report.number_format import area, listed, newtons, number, short_speed
from thrustlapse.report.uncertainty.register_lines import input_words
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.leaning import LEANING
from thrustlapse.study.uncertainty_results import (
    Chance,
    Interval,
    UncertainCandidate,
    UncertaintyStudy,
)


def in_hundred(one: Chance) -> str:
    """A share as draws in a hundred: ``93 of 100``; a share near the ends is not rounded to them.
    """
    percent = 100.0 * one.share
    if one.share in (0.0, 1.0):
        return "none" if one.share == 0.0 else "all"
    if percent < 1.0 or percent > 99.0:
        return "fewer than 1 of 100" if percent < 1.0 else "more than 99 of 100"
    return f"{percent:.0f} of 100"


def in_draws(one: Chance) -> str:
    """The same within a sentence: ``in 93 of 100 draws``."""
    words = in_hundred(one)
    return {"none": "in no draw", "all": "in every draw"}.get(words, f"in {words} draws")


def between(one: Interval, unit: str) -> str:
    """An interval: ``40.9 to 47.8 m/s``; the unit is m/s, N or cm^2."""
    if one.known == 0.0:
        return "no value"
    show = {"m/s": short_speed, "N": newtons, "cm^2": area}[unit]
    low, high = show(one.low), show(one.high)
    return f"{low.rsplit(' ', 1)[0]} to {high}"


def ends_error(one: Interval) -> float:
    """The larger standard error of an interval's two ends."""
    return max(one.low_error, one.high_error)


def sure_sentences(comparison: Comparison) -> list[str]:
    """The verdict's sentences about chances; nothing where nothing was drawn."""
    study = comparison.uncertainty
    if study is None:
        return []
    said = [_who_wins(study, comparison), _left_out(study)]
    said += _speeds(study) + _crossings(study) + _driver(study) + _more(study) + _leaning(study)
    said += [f"{name}: the limit of {limit} is broken {in_draws(share)}"
             for name, one in study.candidates.items() for limit, share in one.stops.items()]
    return [text for text in said if text]


def sure_of_fastest(comparison: Comparison, name: str) -> str:
    """For the headline: how often the candidate that is fastest on paper is; empty without draws.
    """
    study = comparison.uncertainty
    if study is None or len(study.candidates) == 1:
        return ""
    return f" ({in_draws(study.candidates[name].fastest)} of what is not known exactly)"


def _who_wins(study: UncertaintyStudy, comparison: Comparison) -> str:
    count = len(study.inputs)
    about = (f"With {count} inputs drawn within their spreads, {study.samples} times" if count > 1
             else f"With one input drawn within its spread, {study.samples} times")
    if len(study.candidates) == 1:
        (name, only), = study.candidates.items()
        return f"{about}, {name} makes {between(only.static_thrust, 'N')} at rest in nine of ten"
    rest = [f"{name} {in_draws(one.most_at_rest)}" for name, one in _ranked(study, "most_at_rest")]
    text = f"{about}, the most at rest is that of {listed(rest)}"
    if comparison.drag_area is None:
        return text
    fast = [f"{name} {in_draws(one.fastest)}" for name, one in _ranked(study, "fastest")]
    return f"{text}; the fastest is {listed(fast)}" if fast else text


def _left_out(study: UncertaintyStudy) -> str:
    if not study.left_out:
        return ""
    return (f"{study.left_out} of the {study.samples} draws are left out of these shares: a map or "
            "table drawn within its band would have given more than it takes, or no machine of its "
            "kind would have met its readings")


def _ranked(study: UncertaintyStudy, what: str) -> list[tuple[str, UncertainCandidate]]:
    order = sorted(study.candidates.items(), key=lambda pair: -getattr(pair[1], what).share)
    return [(name, one) for name, one in order if getattr(one, what).share > 0.0]


def _speeds(study: UncertaintyStudy) -> list[str]:
    known = [f"{name} {between(one.top_speed, 'm/s')}" for name, one in study.candidates.items()
             if one.top_speed is not None and one.top_speed.known > 0.0]
    if not known:
        return []
    missing = [f"{name} {in_draws(Chance(share=1.0 - one.top_speed.known, error=0.0))}"
               for name, one in study.candidates.items()
               if one.top_speed is not None and one.top_speed.known < 1.0]
    less = f"; no top speed: {listed(missing)}" if missing else ""
    return [f"Nine top speeds in ten lie within: {listed(known)}{less}"]


def _crossings(study: UncertaintyStudy) -> list[str]:
    said = []
    for pair in study.pairs:
        for one in pair.crossovers:
            beyond = (f"; the aircraft gets there {in_draws(one.reached)}"
                      if one.drag_area_threshold.known > 0.0 else "")
            said.append((one.exists.share, f"{one.winner_above} overtakes {one.winner_below} with "
                         f"thrust left {in_draws(one.exists)}, nine times in ten between "
                         f"{between(one.airspeed, 'm/s').replace(' to ', ' and ')}{beyond}"))
    return [text for _, text in sorted(said, reverse=True)[:3]]


def _driver(study: UncertaintyStudy) -> list[str]:
    answers = [one for one in study.drivers if one.answer.startswith("lead in")] or [
        one for one in study.drivers if one.answer.startswith("top speed")] or list(study.drivers)
    if not answers:
        return []
    first, answer = answers[0].drivers[0], answers[0].answer
    return [f"What drives the {answer} most is {input_words(first.key)}: with all else known, "
            f"{number(100.0 * min(max(first.total, 0.0), 1.0), 2)} % of its variance would stay"]


LEANS = 0.25
"""Share of such a difference that inputs must make each by itself to be named as its causes."""


def _more(study: UncertaintyStudy) -> list[str]:
    """What one more reading of a machine known by readings would buy."""
    found = []
    for name in dict.fromkeys(one.candidate for one in study.readings):
        those = [one for one in study.readings if one.candidate == name]
        first = those[0]
        count = f"{first.count} reading{'s' if first.count != 1 else ''}"
        buys = ", ".join(f"{100.0 * one.left:.2g} % with {one.reading}" for one in those
                         if one.left < WORTH * one.deviation)
        found.append(
            f"{name} is known by {count}: its thrust at {short_speed(first.airspeed)} is known to "
            f"± {100.0 * first.deviation:.2g} % (one standard deviation); one more reading would "
            + (f"leave {buys}" if buys else "hardly narrow that"))
    return found


WORTH = 0.95
"""Share of a deviation that a reading may leave and still be told of."""


BY_CHANCE = 4.53
"""Standard errors within which such a difference may be chance: what three of a known normal error
hold (99.73 %), by Student's t of seven degrees of freedom, for eight scrambles tell the error
itself to a quarter only, and of many airspeeds the worst is told."""


def _leaning(study: UncertaintyStudy) -> list[str]:
    """Where the middle of the draws is not the value without them, and what makes it so."""
    said = []
    for name, one in study.leanings.items():
        if abs(one.away) > LEANING:
            begins = ("" if one.begins == one.airspeed else
                      f"by more than {100.0 * LEANING:.0f} % from "
                      f"{short_speed(one.begins) if one.begins else 'rest'} on, ")
            most = "" if one.begins == one.airspeed else "most "
            at = f"{most}at {short_speed(one.airspeed)}" if one.airspeed else f"{most}at rest"
            said.append(_lean(f"{name}: half of the draws lie {_side(one.away)} the thrust without "
                              f"draws, {begins}{at} by {_percent(one.away)}", study.samples,
                              away=one.away, error=one.error, causes=one.causes))
    for each in study.drivers:
        what, _, name = each.answer.partition(" of ")
        if what != "top speed" or name not in study.candidates:
            continue  # the lead of one candidate over another
        found = study.candidates[name].top_speed
        assert found is not None  # a top speed has drivers
        away = found.median / each.nominal - 1.0
        if abs(away) > LEANING:
            said.append(_lean(f"{name}: half of the draws lie {_side(away)} the top speed without "
                              f"draws, by {_percent(away)}", study.samples, away=away,
                              error=found.median_error / each.nominal,
                              causes={cause.key: cause.lean / each.nominal
                                      for cause in each.drivers if math.isfinite(cause.lean)}))
    return said


def _side(away: float) -> str:
    return "below" if away < 0.0 else "above"


def _percent(share: float) -> str:
    return f"{number(100.0 * abs(share), 2)} %"


def _lean(start: str, samples: int, *, away: float, error: float,
          causes: Mapping[str, float]) -> str:
    """A sentence that begins with what the middle of the draws does, with its cause."""
    total = sum(causes.values())
    if abs(away) <= BY_CHANCE * error:
        return f"{start}, which is no more than the error of {samples} draws"
    if total / away <= LEANS:
        return f"{start}; no single input explains it, several off together do"
    less, more = ("takes", "gives") if away < 0.0 else ("gives", "takes")
    most = sorted((name for name, lean in causes.items() if lean / away > 0.0),
                  key=lambda name: -abs(causes[name]))[:2]
    return (f"{start}: an error one way {less} more than the same error the other way {more}, "
            f"{_percent(total)} on average, most by {listed([input_words(one) for one in most])}")
