"""A figure of a comparison: what draws it, and its words."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from matplotlib.figure import Figure

from thrustlapse.study.comparison import Comparison


@dataclass(frozen=True, kw_only=True)
class Plot:
    """One figure: ``draw`` gives None where there is nothing to draw, ``describe`` tells it with
    its numbers to who cannot see it, ``notes`` says what it leaves out."""

    name: str
    title: str
    caption: str
    describe: Callable[[Comparison], str]
    draw: Callable[[Comparison], Figure | None]
    notes: Callable[[Comparison], list[str]] = lambda _: []
