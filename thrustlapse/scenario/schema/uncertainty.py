"""The table [uncertainty], and the spreads that the file's quantities carry."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Annotated, Any

from pydantic import Field

from thrustlapse.distributions import Sampling, Spread
from thrustlapse.scenario.faults import KeyPath
from thrustlapse.scenario.fields import Count, Flag
from thrustlapse.scenario.section import Problem, Section, sections
from thrustlapse.scenario.spread_text import Uncertain

FEWEST = 128
"""Fewest draws from which a share of one in twenty can be told at all."""


class UncertaintySection(Section):
    """How the spreads of the file are worked through."""

    samples: Annotated[int, Count(0, 65536)] = Field(
        256, description="Draws, a power of two from 128; 0: none, the nominal values alone")
    seed: Annotated[int, Count(0, 2**31 - 1)] = Field(
        1, description="Of the draws: the same seed gives the same numbers")
    airspeeds: Annotated[int, Count(16, 1001)] = Field(
        60, description="Airspeeds over which every draw is flown")
    drivers: Annotated[bool, Flag()] = Field(
        True, description="Whether to work out what drives the answers")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        count = self.samples
        if count and (count < FEWEST or count & (count - 1)):
            near = max(FEWEST, 1 << (count.bit_length() - 1))
            yield Problem(path=("samples",), problem=f"{count} draws would not fill the space "
                          "evenly", accepted=f"0, or a power of two from {FEWEST}: "
                          f"{near} or {2 * near}")

    def sampling(self) -> Sampling:
        """The table as the study takes it."""
        return Sampling(samples=self.samples, seed=self.seed, airspeeds=self.airspeeds,
                        drivers=self.drivers)


def spreads_of(section: Section) -> Iterator[tuple[KeyPath, Spread]]:
    """Every spread of a checked file, with its key's path."""
    for path, part in sections(section):
        for name in type(part).model_fields:
            value: Any = getattr(part, name)
            if isinstance(value, tuple) and len(value) == 1:
                value = value[0]  # one quantity where a list may stand
            if isinstance(value, Uncertain):
                where = (*path, name)
                yield where, replace(value.spread, key=".".join(map(str, where)))
