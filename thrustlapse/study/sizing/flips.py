"""What would flip the answer: one condition at a time relaxed or changed, all else the same.

Each is worked out at every second power and airspeed of the domain, from the designs that are best
as things stand, and only for the kinds it concerns.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.air.atmosphere import site_from_readings
from thrustlapse.study.sizing.domain import Best, Domain, Flipped
from thrustlapse.study.sizing.kinds import Kind
from thrustlapse.study.sizing.merit import Rules
from thrustlapse.study.sizing.optimise import Effort
from thrustlapse.study.sizing.walk import Walk, share_maps
from thrustlapse.study.sizing.work import Work

STEP = 2
"""Every how many powers and airspeeds of the domain a condition is worked out."""

GAIN = 0.10
"""By how much the best efficiency of a blower's map is raised [-]."""

WIDER = 0.14
"""Greatest rim width over diameter of a wheel with an eye of 0.81 of its diameter [-]: air then
enters and leaves so near to each other that it is a mixed-flow rotor, for which a radial wheel's
mean line is a guess. Tried to see what the usual range costs."""

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


def _wider(kind: Kind, rules: Rules) -> tuple[Kind, Rules] | None:
    if kind.name != "blower":
        return None
    width = replace(kind.variables["width"], high=WIDER)
    return replace(kind, variables={**kind.variables, "width": width}), rules


def _altitude(height: float) -> Change:
    def change(kind: Kind, rules: Rules) -> tuple[Kind, Rules]:
        there = replace(kind.template.candidate, site=site_from_readings(altitude=height))
        return replace(kind, template=replace(kind.template, candidate=there)), rules
    return change


def _scaled(mass: float) -> Change:
    """Another size of the same shape: wing area as mass^(2/3)."""
    def change(kind: Kind, rules: Rules) -> tuple[Kind, Rules]:
        frame = rules.airframe
        assert frame is not None
        wing = np.asarray(frame.wing_area) * (mass / rules.base_mass) ** (2.0 / 3.0)
        return kind, replace(rules, base_mass=mass, airframe=replace(frame, wing_area=wing))
    return change


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """What is tried beside what always is: widths of units [m], altitudes [m], and masses of
    aircraft without the unit [kg]."""

    frontal_limits: tuple[float, ...] = (0.04, 0.06, 0.08)
    altitudes: tuple[float, ...] = ()
    masses: tuple[float, ...] = ()


def flips(rules: Rules, asked: Conditions | None = None) -> tuple[Flip, ...]:
    """Every condition that is tried under these rules."""
    also = asked or Conditions()
    found = [
        Flip(words="no drag of pods", change=_without_pod),
        *(Flip(words=f"units at most {1e3 * width:.0f} mm wide",
               change=_width(width))
          for width in also.frontal_limits if width < rules.frontal_limit),
        *(Flip(words=f"at {height:.0f} m", change=_altitude(height))
          for height in also.altitudes),
        Flip(words="blowers with wider wheels", change=_wider),
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
        found += [Flip(words=f"an aircraft of {mass:g} kg, of the same shape",
                       change=_scaled(mass)) for mass in also.masses]
    return tuple(found)


def flipped(kinds: Mapping[str, Kind], rules: Rules, domain: Domain, best: Mapping[str, Best], *,
            work: Work, effort: Effort, asked: Conditions | None = None,
            tell: Callable[[float], None] | None = None) -> tuple[Flipped, ...]:
    """As things stand, and then under each condition."""
    part = Domain(airspeed=domain.airspeed[::STEP], power=domain.power[::STEP])
    kept = np.arange(domain.power.size * domain.airspeed.size).reshape(domain.shape)[
        ::STEP, ::STEP].ravel()
    every = np.arange(kept.size)
    others = np.concatenate([every[:, None], part.neighbours], axis=1)
    tried = flips(rules, asked)
    changed = [(flip.words, name, made) for flip in tried for name, kind in kinds.items()
               if (made := flip.change(kind, rules)) is not None]
    share_maps((made[0] for *_, made in changed), work.hands)
    walks = []
    for _, name, made in changed:
        walk = Walk(*made, part)
        walk.places = walk.kind.places(kinds[name].values(best[name].places[kept]))
        walks.append(walk)
    ended, whole = 0, every.size * effort.most * len(walks)

    def told(_: str, size: int) -> None:
        nonlocal ended
        ended += size
        if tell:
            tell(ended / whole)

    tasks = (task for at, walk in enumerate(walks)
             for task in walk.tasks(str(at), every, effort, others))
    for at, point, found in work.done(tasks, told):
        walks[int(at)].take(point, found, alone=False)
    now = {name: one.value[::STEP, ::STEP] for name, one in best.items()}
    values = {flip.words: dict(now) for flip in tried}
    for (words, name, _), walk in zip(changed, walks, strict=True):
        values[words][name] = walk.best().value
    return tuple(Flipped(words=words, domain=part, values=found)
                 for words, found in {"as things stand": now, **values}.items())


def ranked(found: Sequence[Flipped], name: str) -> tuple[Flipped, ...]:
    """Conditions by how much of the domain a kind leads under them, then by how near it comes."""
    return tuple(sorted(found, key=lambda one: (-one.led[name], -np.nan_to_num(
        one.nearest[name], nan=np.inf))))
