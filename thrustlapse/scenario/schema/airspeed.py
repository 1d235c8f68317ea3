"""The airspeeds of a scenario or a search: a range, or a list."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Annotated, ClassVar

import numpy as np
from pydantic import Field

from thrustlapse.scenario.fields import Count, Quantity, Series
from thrustlapse.scenario.section import Problem, Section

Airspeed = Annotated[float, Quantity("speed", 0.0, 1000.0)]


class AirspeedSection(Section):
    """Airspeeds at which everything is worked out."""

    ONE_OF = (("highest", "at"),)
    AT_MOST_ONE: ClassVar[tuple[tuple[str, ...], ...]] = (("lowest", "at"), ("points", "at"))
    lowest: Airspeed = Field(0.0, description="Lowest airspeed")
    highest: Airspeed | None = Field(None, description="Highest airspeed")
    points: Annotated[int, Count(1, 20001)] = Field(
        121, description="Number of airspeeds, evenly spaced, both ends among them")
    at: Annotated[tuple[float, ...], Series(Quantity("speed", 0.0, 1000.0), single=True,
                                            least=1)] | None = Field(
        None, description="One airspeed or a rising list, in place of a range")

    def check(self) -> Iterator[Problem]:
        yield from super().check()
        if self.highest is not None and self.lowest > self.highest:
            yield Problem(path=("lowest",), problem="above highest: the range is empty",
                          accepted="at most highest; equal to it for a single airspeed")
        if self.highest is not None and self.highest > self.lowest and self.points == 1:
            yield Problem(path=("points",), problem="one point cannot cover a range",
                          accepted="2 or more, or highest equal to lowest")
        if np.any(np.diff(np.array(self.at or ())) <= 0.0):
            yield Problem(path=("at",), problem="does not rise from entry to entry",
                          accepted="airspeeds in rising order, none twice")

    def airspeeds(self) -> tuple[float, ...]:
        """The airspeeds [m/s]."""
        if self.at is not None:
            return self.at
        assert self.highest is not None
        if self.highest == self.lowest:
            return (self.lowest,)
        return tuple(np.linspace(self.lowest, self.highest, self.points).tolist())
