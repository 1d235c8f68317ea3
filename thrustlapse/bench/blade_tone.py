"""Which shaft speed the tones of a recording mean.

A wheel of Z blades sounds at the blade pass Z N and its multiples, and, out of balance, at the
shaft's own N. Each loud tone could be any of these, and could have been folded down from above half
the sampling rate. Every reading is listed with what speaks for it; the best is taken if it leads
clearly.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from thrustlapse.bench.shaft_speed import alias, unaliased
from thrustlapse.bench.tone import Tones

LOUDEST = 5
"""Tones that are tried as a line of the machine."""

FOLDED_COST = 20.0
"""What a reading loses for needing a tone above half the sampling rate [dB]: recorders filter those
out before they sample; a poor one lets some pass. By judgement."""

AUDIBLE = 0.45
"""Share of the sampling rate up to which a recorder is trusted to let a tone through [-]: filters
begin below half the rate. A line beyond it that is not heard says nothing."""

CLEAR_LEAD = 6.0
"""Lead of the best reading over the next, below which nothing is chosen [dB]."""

SAME_SPEED = 0.004
"""Shares within which two speeds are one."""


@dataclass(frozen=True, kw_only=True)
class ToneMeaning:
    """One way to read a recording: shaft ``speed`` [rad/s] with ``deviation``; ``tone`` [Hz] and
    what it is taken for; ``folded`` whether it lies above half the sampling rate; ``score`` [dB]
    the levels it explains less what it costs; ``explains`` the tones it explains, in words."""

    speed: float
    deviation: float
    tone: float
    meaning: str
    folded: bool
    score: float
    explains: tuple[str, ...]


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
    The score of a speed is the sum of the levels of all tones it explains (shaft, blade pass, twice
    and thrice), less 20 dB where its own tone is folded, less half the level of its own tone where
    it makes that an overtone of a blade pass that is not heard, less the expected speed's
    log-likelihood in decibel.
    """
    if tones.frequency.size == 0:
        return ToneChoice(meanings=(), chosen=False, reasons=(
            f"no tone stands {tones.threshold:.0f} dB above the noise beside it",))
    found: list[ToneMeaning] = []
    orders = {"shaft": 1, "blade pass": blades, "twice the blade pass": 2 * blades,
              "thrice the blade pass": 3 * blades}
    for place in range(min(LOUDEST, tones.frequency.size)):
        heard = float(tones.frequency[place])
        for meaning, order in orders.items():
            top = highest * order / math.tau
            for true in unaliased(apparent=heard, rate=tones.rate, highest=top):
                speed = math.tau * float(true) / order
                if speed >= lowest:
                    found.append(_judged(tones, place, speed, float(true), meaning, orders,
                                         expected, expected_deviation))
    found.sort(key=lambda one: -one.score)
    kept: list[ToneMeaning] = []
    for one in found:
        if all(abs(one.speed / other.speed - 1.0) > SAME_SPEED for other in kept):
            kept.append(one)
    return _chosen(kept)


def _judged(tones: Tones, place: int, speed: float, true: float, meaning: str,
            orders: dict[str, int], expected: float | None,
            expected_deviation: float | None) -> ToneMeaning:
    explains, score, blade_pass_heard = [], 0.0, False
    used: set[int] = set()
    for name, order in orders.items():
        line = speed * order / math.tau
        if line > tones.rate / 2.0 and name != meaning:
            continue  # filtered out by the recorder, or folded: no evidence either way
        seen = abs(float(alias(frequency=line, rate=tones.rate)))
        near = np.abs(tones.frequency - seen)
        match = int(np.argmin(near))
        if match not in used and near[match] <= max(2.0 * tones.bin_width, 0.003 * seen):
            used.add(match)
            score += float(tones.level[match])
            explains.append(f"{name} at {tones.frequency[match]:.0f} Hz, "
                            f"{tones.level[match]:.0f} dB")
            blade_pass_heard |= name == "blade pass"
    folded = true > tones.rate / 2.0
    score -= FOLDED_COST if folded else 0.0
    own = float(tones.level[place])
    if meaning != "blade pass" and not blade_pass_heard and (
            speed * orders["blade pass"] / math.tau <= AUDIBLE * tones.rate):
        score -= 0.5 * own
    if expected is not None:
        width = 0.1 * expected if expected_deviation is None else expected_deviation
        score -= 10.0 / math.log(10.0) * 0.5 * ((speed - expected) / width) ** 2
    order = orders[meaning]
    return ToneMeaning(speed=speed, deviation=math.tau * float(tones.deviation[place]) / order,
                       tone=float(tones.frequency[place]), meaning=meaning, folded=folded,
                       score=score, explains=tuple(explains))


def _chosen(kept: list[ToneMeaning]) -> ToneChoice:
    if not kept:
        return ToneChoice(meanings=(), chosen=False, reasons=(
            "no tone can come from a shaft in the range given",))
    best = kept[0]
    lead = best.score - kept[1].score if len(kept) > 1 else math.inf
    reasons = [f"{60.0 * best.speed / math.tau:.0f} rpm explains {', '.join(best.explains)}"
               + (", though that tone lies above half the sampling rate" if best.folded else "")]
    if len(best.explains) == 1:
        reasons.append("it rests on one tone alone: make sure that it comes from the wheel and "
                       "moves with the throttle")
    if lead >= CLEAR_LEAD and best.score > 0.0:
        reasons.append("no other reading comes near" if math.isinf(lead) else
                       f"it leads the next, {60.0 * kept[1].speed / math.tau:.0f} rpm, by "
                       f"{lead:.0f} dB of explained sound")
        return ToneChoice(meanings=tuple(kept), chosen=True, reasons=tuple(reasons))
    reasons.append("that is no clear lead: record again closer by, at a higher sampling rate, or "
                   "give the speed you expect")
    return ToneChoice(meanings=tuple(kept), chosen=False, reasons=tuple(reasons))
