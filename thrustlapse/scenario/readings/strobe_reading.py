"""What a person saw of a turning wheel on a video or under a lamp, as the command line takes it."""

from __future__ import annotations

import re

from thrustlapse.bench.shaft_speed import StrobeReading, counted
from thrustlapse.scenario.readings.heading import PLUS_MINUS
from thrustlapse.scenario.units import (
    KINDS,
    QuantityFault,
    difference_in_si,
    number_and_unit,
    to_si,
)

READ_SHARE, READ_FIXED = 0.01, 0.1
"""Standard deviation of an apparent frequency given without one: 1 % of it and 0.1 Hz, by
judgement."""

_COUNTED = re.compile(r"([+-]?[0-9]+(?:\.[0-9]+)?)\s*in\s*([0-9]+(?:\.[0-9]+)?)(?:\s*frames)?")


class StrobeReadingFault(ValueError):
    """A strobe reading that cannot be read, in words."""


def with_deviation(text: str, kind: str) -> tuple[float, float | None]:
    """A quantity and, after ± or +-, its standard deviation; faults as ``units.to_si``."""
    main, mark, rest = PLUS_MINUS.sub("±", text).partition("±")
    if not mark:
        return to_si(text, kind), None
    number, unit = number_and_unit(rest.strip(), kind)
    _, own = number_and_unit(main.strip(), kind)
    value = to_si(f"{main.strip()} {'' if own else unit}".strip(), kind)
    deviation = difference_in_si(number, unit or own, kind) if unit or own else number
    if deviation <= 0.0:
        raise QuantityFault("a spread that is not above 0",
                            f'such as "{KINDS[kind].example} +- 2" with its unit')
    return value, deviation


def read_strobe(apparent: str, *, rate: str, blades: int) -> StrobeReading:
    """A strobe reading of "12.5 Hz", "-12.5 +- 0.5 Hz" or "30 in 240" frames at a rate.

    Raises
    ------
    StrobeReadingFault
        For anything else.
    """
    per_second = _rate(rate)
    match = _COUNTED.fullmatch(apparent.strip())
    signed = apparent.strip()[:1] in ("+", "-", "−")
    if match:
        frames = float(match[2])
        if frames < 2.0:
            raise StrobeReadingFault(f"--apparent {apparent!r}: counted over two frames or more")
        if abs(float(match[1])) > 0.5 * frames:
            raise StrobeReadingFault(f"--apparent {apparent!r}: nothing seems to move on by more "
                                     "than half a blade pass from frame to frame")
        return counted(passes=float(match[1]), frames=frames, rate=per_second, repeats=blades,
                       signed=signed)
    try:
        value, deviation = with_deviation(apparent, "frequency")
    except QuantityFault as fault:
        raise StrobeReadingFault(f'--apparent {apparent!r}: {fault}; or counted, "30 in 240" '
                                 "frames") from None
    if deviation is None:
        deviation = READ_SHARE * abs(value) + READ_FIXED
    if abs(value) > 0.5 * per_second + 3.0 * deviation:
        raise StrobeReadingFault(f"--apparent {apparent!r}: at {per_second:g} a second nothing "
                                 f"seems faster than {0.5 * per_second:g} Hz")
    return StrobeReading(apparent=value, rate=per_second, repeats=blades, deviation=deviation,
                         signed=signed)


def _rate(text: str) -> float:
    plain = text.strip().casefold().removesuffix("fps").strip()
    try:
        rate = to_si(plain if plain.replace(".", "", 1).isdigit() else text, "frequency")
    except QuantityFault as fault:
        raise StrobeReadingFault(f"rate {text!r}: {fault}") from None
    if not 1.0 <= rate <= 1e7:
        raise StrobeReadingFault(f"rate {text!r}: from 1 to 10 million a second")
    return rate
