"""Which shaft speed the tones of a recording mean.

A wheel of Z blades sounds at the blade pass Z N and its multiples; out of balance, at the shaft's
own N and its double. Motors whine at whole multiples of N, controllers at any pitch. So a tone
alone, or a tone with its overtones, may be blades, shaft or motor. Two things tell: a line of the
shaft together with one of the blades, whose ratio is then the number of blades; or a speed expected
so sharply that the neighbouring multiples are excluded.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from thrustlapse.arrays import BoolArray
from thrustlapse.bench.noise import FLOOR_BINS, chance_of_noise
from thrustlapse.bench.shaft_speed import alias, unaliased
from thrustlapse.bench.tone import FINER, Tones
from thrustlapse.glossary import read_as

SHAFT_LINES = ("shaft", "twice the shaft")
"""Lines by which a tone of the blades is known as such."""

BY_CHANCE = 1e-4
"""Chance that noise alone passes for lines at the places that one reading foretells."""

LOUDEST = 10
"""Tones that are tried as a line of the machine."""

FOLDED_COST = 20.0
"""What a reading loses for needing a tone above half the sampling rate [dB]: recorders filter those
out before they sample; a poor one lets some pass. By judgement."""

CONTRADICTED_COST = 20.0
"""What a reading loses for each thing that speaks against it [dB]. By judgement."""

ROOM = 11.0
"""Level that a room's own resonances reach in an even noise [dB]: its response squared follows an
exponential law over thousands of resonances, whose largest is ln 5000 = 8.5 of the mean, 10.9 dB
over the median (Schroeder's statistics; from memory)."""

MOST_COUNTED = 20.0
"""Level up to which a tone counts [dB]: beyond it a tone is certain, and no surer for loudness."""

AUDIBLE = 0.45
"""Share of the sampling rate up to which a recorder is trusted to let a tone through [-]: filters
begin below half the rate. A line beyond it that is not heard says nothing."""

CUT_MARGIN = 0.95
"""Share of the frequency at which a recording is cut up to which lines are surely heard [-]."""

SAME_SPEED = 0.004
"""Shares within which two speeds are one."""

LINE_UP = 2e-3
"""Most that two lines of one rotor may miss their ratio by however unsurely they are known [-]."""

SHARP = 3e-4
"""Relative deviation that a tone may have to contradict a speed by its place alone [-]."""

COINCIDENCE = 1e-3
"""Share of all pitches that may pass for whole multiples of a speed where one counts as such: a
controller's is whatever it likes, on one recording in ten. By judgement."""

MAINS = (50.0, 60.0)
"""Frequencies of mains [Hz]; hum has its multiples too."""

MAINS_SHARE, MAINS_MULTIPLES = 1e-3, 20
"""Share by which mains wander (a twentieth of a hertz; common practice, no source), and multiples
of them that are looked for."""

RULED_OUT = 3.0
"""Deviations from the expected speed at which a reading is ruled out."""


@dataclass(frozen=True, kw_only=True)
class ToneMeaning:
    """One way to read a recording: shaft ``speed`` [rad/s] with ``deviation``; ``tone`` [Hz] and
    what it is taken for; ``folded`` whether it lies above half the sampling rate; ``score`` [dB]
    the levels it explains less what it costs; ``explains`` the tones it explains, in words, and
    ``places`` which they are among the tones; ``against`` what contradicts it, in words;
    ``ratio`` whether a line of the shaft and one of the blades are among them, ``loudest`` [dB] the
    highest level of a tone among them, ``faint`` [dB] what lines that only the others foretell add
    to the score."""

    speed: float
    deviation: float
    tone: float
    meaning: str
    folded: bool
    score: float
    explains: tuple[str, ...]
    places: frozenset[int]
    against: tuple[str, ...]
    ratio: bool
    loudest: float
    faint: float


@dataclass(frozen=True, kw_only=True)
class ToneChoice:
    """All readings of a recording, best first, whether the first is taken, and why."""

    meanings: tuple[ToneMeaning, ...]
    chosen: bool
    reasons: tuple[str, ...]


def choose_meaning(tones: Tones, *, blades: int, lowest: float, highest: float,
                   expected: float | None = None,
                   expected_deviation: float | None = None) -> ToneChoice:
    """Shaft speeds that would sound like this, best first.

    Parameters
    ----------
    tones : Tones
        Of the recording
    blades : int
        Of the wheel
    lowest, highest : float
        Range the shaft can have at all [rad/s]
    expected, expected_deviation : float, optional
        What other evidence says, with its standard deviation, a tenth of it where not given
        [rad/s]

    Notes
    -----
    The score of a speed is the sum of the levels of all tones it explains (shaft, its double, blade
    pass, twice and thrice), 20 dB each at most, less 20 dB where its own tone is folded and for
    each thing that speaks against it, less the expected speed's log-likelihood in decibel. A line
    of the shaft that a tone of the blades foretells may be fainter than one that nothing does.

    The best is taken if it lies in the range, is not folded, nothing speaks against it, no other
    reading explains as many tones, and either a line of the shaft and one of the blades are heard,
    or two lines and an expected speed that excludes the neighbouring multiples, by itself or
    because a further tone would be no whole multiple of them. Readings outside the range compete:
    a range that excludes the truth then leaves nothing decided.
    """
    if tones.frequency.size == 0:
        return ToneChoice(meanings=(), chosen=False, reasons=(
            f"no tone stands {tones.threshold:.0f} dB above the noise beside it",))
    heard = tones
    tones, hum = _without_hum(tones)
    if tones.frequency.size == 0:
        return ToneChoice(meanings=(), chosen=False, reasons=hum)
    width = None if expected is None else (
        0.1 * expected if expected_deviation is None else expected_deviation)

    def readings(some: Tones) -> list[ToneMeaning]:
        return _readings(some, blades=blades, lowest=lowest, highest=highest, expected=expected,
                         width=width)

    choice = _chosen(readings(tones), tones, blades=blades, lowest=lowest, highest=highest,
                     expected=expected, width=width)
    if hum and choice.chosen:
        choice = _if_no_hum(choice, tones, heard, lambda some: [
            one for one in readings(some) if _may_be(one.speed, expected, width)])
    return replace(choice, reasons=(*hum, *choice.reasons))


def _readings(tones: Tones, *, blades: int, lowest: float, highest: float, expected: float | None,
              width: float | None) -> list[ToneMeaning]:
    """Every speed that one of the loudest tones may be of, best first, each once."""
    found: list[ToneMeaning] = []
    orders = {"shaft": 1, "twice the shaft": 2, "blade pass": blades,
              "twice the blade pass": 2 * blades, "thrice the blade pass": 3 * blades}
    for place in range(min(LOUDEST, tones.frequency.size)):
        heard = float(tones.frequency[place])
        for meaning, order in orders.items():
            top = max(highest * order / math.tau, heard)
            for true in unaliased(apparent=heard, rate=tones.rate, highest=top):
                speed = math.tau * float(true) / order
                if true <= 0.5 * tones.rate or lowest <= speed <= highest:
                    found.append(_judged(tones, place, speed=speed, true=float(true),
                                         meaning=meaning, orders=orders, expected=expected,
                                         width=width))
    found.sort(key=lambda one: -one.score)
    kept: list[ToneMeaning] = []
    for one in found:
        if all(abs(one.speed / other.speed - 1.0) > SAME_SPEED for other in kept):
            kept.append(one)
    return kept


def _may_be(speed: float, expected: float | None, width: float | None) -> bool:
    """Whether a speed is near enough to an expected one to compete."""
    return expected is None or width is None or abs(speed - expected) <= (RULED_OUT + 1.0) * width


def _if_no_hum(choice: ToneChoice, tones: Tones, heard: Tones,
               readings: Callable[[Tones], list[ToneMeaning]]) -> ToneChoice:
    """A choice made without the tones taken for hum, unless one of these, with its own multiples,
    lets another speed explain as much and some of the same: then it may be the rotor's."""
    best = choice.meanings[0]
    own = {float(tones.frequency[one]) for one in best.places}
    rest = np.isin(heard.frequency, tones.frequency)
    for shaft in np.sort(heard.frequency[~rest]):
        whole = np.rint(heard.frequency / shaft)
        some = _only(heard, rest | (
            (whole >= 1) & (np.abs(heard.frequency - whole * shaft) <= MAINS_SHARE * shaft)))
        for one in readings(some):
            shared = own & {float(some.frequency[place]) for place in one.places}
            if shared and not one.against and not one.folded and (
                    abs(one.speed / best.speed - 1.0) > SAME_SPEED) and (
                    len(one.explains) >= len(best.explains)):
                return replace(choice, chosen=False, reasons=(
                    *choice.reasons, f"if {shaft:.0f} Hz are no hum, "
                    f"{_rpm(one.speed)} explains as much: record again farther "
                    "from mains, or at another speed"))
    return choice


def _only(tones: Tones, which: BoolArray) -> Tones:
    return replace(tones, frequency=tones.frequency[which], deviation=tones.deviation[which],
                   level=tones.level[which], wander=tones.wander[which])


def _without_hum(tones: Tones) -> tuple[Tones, tuple[str, ...]]:
    """Tones without those of mains hum, and what was taken away, in words.

    Where mains or their double are heard, all whole multiples are theirs: a rotor that turns just
    so cannot be told from them.
    """
    heard = np.asarray(tones.frequency, dtype=float)
    hum = np.zeros(heard.size, dtype=bool)
    for mains in MAINS:
        whole = np.rint(heard / mains)
        near = (whole >= 1) & (whole <= MAINS_MULTIPLES) & (
            np.abs(heard - whole * mains) <= MAINS_SHARE * heard) & (
                np.asarray(tones.deviation) <= MAINS_SHARE * heard)
        if np.any(near & (whole <= 2)):
            hum |= near
    if not hum.any():
        return tones, ()
    return _only(tones, ~hum), (
        f"{', '.join(f'{one:.0f}' for one in np.sort(heard[hum]))} Hz are taken for "
        "mains hum: a rotor of just that speed could not be told from it",)


def _judged(tones: Tones, place: int, speed: float, true: float, meaning: str,
            orders: dict[str, int], expected: float | None, width: float | None) -> ToneMeaning:
    order = orders[meaning]
    share = float(tones.deviation[place]) / true
    named, unseen, overtones = _heard(tones, place, speed=speed, share=share, meaning=meaning,
                                      orders=orders)
    explains = [_line(name, float(tones.frequency[one]), float(tones.level[one]))
                for name, one in named.items()]
    faint = _faint(tones, share, unseen)
    explains += [_line(f"{name} faintly", unseen[name], level) for name, level in faint.items()]
    if len(explains) == 1:  # only that it is no lone tone: what is faint outdoes no other reading
        explains += [_line(f"{name} faintly", overtones[name], level)
                     for name, level in _faint(tones, share, overtones).items()]
    against = tuple(_against(tones, speed, blades=orders["blade pass"], named=named,
                             share=share))
    told = expected is not None and width is not None and (
        abs(0.5 * speed - expected) > RULED_OUT * width)
    if faint:
        against += _against_faint(tones, shaft=speed / math.tau, share=share, told=told)
    folded = true > tones.rate / 2.0
    counted = sum(min(level, MOST_COUNTED) for level in faint.values())
    score = counted + sum(min(float(tones.level[one]), MOST_COUNTED) for one in named.values()) - (
        FOLDED_COST if folded else 0.0) - CONTRADICTED_COST * len(against)
    if expected is not None and width is not None:
        score -= 10.0 / math.log(10.0) * 0.5 * ((speed - expected) / width) ** 2
    return ToneMeaning(speed=speed, deviation=math.tau * float(tones.deviation[place]) / order,
                       tone=float(tones.frequency[place]), meaning=meaning, folded=folded,
                       score=score, explains=tuple(explains), against=against,
                       places=frozenset(named.values()), ratio=_ratio({*named, *faint}, orders),
                       loudest=max(float(tones.level[one]) for one in named.values()),
                       faint=counted)


def _heard(tones: Tones, place: int, *, speed: float, share: float, meaning: str,
           orders: dict[str, int]) -> tuple[dict[str, int], dict[str, float], dict[str, float]]:
    """Lines of a speed by the places of their tones, lines of the shaft that tones of the blades
    foretell [Hz], and overtones of the tone itself [Hz]."""
    named, unseen, overtones = dict[str, int](), dict[str, float](), dict[str, float]()
    for name, multiple in orders.items():
        line = speed * multiple / math.tau
        if line > tones.rate / 2.0 and name != meaning:
            continue  # filtered out by the recorder, or folded: no evidence either way
        seen = abs(float(alias(frequency=line, rate=tones.rate)))
        near = np.abs(tones.frequency - seen)
        match = place if name == meaning else int(np.argmin(near))
        joint = math.hypot(share * line, float(tones.deviation[match]))
        if match not in named.values() and near[match] <= min(RULED_OUT * joint, LINE_UP * line):
            named[name] = match
        elif name in SHAFT_LINES and "blade" in meaning:
            unseen[name] = line
        elif multiple > orders[meaning] and ("blade" in name) == ("blade" in meaning):
            overtones[name] = line
    return named, unseen, overtones


def _line(name: str, frequency: float, level: float) -> str:
    return f"{name} at {frequency:.0f} Hz, {level:.0f} dB"


def _faint(tones: Tones, share: float, lines: Mapping[str, float]) -> dict[str, float]:
    """Levels [dB] of those lines, at frequencies [Hz] that other tones foretell to a ``share`` of
    them, that noise alone would hardly show; none that mains' hum could be.

    There are but a few places where each may lie, so it need not stand out of all the others: one
    of two lines is told by itself, or both by the product of their chances, whose logarithm
    follows a chi-squared law (Fisher's; from memory).
    """
    levels, chances = {}, {}
    for name, frequency in lines.items():
        reach = max(1, math.ceil(RULED_OUT * share * frequency / tones.fine_width))
        place, round_about = round(frequency / tones.fine_width), FINER * FLOOR_BINS // 2
        if not reach + round_about < place < tones.fine.size - reach - round_about or any(
                round(frequency / mains) <= MAINS_MULTIPLES and abs(
                    frequency - mains * round(frequency / mains)) <= MAINS_SHARE * frequency
                + reach * tones.fine_width for mains in MAINS):
            continue
        beside = tones.fine[place - reach:place + reach + 1]
        level = float(beside.max())
        # a loud line nearby leaks to either side, more than this one's own lobe of two bins
        left = tones.fine[place - reach - round_about:place - reach - 2 * FINER]
        right = tones.fine[place + reach + 2 * FINER:place + reach + round_about]
        if level > max(left.max(), right.max()):
            levels[name] = level
            chances[name] = chance_of_noise(level=level, span=2.0 * reach / FINER,
                                            uneven=tones.uneven)
    least = BY_CHANCE / (len(lines) + 1)
    both = math.prod(chances.values())
    if len(chances) == len(SHAFT_LINES) and both > 0.0 and both * (1.0 - math.log(both)) < least:
        return levels
    return {name: levels[name] for name, chance in chances.items() if chance < least}


def _off_whole(heard: float, speed: float) -> float:
    """Share of a tone [Hz] by which it misses the nearest whole multiple of a shaft [rad/s]."""
    turns = math.tau * heard / speed
    return abs(turns - round(turns)) / turns


def _whole_multiples(tones: Tones, one: ToneMeaning) -> list[float]:
    """Other tones [Hz] that are whole multiples of a speed, as a motor's are, so sharply known that
    hardly any other pitch would be; none as faint as a room's own resonances."""
    found = []
    for place, heard in enumerate(tones.frequency.tolist()):
        share = RULED_OUT * math.hypot(float(tones.deviation[place]) / heard,
                                       one.deviation / one.speed)
        if place not in one.places and tones.level[place] >= ROOM and (
                _off_whole(heard, one.speed) <= share) and (
                2.0 * share * math.tau * heard / one.speed <= COINCIDENCE):
            found.append(heard)
    return found


def _against_faint(tones: Tones, *, shaft: float, share: float, told: bool) -> tuple[str, ...]:
    """What speaks against a shaft [Hz] of which only a faint line is heard: that the line may be a
    multiple of the true one's, unless an expected speed has told that it is not."""
    said = []
    if any(_faint(tones, share, {"part": shaft / part}) for part in (2, 3)):
        said.append("a faint line lies at a half or a third of that shaft's own")
    if not told and 0.5 * shaft < tones.band[0]:
        said.append("half of that shaft's own, which may be the true one, lies below what the "
                    "recording lets through")
    return tuple(said)


def _ratio(named: set[str], orders: dict[str, int]) -> bool:
    """Whether the lines heard are in a ratio that only this number of blades makes."""
    blades = orders["blade pass"]
    passes = {name for name in named if "blade" in name}
    if blades < 3:  # the pass of two blades is the double of the shaft
        return False
    # of an even number the pass is a whole multiple of the double too, as a motor's lines are of
    # a shaft of twice the speed
    return bool(passes) and ("shaft" in named or (
        "twice the shaft" in named and blades % 2 == 1 and blades > LEAST_HALVES
        and len(named) > 2))


def _against(tones: Tones, speed: float, blades: int, named: dict[str, int],
             share: float) -> list[str]:
    """What speaks against a speed."""
    passing = speed * blades / math.tau
    low, high = tones.band
    said = []
    if "blade pass" not in named and (
            low / CUT_MARGIN < passing < min(CUT_MARGIN * high, AUDIBLE * tones.rate)):
        said.append(f"its blade pass at {passing:.0f} Hz would be heard and is not")
    shaft = speed / math.tau
    series = not {"shaft", "twice the shaft"} & set(named)
    for place, heard in enumerate(tones.frequency):
        if place in named.values() or tones.deviation[place] > SHARP * heard:
            continue
        joint = RULED_OUT * math.hypot(share, float(tones.deviation[place]) / heard)
        parts, teeth = shaft / heard, passing / heard
        if 2 <= round(parts) <= MOST_PARTS and abs(parts / round(parts) - 1.0) <= joint:
            said.append(f"the tone at {heard:.0f} Hz is 1/{round(parts)} of that shaft's own: it "
                        "would be the shaft, and the number of blades another")
            break
        if series and round(teeth) > 1 and (
                1 <= abs(round(teeth) - blades) <= max(2, blades // 4)) and (
                abs(teeth / round(teeth) - 1.0) <= joint):
            said.append(f"the tone at {heard:.0f} Hz would be the shaft of a wheel of "
                        f"{round(teeth)} blades, not {blades}: count them again")
            break
    return said


LEAST_HALVES = 4
"""Blades up to which the double of the shaft and the pass are as close as any two overtones."""

MOST_PARTS = 20
"""Parts of a claimed shaft line that are looked for: blades of a wheel, or so."""


def _chosen(kept: list[ToneMeaning], tones: Tones, *, blades: int, lowest: float, highest: float,
            expected: float | None, width: float | None) -> ToneChoice:
    best = kept[0]  # every tone that is heard would be some shaft's
    inside = tuple(one for one in kept if lowest <= one.speed <= highest)
    first = f"{_rpm(best.speed)} explains {', '.join(best.explains)}" + (
        ", though that tone lies above half the sampling rate" if best.folded else "")
    against = next(_doubts(kept, inside, expected=expected, width=width), ())
    proof = () if against else _proof(kept, tones, blades=blades, lowest=lowest,
                                      expected=expected, width=width)
    return ToneChoice(meanings=inside, chosen=bool(proof), reasons=(first, *(against or proof or (
        "tones and overtones alone may be a motor's: the shaft's line and the blades' are not "
        "heard together. Record closer by, or longer at a steady speed, or give the speed you "
        f"expect within {100.0 / (3.0 * (blades + 1)):.0f} %",))))


def _rpm(speed: float) -> str:
    return f"{read_as(speed, 'rpm'):.0f} rpm"


def _doubts(kept: list[ToneMeaning], inside: tuple[ToneMeaning, ...], *, expected: float | None,
            width: float | None) -> Iterator[tuple[str, ...]]:
    """What forbids to take the best reading, the gravest first."""
    best = kept[0]
    if not inside:
        yield ("no tone can come from a shaft in the range given",)
    elif best is not inside[0]:
        yield ("that is outside the range given, and explains more than any speed inside it: "
               "widen the range, or give the number of blades anew",)
    if best.against:
        yield best.against
    if best.folded:
        yield ("a folded tone decides nothing: record at a higher sampling rate",)
    if len(best.explains) == 1:
        yield ("it rests on one tone alone, which may be a motor's or a controller's whine: record "
               "closer by, or longer at a steady speed, so that the shaft's own line is heard too",)
    if best.loudest < ROOM:
        yield (f"its loudest tone is {best.loudest:.0f} dB above the noise beside, as a room's own "
               "resonances are: record closer by, or out of doors",)
    if expected is not None and width is not None:
        away = abs(best.speed - expected) / width
        if away > RULED_OUT:
            yield (f"it lies {away:.1f} deviations from the expected speed: is the number of "
                   "blades right?",)
    # places are in the order of how clearly the tones are heard
    rivals = [one for one in kept[1:] if not one.against and not one.folded
              and len(one.explains) - len(best.explains) >= (min(best.places) not in one.places)
              and _may_be(one.speed, expected, width)]
    if rivals:
        yield (f"{_rpm(rivals[0].speed)} explains as much: record again closer by, at a higher "
               "sampling rate, or give the speed you expect",)
    if any(one.score - one.faint > best.score - best.faint for one in kept[1:]):
        yield ("only lines too faint to be found by themselves favour it: record again closer by",)


def _proof(kept: list[ToneMeaning], tones: Tones, *, blades: int, lowest: float,
           expected: float | None, width: float | None) -> tuple[str, ...]:
    """What confirms the best reading, against which nothing speaks; () where nothing does."""
    best = kept[0]
    if best.ratio:
        return ("the shaft's line and the blades' agree in the number of blades",
                "no other reading comes near" if len(kept) == 1 else
                f"it leads the next, {_rpm(kept[1].speed)}, by {best.score - kept[1].score:.0f} dB "
                "of explained sound")
    if expected is None or width is None:
        return ()
    order = 1 if any(text.startswith("shaft") for text in best.explains) else blades
    turned = best.speed * order
    others = [turned / other for other in range(
        max(1, math.ceil(turned / (expected + RULED_OUT * width))),
        math.floor(turned / max(expected - RULED_OUT * width, lowest)) + 1) if other != order]
    if not others:
        return ("no line of the shaft and the blades together is heard, but the expected speed "
                "excludes the neighbouring multiples",)
    beside = _whole_multiples(tones, best)
    if all(any(_off_whole(heard, speed) > LINE_UP for heard in beside) for speed in others):
        return ("no line of the shaft and the blades together is heard, but no other speed near "
                "the expected one has all tones as whole multiples: "
                f"{', '.join(f'{one:.0f} Hz' for one in beside)} too",)
    return ()
