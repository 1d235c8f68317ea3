"""What the evidence says, and what to do next, in sentences and tables."""

from __future__ import annotations

from collections.abc import Sequence

from thrustlapse.report.articles import NOUNS, with_articles
from thrustlapse.report.bench.table import with_spread
from thrustlapse.report.number_format import number, percent, sentence
from thrustlapse.report.table import Table
from thrustlapse.study.evidence import Disagreement, Step
from thrustlapse.study.next_experiment import LITTLE, SETTLED, Experiment, NextExperiments

DESCRIBED = "the description alone"


def chance_text(chance: float) -> str:
    """A chance as people read it."""
    if chance < 0.01:
        return "less than 1 %"
    return "more than 99 %" if chance > 0.99 else percent(chance)


def history_headline(steps: Sequence[Step]) -> str:
    """The answer of all evidence, and what it was by the description alone."""
    first, last = steps[0].answer, steps[-1].answer
    count = len(steps) - 1
    return (f"{last.words[0].upper()}{last.words[1:]}: "
            f"{with_spread(last.value, 2.0 * last.deviation)} {last.unit} (two standard deviations)"
            f" by {count} {'piece' if count == 1 else 'pieces'} of evidence; by the description "
            f"alone: {with_spread(first.value, 2.0 * first.deviation)} {first.unit}.")


def disagreement_sentences(against: Sequence[Disagreement]) -> list[str]:
    """A sentence for each piece that the others contradict."""
    found = []
    for one in against:
        chance = "less than 0.1 %" if one.probability < 1e-3 else percent(one.probability)
        found.append(
            f"{one.name} ({one.kind}) disagrees with the rest: so much comes about by chance with "
            f"a probability of {chance}. " + (
                f"It would be explained by {one.cause}" if one.cause else
                "No single quantity read wrong throughout explains it")
            + ". Nothing is averaged away: find out which is right, and drop the other.")
    return found


def history_table(steps: Sequence[Step]) -> Table:
    """The answer after each piece."""
    unit = steps[-1].answer.unit
    rows = []
    for place, one in enumerate(steps):
        before = steps[max(place - 1, 0)].answer.deviation
        name, kind, date = (DESCRIBED, "", "") if one.piece is None else (
            one.piece.name, one.piece.kind, one.piece.date)
        gain = 1.0 - one.answer.deviation / before if before else 0.0
        rows.append((name, kind, date, with_spread(one.answer.value, one.answer.deviation),
                     f"{100.0 * gain:.0f} %" if place else "", "" if one.without is None else
                     with_spread(one.without.value, one.without.deviation)))
    return Table(name="steps", caption="The answer after each piece, in the order of their dates, "
                 "with one standard deviation that counts all that is not known; and the answer "
                 "of all the others without it",
                 heads=("counted so far, with", "kind", "date",
                        f"{steps[-1].answer.words} [{unit}]", "band narrower by",
                        f"all without it [{unit}]"),
                 rows=tuple(rows))


def digest_table(steps: Sequence[Step]) -> Table:
    """Where each piece comes from."""
    return Table(name="pieces", caption="Every piece, used once: its file by its SHA-256",
                 heads=("piece", "readings", "SHA-256"),
                 rows=tuple((one.piece.name, f"{len(one.piece.readings)}", one.piece.digest)
                            for one in steps if one.piece is not None))


def next_headline(found: NextExperiments) -> str:
    """Whether it is settled, else what to do next, or that nothing here would settle it."""
    asked = (f"The chance that {with_articles(found.question, NOUNS)} is "
             f"{chance_text(found.chance_now)} now")
    if found.settled:
        yes = found.chance_now > 0.5
        return (f"{asked}. Settled: the answer is {'yes' if yes else 'no'}, and no experiment is "
                "needed for it.")
    if found.out_of_reach or not found.experiments:
        return (f"{asked}. Nothing here is likely to settle it: with all of these experiments made "
                f"once the chance is {chance_text(found.all_together)}. It is too near, or "
                "what is open cannot be read by such means.")
    first = found.experiments[0]
    return (f"{asked}. Next: {described(first)}. It settles the matter with a chance of "
            f"{chance_text(first.expected_chance_settled)}, in about {first.minutes:.0f} minutes.")


def described(one: Experiment) -> str:
    """An experiment in words."""
    return f"{one.name} ({one.state}; read {one.read})"


def next_sentences(found: NextExperiments) -> list[str]:
    """The margin, what settled means, and what all of them together would do."""
    worth = [one for one in found.experiments if one.expected_chance_settled >= LITTLE]
    lines = [f"The margin is {with_spread(found.margin, found.deviation)} {found.unit} (one "
             "standard deviation, with all that is not known of machine, instruments, drag, pack "
             f"and rival); a verdict counts as settled from a chance of {percent(SETTLED)} on."]
    lines += disagreement_sentences(found.against)
    if not found.settled and worth:
        lines.append(f"All of these experiments made once settle it with a chance of "
                     f"{chance_text(found.all_together)}.")
    if not found.settled and not worth and not found.out_of_reach:
        lines.append("No single one is likely to settle it; the first brings most.")
    return lines


def next_table(found: NextExperiments) -> Table:
    """Every experiment: what it is expected to do, what it costs."""
    rows = tuple((one.name, one.state, one.read, chance_text(one.expected_chance_settled),
                  number(one.deviation, 2), f"{one.minutes:.0f}")
                 for one in found.experiments)
    return Table(name="experiments", caption="Experiments, the likeliest to settle it first. "
                 "Minutes are a judgement for a table, a stand and a pack that are at hand",
                 heads=("experiment", "state", "read", "settles it with a chance of",
                        f"± left [{found.unit}]", "minutes"), rows=rows)


def cautions_of(found: NextExperiments) -> list[str]:
    """What to beware of, each once, with the experiments it belongs to."""
    names: dict[str, list[str]] = {}
    for one in found.experiments:
        names.setdefault(one.caution, []).append(one.name)
    return [f"{sentence(', '.join(owners))} {caution}" for caution, owners in names.items()]
