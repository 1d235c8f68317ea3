"""The sentences that tell which defaults stood in for what a scenario does not say."""

from __future__ import annotations

import numpy as np

from thrustlapse.scenario.units import shown as shown_exactly


def shown(value: float, kind: str) -> str:
    """A default for a sentence: three figures, in the unit people read; the span of an array."""
    low, high = (shown_exactly(float(f"{end(value):.3g}"), kind) for end in (np.min, np.max))
    return low if low == high else f"{low} to {high}"


class DefaultsLog:
    """Collects the sentences about defaults while parts are built."""

    def __init__(self, *sentences: str) -> None:
        self.sentences: list[str] = list(sentences)

    def default(self, given: float | None, value: float, sentence: str) -> float:
        """The value given, or the default with its sentence noted."""
        if given is not None:
            return given
        self.sentences.append(sentence)
        return value
