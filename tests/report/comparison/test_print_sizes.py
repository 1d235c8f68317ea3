"""Figures for a paper or a talk: letters that read at the printed width, the reader's units."""

from __future__ import annotations

import re
from functools import cache
from pathlib import Path

import matplotlib.axis
import pytest
from click.testing import CliRunner
from matplotlib.figure import Figure
from matplotlib.text import Text

from tests.report.machines import single, three
from thrustlapse.cli import main
from thrustlapse.commands.figure import _restated
from thrustlapse.report.comparison.captions import PLOTS
from thrustlapse.report.comparison.figures import figure
from thrustlapse.report.comparison.for_print import save_for_print
from thrustlapse.report.reader_units import Restated

LEAST = 7.0
"""Smallest letters as printed [pt]: common practice of journals, no source."""

COLUMN = 3.5
"""Width of one column of two, at most [inch]; common practice, no source."""

KMH = Restated(drawn="m/s", reader="km/h", factor=3.6)
GF = Restated(drawn="N", reader="gf", factor=1000.0 / 9.80665)
"""Standard gravity 9.80665 m/s^2 (CGPM 1901)."""


@cache
def for_print(name: str, size: str) -> Figure | None:
    try:
        return figure(three(), name, size=size)
    except ValueError as told:
        assert "nothing to draw" in str(told)
        return None


def letters(made: Figure) -> list[Text]:
    made.draw_without_rendering()
    ticks = {id(text) for axes in made.axes for axis in (axes.xaxis, axes.yaxis)
             for text in axis.get_ticklabels()}
    shown = []
    for text in made.findobj(Text):
        assert isinstance(text, Text)
        if text.get_text().strip() and text.get_visible() and id(text) not in ticks:
            shown.append(text)
    return shown


@pytest.mark.parametrize("size", ["column", "page"])
@pytest.mark.parametrize("name", PLOTS)
def test_no_letter_is_below_seven_points_at_the_printed_width(name: str, size: str,
                                                              tmp_path: Path) -> None:
    if for_print(name, size) is None:
        return
    svg, *_ = save_for_print(three(), [name], tmp_path, size=size)
    text = svg.read_text("utf-8")
    wide = float(re.search(r'width="([\d.]+)pt"', text)[1]) / 72.0  # type: ignore[index]
    assert wide <= (COLUMN if size == "column" else 6.5)
    sizes = [float(found) for found in re.findall(r"font(?:-size)?: [^;\"]*?([\d.]+)px", text)]
    assert sizes
    assert min(sizes) >= LEAST


@pytest.mark.parametrize("name", PLOTS)
def test_all_letters_stay_inside_a_column(name: str) -> None:
    made = for_print(name, "column")
    if made is None:
        return
    wide, high = made.get_size_inches() * made.dpi
    for text in letters(made):
        box = text.get_window_extent()
        if text.get_clip_on() and isinstance(text.axes, matplotlib.axis.Axis):
            continue
        assert box.x0 > -1.0, text.get_text()
        assert box.x1 < wide + 1.0, text.get_text()
        assert box.y0 > -1.0, text.get_text()
        assert box.y1 < high + 1.0, text.get_text()


def test_letters_of_a_drawing_for_print_stay_letters(tmp_path: Path) -> None:
    svg, pdf, png = save_for_print(single(), ["thrust"], tmp_path, size="column")
    assert "airspeed [m/s]</text>" in svg.read_text("utf-8")
    assert pdf.read_bytes().startswith(b"%PDF")
    assert b"/FontFile2" in pdf.read_bytes()  # TrueType letters, not outlines
    assert png.read_bytes().startswith(b"\x89PNG")
    again = [path.read_bytes() for path in save_for_print(single(), ["thrust"], tmp_path,
                                                          size="column")]
    assert again == [path.read_bytes() for path in (svg, pdf, png)]


def test_axes_in_the_readers_units_read_the_same_points() -> None:
    plain, own = figure(three()), figure(three(), units=[KMH, GF])
    for made in (plain, own):
        made.draw_without_rendering()
    for which, factor, word in (("xaxis", 3.6, "km/h"), ("yaxis", 1000.0 / 9.80665, "gf")):
        axis = getattr(own.axes[0], which)
        assert any(f"[{word}]" in axes.get_xlabel() + axes.get_ylabel() for axes in own.axes)
        ticks = axis.get_majorticklocs()
        low, high = sorted(axis.get_view_interval())
        inside = [(tick, text.get_text()) for tick, text in zip(ticks, axis.get_ticklabels(),
                                                                strict=True) if low < tick < high]
        assert len(inside) > 2
        for tick, text in inside:
            assert float(text.replace("−", "-")) == pytest.approx(factor * tick, rel=1e-9, abs=1e-9)
    tops = [re.search(r"^top (\d+) m/s$", text.get_text()) for text in letters(plain)]
    said = [re.search(r"^top (\d+) km/h$", text.get_text()) for text in letters(own)]
    first = sorted(float(found[1]) for found in tops if found)
    then = sorted(float(found[1]) for found in said if found)
    assert first
    assert then == pytest.approx([3.6 * speed for speed in first], abs=0.51)


def test_a_rate_of_climb_stays_in_metres_per_second() -> None:
    made = figure(three(), "climb", units=[KMH])
    words = [text.get_text() for text in letters(made)]
    assert "rate of climb [m/s]" in words
    assert "airspeed [km/h]" in words
    assert [word for word in words if re.fullmatch(r"[\d.]+ m/s at [\d.]+ km/h", word)]


def test_a_unit_of_nothing_on_an_axis_is_refused() -> None:
    ran = CliRunner().invoke(main, ["figure", "scenarios/three_ways_to_push.toml",
                                    "--unit", "kg"])
    assert ran.exit_code == 2
    assert "--unit 'kg': no unit of speed, force" in ran.output
    with pytest.raises(ValueError, match="no size is called 'poster'"):
        figure(three(), size="poster")


def test_the_command_makes_a_figure_for_a_column(tmp_path: Path) -> None:
    out = tmp_path / "paper"
    ran = CliRunner().invoke(main, ["figure", "scenarios/three_ways_to_push.toml", "lapse",
                                    "--size", "column", "--unit", "km/h", "--out", str(out)])
    assert ran.exit_code == 0, ran.output
    assert sorted(path.name for path in out.iterdir() if path.name[0] != ".") == [
        "lapse.pdf", "lapse.png", "lapse.svg"]
    assert _restated("km/h").factor == pytest.approx(3.6, rel=1e-12)
    assert GF.factor == pytest.approx(_restated("gf").factor, rel=1e-12)
    wrong = CliRunner().invoke(main, ["figure", "scenarios/three_ways_to_push.toml", "lift"])
    assert wrong.exit_code == 2
    assert "no figure is called 'lift'; there are thrust," in wrong.output
