"""The numbers of the tutorial, by name, read from what the story's commands wrote.

Every function gives the words and numbers of one chapter. Numbers leave here as people read them,
with their unit, so that the pages hold none.
"""

from __future__ import annotations

import csv
import math
from typing import Any

import numpy as np

import thrustlapse as tl
from tests.tools.documentation.markdown import cell, table
from tests.tools.documentation.ruler_drawing import DESCRIBED
from tests.tools.documentation.story import (
    BENCH,
    DRAWS,
    LOG,
    RINGS,
    SCALE,
    SPREADS,
    STORY,
    SWITCH,
    Story,
    best_nozzle,
)
from thrustlapse.air.atmosphere import standard_air
from thrustlapse.report.bench.table import with_spread
from thrustlapse.report.flight.words import duration, energy
from thrustlapse.report.number_format import (
    GRAM_FORCE,
    area,
    diameter,
    listed,
    newtons,
    number,
    percent,
    short_speed,
    speed,
    times,
)
from thrustlapse.report.uncertainty.register_lines import input_words
from thrustlapse.report.uncertainty.words import between, in_draws
from thrustlapse.study.bench_fit import UNLIKELY
from thrustlapse.study.comparison import ON_AIRFRAME, Comparison, Crossover


def facts(story: Story) -> dict[str, Any]:
    """All chapters, by name."""
    return {"files": {"story": STORY, "bench": BENCH, "log": LOG, "scale": SCALE, "rings": RINGS},
            "scale": scale(story), "readings": readings(story), "fit": fit(story),
            "first": first(story), "nozzle": nozzle(story), "sure": sure(story),
            "flight": flight(story),
            "log": log(story), "verdict": verdict(story), "weeks": weeks(story)}


def scale(story: Story) -> dict[str, Any]:
    """The machine on the kitchen scale."""
    answer = story.answer("out")
    level = answer.candidates["blower"].level
    assert level is not None
    assert answer.uncertainty is not None
    top = answer.uncertainty.candidates["blower"].top_speed
    assert top is not None
    rings = (story.folder / "scenarios" / RINGS).read_text(encoding="utf-8")
    return {"answer": story.said["scale"].split("\nThrust and speed")[0].rstrip(),
            "drawing": DESCRIBED, "switch": SWITCH,
            "rings": "\n".join(rings.splitlines()[1:]),
            "top": speed(level.top_speed), "within": between(top, "m/s")}


def readings(story: Story) -> dict[str, Any]:
    """The first reading by hand, and what the whole bench says."""
    text = (story.folder / "scenarios" / BENCH).read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if not line.startswith("#")]
    rows = [{key.partition(" [")[0]: value for key, value in row.items()}
            for row in csv.DictReader(lines)]
    push, pull = (float(rows[0][f"{name} reading"]) for name in ("push", "pull"))
    volts, amps = (float(rows[0][f"supply {name}"]) for name in ("voltage", "current"))
    thrust = 0.5 * (push + pull) * GRAM_FORCE
    mouth = 0.25 * math.pi * (1e-3 * float(rows[0]["nozzle exit diameter"])) ** 2
    density = float(standard_air(altitude=0.0).density)
    jet = math.sqrt(thrust / (density * mouth))
    shut = next(row for row in rows if row["outlet blocked"])
    return {
        "head": "\n".join([lines[0], *lines[1:4], "..."]), "count": len(rows),
        "push": f"{push:g} gf", "pull": f"{pull:g} gf", "mean": f"{0.5 * (push + pull):g} gf",
        "half": f"{0.5 * (pull - push):g} gf", "thrust": newtons(thrust),
        "friction": newtons(0.5 * (pull - push) * GRAM_FORCE),
        "nozzle": diameter(1e-3 * float(rows[0]["nozzle exit diameter"])),
        "density": f"{number(density)} kg/m³", "jet": short_speed(jet),
        "watts": f"{number(volts * amps)} W", "jet_watts": f"{number(0.5 * thrust * jet)} W",
        "share": percent(0.5 * thrust * jet / (volts * amps)),
        "open_speed": f"{rows[0]['shaft speed']} krpm", "shut_speed": f"{shut['shaft speed']} krpm",
        "open_amps": f"{amps:g} A", "shut_amps": f"{float(shut['supply current']):g} A"}


def fit(story: Story) -> dict[str, Any]:
    """What the bench told of the machine, and what it could not."""
    found = story.record("bench/fit.json")
    spread = np.sqrt(np.diag(np.array(found["covariance"])))
    values = np.array(found["values"])
    answer, following = found["answer"], found["next_readings"]
    rows = [(cell(words), f"`{key}`", cell(with_spread(value, width)), percent(width / value))
            for words, key, value, width in zip(found["words"], found["unknowns"], values, spread,
                                                strict=True)]
    narrow, wide = int(np.argmin(spread / values)), int(np.argmax(spread / values))
    return {
        "table": table(("what was fitted", "key", "value, SI", "share of it"), rows),
        "unknowns": len(values), "surest": found["words"][narrow], "vaguest": found["words"][wide],
        "surest_width": percent(float(spread[narrow] / values[narrow])),
        "vaguest_width": percent(float(spread[wide] / values[wide])),
        "weak": listed(found["combinations"][:2]), "chi": number(found["chi_square"]),
        "freedom": found["freedom"], "chance": percent(found["probability"]),
        "asked": answer["words"],
        "answer": f"{with_spread(answer['value'], 2.0 * answer['deviation'])} m/s",
        "before": short_speed(2.0 * answer["deviation_before"]),
        "narrower": times(answer["deviation_before"] / answer["deviation"]),
        "unlikely": percent(UNLIKELY),
        "next": following[0]["state"] if following else "none",
        "file": _without_covariance((story.folder / "bench" / "blower.toml").read_text("utf-8"))}


def first(story: Story) -> dict[str, Any]:
    """The comparison with the measured blower in it."""
    answer = story.answer("measured")
    told, order = tl.verdict(answer), _by_top(answer)
    as_described = story.as_described
    crossing = _crossing(answer, "blower", "fan")
    slow, fast = order[-1], order[0]
    return {
        "table": _table(answer), "headline": told.headline, "fastest": fast, "slowest": slow,
        "sentences": list(dict(told.groups)["Thrust and speed"]),
        "described": newtons(_rest(as_described, "blower")),
        "measured": newtons(_rest(answer, "blower")),
        "jets": _jets(answer), "crossing": short_speed(crossing.airspeed),
        "threshold": area(float(crossing.drag_area_threshold or math.nan)),
        "drag_area": area(float(answer.drag_area or math.nan)),
        "blower_top": speed(_top(answer, "blower")), "fan_top": speed(_top(answer, "fan")),
        "short_of": times(crossing.airspeed / _top(answer, "blower"))}


def nozzle(story: Story) -> dict[str, Any]:
    """What the blower's exit gives away, and what another would give."""
    before, after = story.answer("measured"), story.answer("whole")
    study = before.candidates["blower"].nozzle
    assert study is not None
    return {
        "old": diameter(study.fixed_diameter), "new": diameter(best_nozzle(before, "blower")),
        "best_rest": diameter(float(study.best_diameter[0])),
        "best_top": diameter(float(study.best_diameter[-1])),
        "top": short_speed(float(study.airspeed[-1])),
        "cost_rest": percent(float(study.cost[0])), "cost_top": percent(float(study.cost[-1])),
        "rest_before": newtons(_rest(before, "blower")),
        "rest_after": newtons(_rest(after, "blower")),
        "top_before": short_speed(_top(before, "blower")),
        "top_after": short_speed(_top(after, "blower")),
        "jet_before": short_speed(_jet(before, "blower")),
        "jet_after": short_speed(_jet(after, "blower")),
        "crossing": short_speed(_crossing(after, "blower", "fan").airspeed),
        "threshold_before": area(float(_crossing(before, "blower", "fan").drag_area_threshold
                                       or math.nan)),
        "threshold_after": area(float(_crossing(after, "blower", "fan").drag_area_threshold
                                      or math.nan))}


def sure(story: Story) -> dict[str, Any]:
    """What the stated spreads make of it."""
    answer = story.answer("whole")
    study = answer.uncertainty
    assert study is not None
    rows = [(name, between(one.static_thrust, "N"),
             "" if one.top_speed is None else between(one.top_speed, "m/s"),
             in_draws(one.fastest)) for name, one in study.candidates.items()]
    lead = next(one for one in study.drivers if one.answer.startswith("top speed of blower"))
    most = max(lead.drivers, key=lambda one: one.total)
    crossing = [one for pair in study.pairs for one in pair.crossovers
                if {one.winner_above, one.winner_below} == {"blower", "fan"}]
    return {
        "draws": DRAWS["samples"], "inputs": len(study.inputs), "left_out": study.left_out,
        "spreads": table(("key", "written"), [
            (f"`{'.'.join(path)}`", f"`{_at(story.scenario('whole.toml'), path)}`")
            for path in SPREADS]),
        "table": table(("candidate", "thrust at rest", "top speed", "the fastest"), rows),
        "driver": input_words(most.key), "of_the_airframe": most.key.startswith("airframe"),
        "share": percent(most.total),
        "crossing": between(crossing[0].airspeed, "m/s") if crossing else "no value",
        "reached": in_draws(crossing[0].reached) if crossing else "in no draw",
        "sentences": list(dict(tl.verdict(answer).groups)["How sure that is"])}


def flight(story: Story) -> dict[str, Any]:
    """What the flown course shows that level flight does not."""
    answer = story.answer("whole")
    study = answer.flights
    assert study is not None
    rows = [(name, duration(one.near_top_time), energy(one.energy), duration(one.time),
             percent(one.state_of_charge), "yes" if one.completed else cell(one.reason))
            for name, one in study.flights.items()]
    least = min(study.flights, key=lambda name: study.flights[name].energy)
    most = max(study.flights, key=lambda name: study.flights[name].energy)
    miss = max(one.books_miss for one in study.flights.values())
    return {
        "legs": listed(str(leg["kind"]) for leg in story.scenario("whole.toml")["flight"]["legs"]),
        "table": table(("candidate", "near top speed after", "energy of the whole course",
                        "its time", "charge left", "flown to the end"), rows),
        "thriftiest": least, "hungriest": most,
        "least": energy(study.flights[least].energy), "most": energy(study.flights[most].energy),
        "times": times(study.flights[most].energy / study.flights[least].energy),
        "books": f"one part in {number(1e-6 / miss, 2)} million",
        "passing": "" if study.passing_speed is None else short_speed(study.passing_speed)}


def log(story: Story) -> dict[str, Any]:
    """What a flown log says about the prediction."""
    found = story.record("log/log.json")
    thrust_width, drag_width = np.sqrt(np.diag(np.array(found["covariance"])))
    return {
        "headline": found["headline"], "points": len(found["time_s"]),
        "thrust": f"{with_spread(found['thrust_factor'], float(thrust_width))}",
        "drag": f"{with_spread(found['drag_factor'], float(drag_width))}",
        "correlation": number(found["correlation"]),
        "assumed": area(found["drag_area_m2"]),
        "area": area(found["drag_area_m2"] * found["drag_factor"]),
        "predicted": short_speed(found["top_speed_m_s"]),
        "explained": short_speed(found["explained_top_speed_m_s"]),
        "old": f"{_at(story.scenario('whole.toml'), ('airframe', 'minimum_drag_coefficient'))}",
        "new": f"{_at(story.scenario('flown.toml'), ('airframe', 'minimum_drag_coefficient'))}"}


def verdict(story: Story) -> dict[str, Any]:
    """The last answer, and how far it is from the first."""
    answer = story.answer("flown")
    told, order = tl.verdict(answer), _by_top(answer)
    ranks = [one.rank for one in answer.findings]
    as_described = story.as_described
    crossing = _crossing(answer, "blower", "fan")
    return {
        "headline": told.headline, "groups": [(title, list(lines)) for title, lines in told.groups],
        "fastest": order[0], "table": _table(answer),
        "steps": table(("candidate", "as described", "measured", "after the flight"), [
            (name, *(short_speed(_top(one, name))
                     for one in (as_described, story.answer("measured"), answer)))
            for name in answer.candidates]),
        "stops": ranks.count("stop"), "checks": ranks.count("check"), "notes": ranks.count("note"),
        "crossing": short_speed(crossing.airspeed),
        "blower_top": short_speed(_top(answer, "blower")),
        "threshold": area(float(crossing.drag_area_threshold or math.nan)),
        "drag_area": area(float(answer.drag_area or math.nan))}


def weeks(story: Story) -> dict[str, Any]:
    """What each piece of evidence changed, and what to do next."""
    found, asked = story.record("weeks/history.json"), story.record("asked/next.json")
    first, last = found["steps"][0], found["steps"][-1]
    best = asked["experiments"][0]
    return {
        "headline": found["headline"], "asked": asked["headline"],
        "settled": story.record("settled/next.json")["headline"],
        "narrower": times(first["deviation"] / last["deviation"]),
        "best": best["name"], "chance": percent(best["expected_chance_settled"]),
        "pieces": len(found["steps"]) - 1,
        "table": table(("counted so far, with", "date", f"{found['answer']} [{found['unit']}]"), [
            ("the description alone" if one["piece"] is None else
             f"{one['piece']['name']} ({one['piece']['kind']})",
             "" if one["piece"] is None else one["piece"]["date"],
             with_spread(one["value"], one["deviation"])) for one in found["steps"]])}


# Small readings of a comparison -------------------------------------------------------------------


def _rest(answer: Comparison, name: str) -> float:
    return float(answer.candidates[name].at_rest.installed_thrust)


def _jet(answer: Comparison, name: str) -> float:
    return float(answer.candidates[name].at_rest.jet_speed)


def _jets(answer: Comparison) -> str:
    return listed(f"{name} {short_speed(_jet(answer, name))}" for name in answer.candidates)


def _top(answer: Comparison, name: str) -> float:
    level = answer.candidates[name].level
    return math.nan if level is None else float(level.top_speed)


def _by_top(answer: Comparison) -> list[str]:
    return sorted(answer.candidates, key=lambda name: -_top(answer, name))


def _crossing(answer: Comparison, one: str, other: str) -> Crossover:
    """The crossover of two candidates on this airframe."""
    return next(found for found in answer.crossovers
                if found.kind == ON_AIRFRAME and set(found.between) == {one, other})


def _table(answer: Comparison) -> str:
    head = ("candidate", "thrust at rest", "jet speed at rest", "top speed", "thrust there")
    return table(head, [
        (name, newtons(_rest(answer, name)), short_speed(_jet(answer, name)),
         speed(_top(answer, name)),
         "" if one.at_top is None else newtons(float(one.at_top.installed_thrust)))
        for name, one in answer.candidates.items()])


def _without_covariance(text: str) -> str:
    """A fitted candidate's file, its long matrix cut short."""
    short = "# covariance = ... a row for each unknown, cut short here"
    return "\n".join(short if line.startswith("covariance") else line
                     for line in text.splitlines())


def _at(scenario: Any, path: tuple[str, ...]) -> str:
    for step in path:
        scenario = scenario[step]
    return str(scenario)
