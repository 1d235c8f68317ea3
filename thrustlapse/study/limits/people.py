"""What a machine and an aircraft can do to people: sound, and energy at top speed."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from thrustlapse.propulsor.candidate import Candidate
from thrustlapse.propulsor.ducted_match import Ducted
from thrustlapse.rotor.dimensions import Dimensions
from thrustlapse.study.comparison import CandidateResult, Comparison, Finding
from thrustlapse.study.limits.states import States, largest

LOUD = 85.0
"""Level at the ear from which hearing protection is asked for at work [dB] (common rule)."""

SOUND_ERROR = 10.0
"""Doubt of the sound level [dB]: the rule is for large fans, and small fast ones whistle."""

FREE_FIELD = 11.0
"""Sound power level less sound pressure level 1 m from a source in the open [dB]: 10 lg(4 pi)."""

KEEN, HEARD = 15e3, 20e3
"""Tones that grown-ups and that children still hear [Hz] (from memory)."""

HARM = 80.0
"""Energy [J] from which European rules for small unmanned aircraft no longer call the impact on a
person slight (from memory)."""


def fan_sound_power(*, shaft_power: float, pressure_rise: float) -> float:
    """Sound power level of a fan [dB], 67 + 10 lg(P / kW) + 10 lg(dp / Pa).

    Beranek's rule for good fans near their best point, from memory. NaN without power or pressure.
    """
    if not (shaft_power > 0.0 and pressure_rise > 0.0):
        return float("nan")
    return float(67.0 + 10.0 * np.log10(shaft_power / 1e3) + 10.0 * np.log10(pressure_rise))


def people_findings(comparison: Comparison, result: CandidateResult, candidate: Candidate,
                    states: States, dimensions: Dimensions | None) -> Iterator[Finding]:
    """Sound at rest with the tone of the blades; energy of the aircraft at top speed."""
    rest = result.at_rest
    if isinstance(candidate.unit, Ducted):
        one = fan_sound_power(shaft_power=float(rest.shaft_power),
                              pressure_rise=float(rest.stage_pressure - rest.face_pressure))
        level = one + 10.0 * np.log10(candidate.count) - FREE_FIELD
        if np.isfinite(level):
            yield Finding(
                rank="check" if level + SOUND_ERROR > LOUD else "note", subject=result.name,
                value=float(level), limit=LOUD, unit="dB",
                change="hearing protection for everyone near; more distance: 6 dB less each time "
                       "it doubles",
                text=f"about {level:.0f} dB 1 m away at rest",
                about=f"give or take {SOUND_ERROR:.0f} dB; hearing is at risk from {LOUD:.0f} dB",
                source="a rule for large fans, from memory; common rule at work")
    yield from _tone(states, dimensions)
    if result.level is None or comparison.airframe_mass is None \
            or not np.isfinite(result.level.top_speed):
        return
    mass = comparison.airframe_mass + result.installed_mass
    energy = 0.5 * mass * result.level.top_speed**2
    yield Finding(
        rank="note", subject=result.name, value=float(energy), limit=HARM, unit="J",
        change="fly where it can strike nobody; look up the weight and speed classes of the place",
        text=f"{energy:.0f} J of kinetic energy at top speed",
        about=f"from about {HARM:.0f} J an impact is no longer called slight",
        source="European rules, from memory")


def _tone(states: States, dimensions: Dimensions | None) -> Iterator[Finding]:
    """Blade passing frequency at the fastest it runs, where the blades were counted."""
    fastest = largest(states.shaft_speed)
    if dimensions is None or not np.isfinite(fastest):
        return
    tone = float(np.max(np.asarray(dimensions.blades))) * fastest / (2.0 * np.pi)
    heard = ("within what everybody hears" if tone < KEEN else
             "near the end of hearing, which makes it no less loud" if tone < HEARD else
             "above hearing, which makes it no less loud to animals and microphones")
    yield Finding(rank="note", subject=states.name, value=tone, limit=HEARD, unit="Hz",
                  change="more distance, or an odd number of vanes behind an even one of blades",
                  text=f"its blades pass at up to {tone / 1e3:.1f} kHz, {heard}",
                  about="hearing ends at 15 to 20 kHz",
                  source="blades times turns a second; from memory")
