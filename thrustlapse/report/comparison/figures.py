"""All figures of a comparison: drawn, captioned and described in words.

    save_figures(draw_figures(comparison), folder)
    figure(comparison, "thrust").savefig("thrust.pdf")

A figure needs nothing but the comparison. Words and numbers are in ``captions.py``.
"""

from __future__ import annotations

from matplotlib.figure import Figure

from thrustlapse.report.comparison.captions import PLOTS, alt_text, caption
from thrustlapse.report.saved_figures import Drawn
from thrustlapse.study.comparison import Comparison


def figure(comparison: Comparison, name: str = "thrust") -> Figure:
    """One figure of a comparison, to show or to save: ``figure(answer, "lapse").savefig(path)``.

    Parameters
    ----------
    comparison : Comparison
    name : str
        One of :data:`~thrustlapse.report.comparison.captions.PLOTS`

    Raises
    ------
    ValueError
        For a name that is no figure, or a figure the comparison has no data for.
    """
    if name not in PLOTS:
        raise ValueError(f"no figure is called {name!r}; there are {', '.join(PLOTS)}")
    made = PLOTS[name].draw(comparison)
    if made is None:
        raise ValueError(f"this comparison has nothing to draw for {name!r}")
    return made


def draw_figures(comparison: Comparison) -> list[Drawn]:
    """Every figure the comparison has data for."""
    drawn = []
    for name, plot in PLOTS.items():
        figure = plot.draw(comparison)
        if figure is not None:
            drawn.append(Drawn(name=name, title=plot.title, figure=figure,
                               caption=caption(comparison, name),
                               alt=alt_text(comparison, name)))
    return drawn
