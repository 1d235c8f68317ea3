"""What a machine and an aircraft can do to people: sound, and energy at top speed."""

from __future__ import annotations

import numpy as np

from thrustlapse.arrays import Array, Values
from thrustlapse.propulsor.ducted_unit import Ducted
from thrustlapse.study.limits.limit import Limit, Reading
from thrustlapse.study.limits.states import States

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


def fan_sound_power(*, shaft_power: Values, pressure_rise: Values) -> Array:
    """Sound power level of a fan [dB], 67 + 10 lg(P / kW) + 10 lg(dp / Pa).

    Beranek's rule for good fans near their best point, from memory. NaN without power or pressure.
    """
    power, rise = np.asarray(shaft_power, dtype=float), np.asarray(pressure_rise, dtype=float)
    with np.errstate(invalid="ignore", divide="ignore"):
        level = 67.0 + 10.0 * np.log10(power / 1e3) + 10.0 * np.log10(rise)
        return np.where((power > 0.0) & (rise > 0.0), level, np.nan)


def _sound(states: States) -> Array | None:
    """Sound pressure level 1 m from all units at rest [dB]."""
    if not isinstance(states.candidate.unit, Ducted):
        return None
    one = fan_sound_power(shaft_power=states.rest.shaft_power,
                          pressure_rise=states.rest.stage_pressure - states.rest.face_pressure)
    return np.atleast_1d(one + 10.0 * np.log10(states.candidate.count) - FREE_FIELD)


def _tone(states: States) -> Array | None:
    """Blade passing frequency, where the blades were counted [Hz]."""
    if states.dimensions is None:
        return None
    blades = float(np.max(np.asarray(states.dimensions.blades)))
    return np.asarray(blades * states.each("shaft_speed") / (2.0 * np.pi))


def _tone_words(at: Reading) -> str:
    heard = ("within what everybody hears" if at.value < KEEN else
             "near the end of hearing, which makes it no less loud" if at.value < HEARD else
             "above hearing, which makes it no less loud to animals and microphones")
    return f"its blades pass at up to {at.value / 1e3:.1f} kHz, {heard}"


def _energy(states: States) -> Array:
    return np.atleast_1d(0.5 * np.asarray(states.total_mass) * np.square(states.top_speed))


LIMITS = (
    Limit(name="sound", meaning="it is loud enough to harm hearing", unit="dB", value=_sound,
          bound=lambda _: LOUD, ranks={"check": SOUND_ERROR / LOUD, "note": np.inf},
          text=lambda at: f"about {at.value:.0f} dB 1 m away at rest",
          about=f"± {SOUND_ERROR:.0f} dB; wear hearing protection above {LOUD:.0f} dB",
          remedy="hearing protection for everyone near; more distance: 6 dB less each time it "
                 "doubles", source="a rule for large fans, from memory; common rule at work"),
    Limit(name="tone", meaning="its blades pass above hearing", unit="Hz", value=_tone,
          bound=lambda _: HEARD, ranks={"note": np.inf}, text=_tone_words,
          about="hearing ends at 15 to 20 kHz",
          remedy="more distance, or an odd number of vanes behind an even one of blades",
          source="blades times turns a second; from memory"),
    Limit(name="impact energy", meaning="an impact at top speed is not slight", unit="J",
          value=_energy, bound=lambda _: HARM, ranks={"note": np.inf},
          text=lambda at: f"{at.value:.0f} J of kinetic energy at top speed",
          about=f"from about {HARM:.0f} J an impact is no longer called slight",
          remedy="fly where it can strike nobody; look up the weight and speed classes of the "
                 "place", source="European rules, from memory"),
)
