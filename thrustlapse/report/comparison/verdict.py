"""The verdict in plain words, composed only from a comparison's numbers.

Each function turns one part of a comparison into sentences, and says nothing where there is nothing
to say; :func:`verdict` puts them in order. A statement is about the builds of one scenario, never
about blowers or propellers in general.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from thrustlapse.glossary import unit_text
from thrustlapse.propulsor.basis import measure_display, measure_unit
from thrustlapse.report.aircraft.verdict import aircraft_sentences
from thrustlapse.report.articles import with_articles
from thrustlapse.report.comparison.break_even import break_even_sentences
from thrustlapse.report.comparison.ranking import (
    Stretch,
    airframe_crossings,
    installed_crossings,
    known_to,
    leads,
    short_at_rest,
    short_at_top,
    static_order,
    tops,
)
from thrustlapse.report.comparison.remembered import remembered
from thrustlapse.report.flight.verdict import (
    crossing_sentences,
    flip_sentences,
    nearest_threat,
    overtaken,
    top_speed_sentences,
)
from thrustlapse.report.flight.words import flight_sentences
from thrustlapse.report.machine.verdict import (
    drive_sentences,
    footing_sentences,
    note_sentences,
    nozzle_sentences,
)
from thrustlapse.report.number_format import (
    force,
    listed,
    number,
    sentence,
    short_speed,
    speed,
    times,
)
from thrustlapse.report.uncertainty.words import sure_of_fastest, sure_sentences
from thrustlapse.study.comparison import Comparison

TIE = 0.05
"""Relative difference of thrust below which two count as equal (judgement: no input of a small
machine is known better than that without a bench)."""

TIE_SPEED = 0.03
"""The same for speeds, which go about with the square root of thrust."""


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """A headline, a sentence to remember, and the sentences that bear them out by subject, most
    important first. The second may be empty."""

    headline: str
    remember: str
    groups: tuple[tuple[str, tuple[str, ...]], ...]

    @property
    def sentences(self) -> tuple[str, ...]:
        """All sentences in order."""
        return tuple(text for _, texts in self.groups for text in texts)


def verdict(comparison: Comparison) -> Verdict:
    """The verdict of a comparison.

    Returns
    -------
    Verdict
        Who has most thrust at rest and at speed, whether the airframe gets where the order
        changes, what would flip the order, nozzles, drive limits, and what qualifies all this.
    """
    groups = {
        "Thrust and speed": (short_sentences, stop_sentences, rest_sentences, lead_sentences,
                             top_speed_sentences, crossing_sentences, flip_sentences),
        "What it would take": (break_even_sentences,),
        "How sure that is": (sure_sentences,),
        "The aircraft": (aircraft_sentences, flight_sentences),
        "Nozzle, shaft and footing": (nozzle_sentences, drive_sentences, footing_sentences),
        "Read it with care": (note_sentences, caveat_sentences)}
    told = {title: tuple(sentence(with_articles(text, comparison.candidates))
                         for part in parts for text in part(comparison))
            for title, parts in groups.items()}
    first = "; ".join([headline(comparison), *_short_words(comparison)])
    return Verdict(headline=sentence(with_articles(first, comparison.candidates)),
                   remember=remembered(comparison),
                   groups=tuple((title, texts) for title, texts in told.items() if texts))


def compared(comparison: Comparison) -> str:
    """What the footing compares, in words."""
    return {"N": "installed thrust", "N/kg": "installed thrust per installed mass"}.get(
        measure_unit(comparison.footing), "installed thrust per frontal area")


def measured(comparison: Comparison, value: float) -> str:
    """A value of what the footing compares, with its unit."""
    unit, factor = measure_display(comparison.footing)
    return force(value) if unit == "N" else f"{number(factor * value)} {unit_text(unit)}"


# Headline ----------------------------------------------------------------------------------------


def headline(comparison: Comparison) -> str:
    """One sentence that answers: who wins, where, and does this aircraft get there?"""
    order = static_order(comparison)
    if not (order or short_at_rest(comparison) or tops(comparison)):
        return "Nothing is known of any candidate at rest: see the findings"
    if len(comparison.candidates) == 1:
        return _alone(comparison)
    if comparison.drag_area is None:
        return _without_airframe(comparison)
    if not tops(comparison):
        return (f"Level flight is impossible with any of these: "
                f"{listed(comparison.candidates)}")
    return _flying(comparison) + sure_of_fastest(comparison, tops(comparison)[0].name)


def _alone(comparison: Comparison) -> str:
    (name, result), = comparison.candidates.items()
    thrust = f"{name} makes {force(result.at_rest.installed_thrust.item())} at rest"
    if comparison.drag_area is None:
        return thrust
    flying = tops(comparison)
    if not flying:
        return f"{thrust}, but level flight is impossible with it"
    return f"{thrust} and flies level at {_fast(flying[0].speed, flying[0].least)}"


def _fast(value: float, least: bool) -> str:
    return f"{'at least ' if least else ''}{speed(value)}"


def _without_airframe(comparison: Comparison) -> str:
    stretches = [one for one in leads(comparison) if one.name is not None]
    what = compared(comparison)
    if not stretches:
        return _no_pull(comparison)
    if len(stretches) == 1:
        only = stretches[0]
        return (f"{only.name} has the most {what} from {short_speed(only.start)} to "
                f"{short_speed(only.stop)}, as far as anything makes thrust")
    last, before = stretches[-1], stretches[-2]
    if last.ended is not None:
        return (f"{before.name} has the most {what} up to {short_speed(last.start)}, where its "
                f"data ends; beyond that {last.name} leads what is known")
    return (f"{last.name} beats {before.name} in {what} above {speed(last.start)}; without an "
            "airframe nobody can say whether an aircraft gets there")


def _no_pull(comparison: Comparison) -> str:
    """What to say where nobody leads: some may pull, on less than the power all are held to."""
    drawn = " on that power" if _pull_short(comparison, float("-inf")) else ""
    return f"No candidate makes thrust{drawn} at any airspeed asked for"


def _pull_short(comparison: Comparison, above: float) -> bool:
    """Whether anything pulls above an airspeed on less than the power all are held to."""
    return any(np.any((comparison.airspeed > above) & (result.short_of_reference > 0.0)
                      & (result.measure > 0.0)) for result in comparison.candidates.values())


def _flying(comparison: Comparison) -> str:
    short = {one.name for one in short_at_top(comparison)}
    every, order = tops(comparison), static_order(comparison)
    flying = [top for top in every if top.name not in short] or every
    best = flying[0]
    if len(flying) > 1 and not (best.least or flying[1].least) \
            and best.speed - flying[1].speed < TIE_SPEED * best.speed:
        rival = flying[1]
        return (f"{best.name} and {rival.name} are practically as fast on this airframe: "
                f"{short_speed(best.speed)} and {short_speed(rival.speed)}")
    reach = _fast(best.speed, best.least)
    unknown = [top for top in flying if top.least]
    if unknown:  # it may be faster than the fastest that is known
        rest = listed([f"{top.name} is still gaining at {short_speed(top.speed)}, as far as it is "
                       "known or looked at" for top in unknown])
        return f"{best.name} is the fastest of what is known on this airframe, {reach}; {rest}"
    if best.name in short:
        return (f"none draws the power all are held to at its top speed; {best.name} is the "
                f"fastest as it is, {reach}")
    if not order:
        return f"{best.name} is the fastest on this airframe, {reach}"
    strongest = order[0][0]
    passed, threat = overtaken(comparison, best), nearest_threat(comparison, best)
    if strongest != best.name:
        pulls = f"{strongest} has the most {compared(comparison)} at rest"
        if passed is not None:
            return (f"{best.name} wins: it flies level at {reach}, beyond the "
                    f"{short_speed(passed.airspeed)} at which it overtakes "
                    f"{passed.winner_below}; {pulls}")
        return f"{best.name} is the fastest on this airframe, {reach}; {pulls}"
    if threat is not None:
        return (f"{threat.winner_above} would overtake {best.name} at {speed(threat.airspeed)}, "
                f"but nothing here gets there: {best.name} is the fastest, {reach}")
    return (f"{best.name} wins at rest and at speed: most {compared(comparison)} at rest, and the "
            f"fastest on this airframe, {reach}")


# Sentences ---------------------------------------------------------------------------------------


def short_sentences(comparison: Comparison) -> list[str]:
    """Who does not draw the power all are held to, and is not ranked as if it did."""
    return [f"{text}: it is not ranked there as if it did, and no crossover is given where it "
            "falls short" for text in _short_words(comparison)]


def _short_words(comparison: Comparison) -> list[str]:
    if len(comparison.candidates) == 1:
        return []
    rest = {one.name: one for one in short_at_rest(comparison)}
    said = [f"{one.name} draws only {number(one.drawn)} W of the {number(one.wanted)} W at rest"
            for one in rest.values()]
    return said + [f"{one.name} draws only {number(one.drawn)} W of the {number(one.wanted)} W at "
                   "its top speed" for one in short_at_top(comparison) if one.name not in rest]


def stop_sentences(comparison: Comparison) -> list[str]:
    """How many findings forbid running it like this."""
    stops = [finding.subject for finding in comparison.findings if finding.rank == "stop"]
    if not stops:
        return []
    about = listed(dict.fromkeys(stops))
    many = "One finding says stop" if len(stops) == 1 else f"{len(stops)} findings say stop"
    return [f"{many} ({about}): settle that before anything is run"]


def rest_sentences(comparison: Comparison) -> list[str]:
    """Who has most thrust at rest, and by how much."""
    order = static_order(comparison)
    short = {one.name for one in short_at_rest(comparison)}
    unknown = [name for name in comparison.candidates if name not in dict(order)
               and name not in short]
    said = []
    if len(comparison.candidates) == 1 and order:
        return []  # the headline has it
    if len(order) == 1:
        said.append(f"At rest {order[0][0]} makes {measured(comparison, order[0][1])}")
    elif order:
        (best, most), (second, next_most) = order[0], order[1]
        rest = [f"{name} has {measured(comparison, value)}" for name, value in order[1:]]
        ratio = (f", {times(most / next_most)} as much as {second}"
                 if next_most > 0.0 and most > (1.0 + TIE) * next_most else "")
        tie = (f"; {best} and {second} are equal within {100 * TIE:.0f} %"
               if most > 0.0 and most - next_most <= TIE * most else "")
        said.append(f"At rest {best} makes the most {compared(comparison)}, "
                    f"{measured(comparison, most)}{ratio}; {listed(rest)}{tie}")
    if unknown:
        said.append(f"Nothing is known at rest of {listed(unknown)}")
    return said


def lead_sentences(comparison: Comparison) -> list[str]:
    """Who leads at which airspeed, on the footing, and where nobody pulls."""
    if len(comparison.candidates) == 1 or comparison.airspeed.size == 1:
        return _single_speed(comparison)
    stretches = leads(comparison)
    pulling = [one for one in stretches if one.name is not None]
    footing = f"Basis of comparison: {_footing(comparison)}"
    if not pulling:
        return [f"{footing}. {_no_pull(comparison)}"]
    text = _led(pulling[0])
    if len(pulling) > 1:
        text += "; then " + ", then ".join(
            f"{one.name} up to {short_speed(one.stop)}" for one in pulling[1:])
    if stretches[-1].name is None:
        last = stretches[-1].start
        drawn = _pull_short(comparison, last)
        text += (f"; beyond {short_speed(last)} no candidate makes thrust"
                 f"{' on that power' if drawn else ''}")
    said = [f"{footing}. In {compared(comparison)}, {text}"]
    if not any(one.net_thrust > 0.0 for one in installed_crossings(comparison)):
        low, high = short_speed(float(comparison.airspeed[0])), short_speed(_searched(comparison))
        said.append(f"No candidate overtakes another while both pull, between {low} and {high}")
    short = [f"{name} beyond {short_speed(known_to(comparison, name))}"
             for name in comparison.candidates
             if known_to(comparison, name) < float(comparison.airspeed[-1])]
    if short:
        said.append(f"Nothing is known of {listed(short)}: its map, table or pack ends there, and "
                    "no claim is made")
    return said


def _single_speed(comparison: Comparison) -> list[str]:
    if len(comparison.candidates) == 1:
        return []
    airspeed = short_speed(float(comparison.airspeed[0]))
    known = sorted(((name, float(result.measure[0]))
                    for name, result in comparison.candidates.items()
                    if np.isfinite(result.measure[0])), key=lambda pair: -pair[1])
    if not known:
        return [f"Nothing is known at {airspeed}, the only airspeed asked for"]
    parts = [f"{name} {measured(comparison, value)}" for name, value in known]
    return [f"Basis of comparison: {_footing(comparison)}. In {compared(comparison)} at "
            f"{airspeed}, the only airspeed asked for: {listed(parts)}"]


def _led(one: Stretch) -> str:
    start = "rest" if one.start == 0.0 else short_speed(one.start)
    return f"{one.name} leads from {start} to {short_speed(one.stop)}"


def _footing(comparison: Comparison) -> str:
    if comparison.footing != "same electrical power":
        return comparison.footing
    if comparison.reference is not None:
        return f"same electrical power, that of {comparison.reference} at each airspeed"
    if comparison.reference_power is not None:
        return f"same electrical power, {number(comparison.reference_power)} W at the pack"
    return comparison.footing


def _searched(comparison: Comparison) -> float:
    """Highest airspeed at which crossovers were looked for [m/s]."""
    return max([float(comparison.airspeed[-1]), *(top.speed for top in tops(comparison))])


def _trust_sentences(comparison: Comparison) -> list[str]:
    """How far each map is trusted by whoever made it, where that is known."""
    known = {name: one for name, one in comparison.candidates.items()
             if one.output_trust or one.power_trust}
    silent = [name for name in comparison.candidates if name not in known]
    if not known:
        return ["No map or table here states how far it may be trusted"]
    parts = []
    for name, one in known.items():
        sides = ((one.output_trust, "head" if one.nozzle is not None else "thrust"),
                 (one.power_trust, "power"))
        parts.append(f"{name} " + " and ".join(f"{100 * trust:.0f} % in {side}"
                                               for trust, side in sides if trust))
    said = [f"These predictions are uncertain by (standard deviation): {listed(parts)}. Treat a "
            "smaller lead as a tie"]
    if silent:
        said.append(f"No uncertainty is stated for the map of {listed(silent)}")
    return said


def _unsure(comparison: Comparison) -> str:
    study = comparison.uncertainty
    if study is not None:
        return (f"Shares of draws rest on the {len(study.inputs)} spreads and bands listed; what "
                "is not listed is taken as exactly known")
    return ("How far the scenario's own inputs may be off is not in these numbers, for it asks for "
            f"no draws: take thrusts within {100 * TIE:.0f} % and speeds within "
            f"{100 * TIE_SPEED:.0f} % of each other as equal (judgement)")


def caveat_sentences(comparison: Comparison) -> list[str]:
    """What kind of statement this is, and how far to trust it."""
    said = ["This is computed for these builds, on this day's air and this state of the pack; it "
            "says nothing of blowers, fans or propellers in general",
            _unsure(comparison)]
    said += _trust_sentences(comparison)
    if airframe_crossings(comparison) or comparison.drag_area is not None:
        said.append("Top speeds and crossovers are of level, steady, straight flight, with the "
                    "pack held at its state of charge: no turn, no sag with time")
    ducted = [one.nozzle is not None for one in comparison.candidates.values()]
    said.append("; ".join(text for text, wanted in (
        ("Ducted machines are balanced with compressible flow on their stated maps", any(ducted)),
        ("open rotors rest on coefficient tables, which know what Reynolds and Mach number do only "
         "at the shaft speeds they hold", not all(ducted)),
        ("beyond the end of a map or table nothing is claimed", True)) if wanted))
    if comparison.invented:
        said.append("The scenario is invented: its machines exist on paper only")
    return said
