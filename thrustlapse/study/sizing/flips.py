"""What would flip the answer: one condition at a time relaxed or changed, all else the same.

Each is worked out at every second power and airspeed of the domain, from the designs that are best
as things stand, and only for the kinds it concerns.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import Array
from thrustlapse.study.sizing.domain import Best, Domain, Flipped
from thrustlapse.study.sizing.kinds import Kind
from thrustlapse.study.sizing.merit import Rules
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import Walk, solved

STEP = 2
"""Every how many powers and airspeeds of the domain a condition is worked out."""

GAIN = 0.10
"""By how much the best efficiency of a blower's map is raised [-]."""


Change = Callable[[Kind, Rules], tuple[Kind, Rules] | None]
"""What a condition makes of a kind and of the rules; None of a kind that it leaves as it is."""


@dataclass(frozen=True, kw_only=True)
class Flip:
    """A condition in words, and its change."""

    words: str
    change: Change


def _width(most: float) -> Change:
    return lambda kind, rules: (kind, replace(rules, frontal_limit=most))


def _mach(most: float) -> Change:
    return lambda kind, rules: (kind, replace(rules, tip_mach_limit=most))


def _base_mass(mass: float) -> Change:
    return lambda kind, rules: (kind, replace(rules, base_mass=mass))


def _without_pod(kind: Kind, rules: Rules) -> tuple[Kind, Rules] | None:
    out = replace(kind.template.candidate.installation, pod_drag_area=0.0, base_area=0.0)
    return (replace(kind, template=replace(kind.template, candidate=replace(
        kind.template.candidate, installation=out))), rules)


def _without_strength(kind: Kind, rules: Rules) -> tuple[Kind, Rules] | None:
    ratings = kind.template.candidate.ratings
    if ratings.rotor_material is None:
        return None
    return (replace(kind, template=replace(kind.template, candidate=replace(
        kind.template.candidate, ratings=replace(ratings, rotor_material=None)))), rules)


def _efficient(kind: Kind, rules: Rules) -> tuple[Kind, Rules] | None:
    return (replace(kind, efficiency_gain=GAIN), rules) if kind.name == "blower" else None


def _weightless(kind: Kind, rules: Rules) -> tuple[Kind, Rules] | None:
    return (replace(kind, motor_weighs=False), rules) if kind.name == "blower" else None


def flips(rules: Rules) -> tuple[Flip, ...]:
    """Every condition that is tried under these rules."""
    found = [
        Flip(words="no drag of pods", change=_without_pod),
        *(Flip(words=f"units at most {1e3 * width:.0f} mm wide",
               change=_width(width))
          for width in (0.04, 0.06, 0.08) if width < rules.frontal_limit),
        Flip(words="rotors of any strength", change=_without_strength),
        Flip(words="blowers 10 points more efficient", change=_efficient),
        Flip(words="blowers with a motor that weighs nothing", change=_weightless),
        *(Flip(words=f"tip Mach number at most {mach:g}", change=_mach(mach))
          for mach in (0.6, 0.7) if mach < rules.tip_mach_limit)]
    if rules.airframe is not None:
        frame = float(np.asarray(rules.airframe.mass))
        pack = rules.base_mass - frame
        found += [Flip(words=f"a pack of {words} the mass",
                       change=_base_mass(frame + share * pack))
                  for words, share in (("half", 0.5), ("twice", 2.0))]
    return tuple(found)


def flipped(kinds: Mapping[str, Kind], rules: Rules, domain: Domain, best: Mapping[str, Best], *,
            workers: Executor, effort: Effort,
            tell: Callable[[float], None] | None = None) -> tuple[Flipped, ...]:
    """As things stand, and then under each condition."""
    part = Domain(airspeed=domain.airspeed[::STEP], power=domain.power[::STEP])
    kept = np.arange(domain.power.size * domain.airspeed.size).reshape(domain.shape)[
        ::STEP, ::STEP].ravel()
    every = np.arange(kept.size)
    others = np.concatenate([every[:, None], part.neighbours], axis=1)
    asked = []
    for flip in flips(rules):
        for name, kind in kinds.items():
            made = flip.change(kind, rules)
            if made is None:
                continue
            walk = Walk(*made, part)
            walk.places = best[name].places[kept]
            asked.append((flip.words, name, walk,
                          [(point, workers.submit(solved, piece))
                           for point, piece in walk.pieces(every, effort, others)]))
    now = {name: one.value[::STEP, ::STEP] for name, one in best.items()}
    values = {flip.words: dict(now) for flip in flips(rules)}
    for at, (words, name, walk, answers) in enumerate(asked):
        for point, answer in answers:
            walk.take(point, answer.result(), alone=False)
        values[words][name] = walk.best().value
        if tell:
            tell((at + 1) / len(asked))
    return (_told("as things stand", now, part),
            *(_told(words, found, part) for words, found in values.items()))


def _told(words: str, values: Mapping[str, Array], domain: Domain) -> Flipped:
    every = np.stack([np.where(np.isfinite(one), one, -np.inf) for one in values.values()])
    pulls = every.max(axis=0) > 0.0
    first = np.argmax(every, axis=0)
    flies = domain.airspeed > 0.0
    nearest = {}
    for place, name in enumerate(values):
        rest = np.delete(every, place, axis=0).max(axis=0, initial=-np.inf)
        there = (rest > 0.0) & flies
        nearest[name] = float(np.max(np.maximum(every[place], 0.0)[there] / rest[there])
                              ) if there.any() else float("nan")
    return Flipped(words=words, nearest=nearest, led={
        name: float(np.mean(first[pulls] == place)) if pulls.any() else 0.0
        for place, name in enumerate(values)})


def ranked(found: Sequence[Flipped], name: str) -> tuple[Flipped, ...]:
    """Conditions by how much of the domain a kind leads under them, then by how near it comes."""
    return tuple(sorted(found, key=lambda one: (-one.led[name], -np.nan_to_num(
        one.nearest[name], nan=np.inf))))
