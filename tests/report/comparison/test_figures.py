"""Figures draw the comparison's own numbers, say them in words, and repeat to the byte."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from importlib import resources
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest
from matplotlib.axes import Axes
from matplotlib.colors import to_hex, to_rgb
from matplotlib.figure import Figure
from matplotlib.patches import Rectangle

from tests.report.machines import (
    blower,
    equal_power,
    five,
    hand_made,
    propeller,
    single,
    three,
    two,
    without_airframe,
)
from thrustlapse.report.comparison.captions import PLOTS, caption
from thrustlapse.report.comparison.figures import (
    draw_figures,
    figure,
)
from thrustlapse.report.comparison.power_breakdown import breakdowns
from thrustlapse.report.figure_labels import Labels, end_labels
from thrustlapse.report.figure_style import (
    ends_inside,
    most_letters,
    new_figure,
    place_axes,
    shortened,
)
from thrustlapse.report.looks import INKS, KINDS, looks, series_looks
from thrustlapse.report.saved_figures import PRINT_DOTS, save_figures
from thrustlapse.scenario.files import kinds
from thrustlapse.study.compare import compare
from thrustlapse.study.comparison import AS_BUILT, INSTALLED, ON_AIRFRAME, Comparison

NAMES = list(PLOTS)


@dataclass(frozen=True, kw_only=True)
class Machine:
    """Anything of a kind."""

    kind: str


@cache
def still() -> Comparison:
    """A single airspeed, at rest, without an airframe."""
    return compare(hand_made(blower(), propeller(), airframe=None, airspeeds=np.array([0.0])))


@cache
def crowd() -> Comparison:
    """Eighty candidates, of two kinds of numbers."""
    base = two()
    kinds = list(base.candidates)
    source = {f"machine {place}": kinds[place % 2] for place in range(80)}
    assert base.aircraft is not None
    flown = replace(base.aircraft, performances={
        name: base.aircraft.performances[kind] for name, kind in source.items()})
    return replace(base, aircraft=flown, candidates={
        name: replace(base.candidates[kind], name=name) for name, kind in source.items()},
        footing_curves={footing: {name: curves[kind] for name, kind in source.items()}
                        for footing, curves in base.footing_curves.items()})


@cache
def drawn(make: Callable[[], Comparison], name: str) -> Figure | None:
    return PLOTS[name].draw(make())


def panels(figure: Figure | None) -> list[Axes]:
    assert figure is not None
    return figure.axes


def has_line(axes: Axes, x: np.ndarray, y: np.ndarray) -> bool:
    return any(np.array_equal(line.get_xdata(), x, equal_nan=True)
               and np.array_equal(line.get_ydata(), y, equal_nan=True)
               for line in axes.get_lines())


def test_thrust_lines_are_the_curves() -> None:
    axes, x = panels(drawn(three, "thrust"))[0], three().airspeed
    for result in three().candidates.values():
        assert has_line(axes, x, result.curve.installed_thrust)
        assert has_line(axes, x, result.count * result.curve.net_thrust)
    assert axes.get_ylim()[0] < 0.0 < axes.get_ylim()[1]
    assert "[m/s]" in panels(drawn(three, "thrust"))[-1].get_xlabel()
    assert "[N]" in axes.get_ylabel()


def test_drag_is_drawn_above_the_stall_only() -> None:
    axes, result = panels(drawn(single, "thrust"))[0], single().candidates["blower"]
    drag = np.where(single().airspeed >= result.level.stall_speed, result.drag, np.nan)
    assert has_line(axes, single().airspeed, drag)
    assert not has_line(axes, single().airspeed, result.drag)


def test_crossovers_and_top_speeds_are_marked() -> None:
    axes = panels(drawn(three, "thrust"))[-1]
    rings = {(line.get_xdata()[0], line.get_ydata()[0]) for line in axes.get_lines()
             if line.get_marker() == "o" and len(line.get_xdata()) == 1}
    stars = {line.get_xdata()[0] for line in axes.get_lines() if line.get_marker() == "*"}
    assert rings == {(one.airspeed, one.net_thrust) for one in three().crossovers
                     if one.kind == INSTALLED and one.net_thrust > 0.0}
    assert stars == {result.level.top_speed for result in three().candidates.values()}
    words = [text.get_text() for text in axes.texts]
    crossing = next(one for one in three().crossovers if one.kind == ON_AIRFRAME
                    and "propeller" in one.between and one.net_thrust > 0.0)
    assert f"crossover {crossing.airspeed:.0f} m/s" in words
    assert f"top {three().candidates['propeller'].level.top_speed:.0f} m/s" in words


def test_a_gap_stays_a_gap_and_its_edge_is_crossed() -> None:
    result = two().candidates["propeller"]
    thrust = result.curve.installed_thrust.copy()
    thrust[10:15] = np.nan
    holed = replace(two(), candidates={**two().candidates, "propeller": replace(
        result, curve=replace(result.curve, installed_thrust=thrust))})
    axes = panels(PLOTS["thrust"].draw(holed))[0]
    assert has_line(axes, two().airspeed, thrust)
    crosses = np.concatenate([line.get_xdata() for line in axes.get_lines()
                              if line.get_marker() == "x"])
    assert {two().airspeed[9], two().airspeed[15]} <= set(crosses.tolist())
    assert "nothing is known beyond" in draw_figures(two())[0].caption


@pytest.mark.parametrize(("values", "marked"), [
    ([1.0, 2.0, 3.0], []), ([1.0, np.nan, 3.0], [0, 2]), ([np.nan, 2.0, 3.0], [1]),
    ([np.nan, np.nan, np.nan], []), ([1.0], []),
])
def test_edges_of_gaps(values: list[float], marked: list[int]) -> None:
    assert np.flatnonzero(ends_inside(np.array(values))).tolist() == marked


def test_reduced_lapse_lines_and_theories() -> None:
    axes = panels(drawn(three, "lapse"))[0]
    for result in three().candidates.values():
        assert has_line(axes, result.lapse.speed_ratio, result.lapse.thrust_ratio)
    straight = next(line for line in axes.get_lines() if line.get_linestyle() == ":"
                    and to_hex(line.get_color()) == "#8a8a8a")
    x, y = np.asarray(straight.get_xdata()), np.asarray(straight.get_ydata())
    assert np.allclose(y, 1.0 - x, atol=1e-14)  # constant jet speed, by definition
    assert x[0] == 0.0
    assert np.all(np.diff(x) > 0.0)


def test_watts_bars_are_the_books_and_fill_the_bar() -> None:
    axes = panels(drawn(three, "watts"))[0]
    bars = [patch for patch in axes.patches if isinstance(patch, Rectangle)]
    rows: dict[float, list[float]] = {}
    for bar in bars:
        rows.setdefault(round(bar.get_y(), 6), []).append(bar.get_width())
    books = [one for name in three().candidates for one in breakdowns(three(), name)]
    assert len(rows) == len(books) == 6
    for widths, one in zip(rows.values(), books, strict=True):
        assert sum(widths) == pytest.approx(100.0, abs=1e-6)
        assert widths == pytest.approx([100.0 * part / one.power for part in one.parts])


def test_nozzle_lines_best_points_and_the_exit_as_built() -> None:
    picture = drawn(three, "nozzle")
    studies = [result.nozzle for result in three().candidates.values() if result.nozzle]
    assert len(panels(picture)) == len(studies) == 2
    for axes, study in zip(panels(picture), studies, strict=True):
        for column in range(study.airspeed.size):
            assert has_line(axes, 1000.0 * study.diameter, study.thrust[:, column])
        dots = sorted(line.get_xdata()[0] for line in axes.get_lines()
                      if line.get_marker() == "o")
        assert dots == pytest.approx(sorted(1000.0 * study.best_diameter))
        assert any(list(line.get_xdata()) == [1000.0 * study.fixed_diameter] * 2
                   for line in axes.get_lines())


def test_no_nozzle_figure_without_a_nozzle() -> None:
    only = replace(two(), crossovers=(),
                   candidates={"propeller": two().candidates["propeller"]})
    assert PLOTS["nozzle"].draw(only) is None


def test_one_figure_by_name() -> None:
    assert len(figure(two(), "lapse").axes) == 1
    assert len(figure(two()).axes) >= 1
    with pytest.raises(ValueError, match="there are thrust, useful_power, break_even"):
        figure(two(), "thrusts")
    only = replace(two(), crossovers=(), candidates={"propeller": two().candidates["propeller"]})
    with pytest.raises(ValueError, match="nothing to draw"):
        figure(only, "nozzle")


def test_efficiency_is_shown_only_where_there_is_thrust() -> None:
    overall = panels(drawn(two, "efficiency"))[1]
    result = two().candidates["blower"]
    expected = 100.0 * np.where(result.curve.installed_thrust >= 0.0,
                                result.curve.overall_efficiency, np.nan)
    assert has_line(overall, two().airspeed, expected)
    assert overall.get_ylim()[0] == 0.0


def test_drive_power_and_limits_along_the_curve() -> None:
    power, limits = panels(drawn(two, "drive"))
    for result in two().candidates.values():
        assert has_line(power, two().airspeed, result.curve.electrical_power)
    words = [text.get_text() for text in limits.texts]
    assert words == ["power", "blower", "power", "full voltage", "propeller"]
    ends = [(bar.get_x(), bar.get_x() + bar.get_width()) for bar in limits.patches]
    assert ends[1][1] == pytest.approx(ends[2][0])


def test_every_footing_that_differs_has_a_panel_in_its_own_unit() -> None:
    """All three run at 400 W here as given, so that two footings are one picture."""
    axes = panels(drawn(equal_power, "footings"))
    curves = equal_power().footing_curves
    for name, values in curves["as given"].items():
        np.testing.assert_allclose(values, curves["same electrical power"][name], rtol=1e-3)
    assert len(axes) == len(curves) - 1 == 3
    assert ("As given gives the same curves as same electrical power here, and stands in its "
            "panel.") in caption(equal_power(), "footings")
    assert any("N/kg" in one.get_ylabel() for one in axes)
    area = next(one for one in axes if "N/cm²" in one.get_ylabel())
    curve = equal_power().footing_curves["thrust per frontal area"]["blower"]
    assert has_line(area, equal_power().airspeed, 1e-4 * curve)


def test_useful_power_is_thrust_times_airspeed_beside_what_flight_needs() -> None:
    axes, x = panels(drawn(three, "useful_power"))[0], three().airspeed
    for name, result in three().candidates.items():
        assert has_line(axes, x, x * result.curve.installed_thrust)
        if result.nozzle is not None:
            assert has_line(axes, x, x * three().best_nozzles[name].best_thrust)
    drag = max((result.drag for result in three().candidates.values()), key=np.nansum)
    stall = max(result.level.stall_speed for result in three().candidates.values())
    assert has_line(axes, x, np.where(x >= stall, x * drag, np.nan))
    stars = {(line.get_xdata()[0], line.get_ydata()[0]) for line in axes.get_lines()
             if line.get_marker() == "*"}
    assert stars == {(result.level.top_speed,
                      result.level.top_speed * result.at_top.installed_thrust.item())
                     for result in three().candidates.values()}
    assert "[W]" in axes.get_ylabel()
    assert not any("needs" in text.get_text()
                   for text in panels(drawn(without_airframe, "useful_power"))[0].texts)


@pytest.mark.parametrize("make", [three, without_airframe], ids=lambda make: make.__name__)
def test_efficiency_needed_stands_beside_the_own_one(make: Callable[[], Comparison]) -> None:
    kind = ON_AIRFRAME if make is three else INSTALLED
    every = panels(drawn(make, "break_even"))
    assert [axes.get_title(loc="left") for axes in every] == list(make().candidates)
    for axes, name in zip(every, make().candidates, strict=True):
        shown = [one for one in make().break_even if one.candidate == name and one.kind == kind]
        assert len(shown) >= len(make().candidates) - 1
        for one in shown:
            assert has_line(axes, make().airspeed, 100.0 * one.own_chain_efficiency)
            if one.exit == AS_BUILT:
                for needed in (one.needed_chain_efficiency_jet_held,
                               one.needed_chain_efficiency_exit_held):
                    assert has_line(axes, make().airspeed, 100.0 * needed)
        assert axes.get_ylim()[1] > 100.0
        assert has_line(axes, np.array([0, 1]), np.array([100.0, 100.0]))
        assert "[%]" in axes.get_ylabel()
        assert "[m/s]" in axes.get_xlabel()


# Looks and words ---------------------------------------------------------------------------------


@pytest.mark.parametrize("name", NAMES)
def test_eighty_candidates_are_all_named_and_leave_room_for_the_panels(name: str) -> None:
    one = drawn(crowd, name)
    if one is None:
        return
    high = one.get_size_inches()[1]
    one.canvas.draw()
    named = [text for text in one.texts if text.get_text().startswith("machine ")]
    assert len(named) in (0, 80)
    lowest = min((text.get_window_extent().y0 for text in named), default=high * one.dpi)
    for axes in one.axes:
        box = axes.get_window_extent()
        assert box.height > 0.25 * one.dpi
        assert box.y0 > 0.0
        assert box.y1 < lowest
    assert high * PRINT_DOTS < 65_536  # pixels a PNG can have here


def test_eighty_candidates_have_eighty_looks() -> None:
    shown = series_looks(f"series {place}" for place in range(80))
    assert len({(look.colour, str(look.dash), look.marker) for look in shown.values()}) == 80
    many = looks({f"candidate {place}": Machine(kind=KINDS[place % 4]) for place in range(252)})
    assert len({(look.colour, str(look.dash), look.marker) for look in many.values()}) == 252


def test_a_kind_looks_the_same_whoever_stands_beside_it() -> None:
    few = looks({"mine": Machine(kind="propeller"), "yours": Machine(kind="blower")})
    many = looks({"a": Machine(kind="axial fan"), "b": Machine(kind="blower"),
                  "c": Machine(kind="propeller"), "d": Machine(kind="propeller")})
    assert few["yours"] == many["b"]
    assert few["mine"] == many["c"]
    assert many["d"].marker == many["c"].marker
    assert many["d"].colour != many["c"].colour
    assert many["d"].dash != many["c"].dash


def test_the_live_page_has_the_same_colours() -> None:
    script = resources.files("thrustlapse.report").joinpath("live/view.js").read_text("utf-8")
    listed = re.search(r"light: \[(.*?)\]", script, re.DOTALL)
    assert listed is not None
    assert tuple(re.findall("#[0-9A-F]{6}", listed[1], re.IGNORECASE)) == INKS
    style = resources.files("thrustlapse.report").joinpath("live/live.css").read_text("utf-8")
    light = style[style.index(".ink-0"):].partition("@media")[0]
    shown = dict(re.findall(r"\.ink-(\d+) \{ stroke: (#\w+); \}", light))
    assert tuple(shown[str(place)] for place in range(len(INKS))) == INKS


def test_colours_are_told_apart_also_in_grey() -> None:
    # relative luminance after the sRGB weights; dashes and markers carry what grey cannot
    assert KINDS == kinds.KINDS  # every kind that a scenario may name
    each = list(looks({kind: Machine(kind=kind) for kind in KINDS}).values())
    assert len({str(look.dash) for look in each}) == len({look.marker for look in each}) == 4
    of_a_kind = list(looks({str(n): Machine(kind="blower") for n in range(7)}).values())
    assert len({str(look.dash) for look in of_a_kind}) == 7
    assert {INKS[0], INKS[3], INKS[6]} == {"#0072B2", "#D55E00", "#009E73"}  # Okabe and Ito, 2008
    for colour in INKS:
        red, green, blue = to_rgb(colour)
        assert 0.2126 * red + 0.7152 * green + 0.0722 * blue < 0.55  # reads on white


@cache
def endless() -> Comparison:
    """Names longer than a figure is wide."""
    words = "salvaged two-stage vacuum blower from the workshop shelf, inlet flared, "
    return compare(hand_made(blower(words + "19 mm exit, first build"),
                             blower(words + "17 mm exit, second build", exit_diameter=0.017),
                             propeller("7 x 5 inch propeller on the long shaft, no spinner")))


def test_a_name_too_long_loses_its_middle_only() -> None:
    assert shortened("blower") == "blower"
    first, second = [shortened(name) for name in list(endless().candidates)[:2]]
    assert first != second
    assert len(first) <= most_letters()
    assert first.startswith("salvaged two-stage")
    assert second.endswith("second build")


@pytest.mark.parametrize("make", [single, three, five, still, endless],
                         ids=lambda make: make.__name__)
@pytest.mark.parametrize("name", NAMES)
def test_text_stays_inside_the_figure_and_off_other_text(
        make: Callable[[], Comparison], name: str) -> None:
    figure = drawn(make, name)
    if (make().aircraft is None and name in ("drag", "climb")) or (
            make().uncertainty is None and name in ("chances", "drivers", "power_band")) or (
            len(make().candidates) == 1 and name == "break_even") or (
            make().flights is None and name.startswith("flight")):
        assert figure is None
        return
    assert figure is not None
    figure.draw_without_rendering()
    page = figure.bbox
    texts = [*figure.texts]
    for axes in figure.axes:
        texts += [*axes.texts, axes.title, axes.xaxis.label, axes.yaxis.label,
                  axes._left_title, axes._right_title]
    boxes = [(text.get_text(), text.get_window_extent()) for text in texts
             if text.get_text().strip()]
    for said, box in boxes:
        assert box.x0 >= page.x0 - 1.0, said
        assert box.x1 <= page.x1 + 1.0, said
        assert box.y0 >= page.y0 - 1.0, said
        assert box.y1 <= page.y1 + 1.0, said
    clashes = [(first, second) for place, (first, one) in enumerate(boxes)
               for second, other in boxes[place + 1:]
               if one.shrunk(0.9, 0.8).overlaps(other.shrunk(0.9, 0.8))]
    assert not clashes


@pytest.mark.parametrize("make", [three, without_airframe, still], ids=lambda make: make.__name__)
def test_every_figure_is_described_with_numbers(make: Callable[[], Comparison]) -> None:
    for one in draw_figures(make()):
        assert one.title
        assert len(one.caption) > 40
        assert len(one.alt) > 60
        assert re.search(r"\d", one.alt)
        assert "nan" not in one.alt
        for name in make().candidates:
            assert name in one.alt or (one.name == "nozzle" and name == "propeller")


def test_the_description_carries_the_curve() -> None:
    alt = {one.name: one.alt for one in draw_figures(two())}
    top = two().candidates["propeller"].level.top_speed
    assert f"propeller {top:.1f} m/s" in alt["thrust"]
    assert "built with 19.0 mm" in alt["nozzle"]
    assert "full voltage from 53.0 m/s" in alt["drive"]


def test_saved_figures_are_the_same_bytes(tmp_path: Path) -> None:
    texts = []
    for run in ("first", "second"):
        (tmp_path / run).mkdir()
        chosen = [one for one in draw_figures(two()) if one.name in ("thrust", "nozzle")]
        texts += [text for _, text in save_figures(chosen, tmp_path / run)]
    for name in ("thrust", "nozzle"):
        for kind in ("svg", "png"):
            assert (tmp_path / "first" / f"{name}.{kind}").read_bytes() == \
                (tmp_path / "second" / f"{name}.{kind}").read_bytes()
    assert "2026" not in texts[0]
    root = ElementTree.fromstring(texts[0])
    assert root.tag.endswith("svg")
    assert root[0].text == "Thrust against airspeed"


def test_names_are_never_read_as_formulas(tmp_path: Path) -> None:
    odd = r"50$_{mm}$ fan \frac"
    named = replace(two(), aircraft=None,
                    candidates={odd: replace(two().candidates["blower"], name=odd)},
                    crossovers=(), footing_curves={
                        "as given": {odd: two().footing_curves["as given"]["blower"]}},
                    other_footings={})
    for _, text in save_figures(draw_figures(named), tmp_path):
        assert text.startswith("<?xml")


def test_labels_keep_clear_of_curves_and_of_each_other() -> None:
    figure = new_figure(4.0)
    axes = place_axes(figure, left=0.6, bottom=0.5)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.0)
    x = np.linspace(0.0, 1.0, 50)
    labels = Labels(axes=axes)
    for name, y in {"rising": x, "falling": 1.0 - x}.items():
        labels.avoid(x, y, name)
    labels.on_curve(x, x, "rising", owner="rising", colour="black")
    labels.on_curve(x, 1.0 - x, "falling", owner="falling", colour="blue")
    labels.at_point(0.5, 0.5, "where they meet", colour="grey")
    (first, second, third), pixels = labels.boxes, axes.transData.transform
    for box, other in ((first, second), (first, third), (second, third)):
        assert box[2] <= other[0] or other[2] <= box[0] or box[3] <= other[1] \
            or other[3] <= box[1]
    for box in labels.boxes:
        for y in (x, 1.0 - x):
            points = pixels(np.column_stack([x, y]))
            assert not np.any((points[:, 0] > box[0]) & (points[:, 0] < box[2])
                              & (points[:, 1] > box[1]) & (points[:, 1] < box[3]))


def test_end_labels_spread_where_curves_end_together() -> None:
    figure = new_figure(3.0)
    axes = place_axes(figure, left=0.6, bottom=0.5, right=0.8)
    axes.set_xlim(0.0, 1.0)
    axes.set_ylim(0.0, 1.0)
    x = np.linspace(0.0, 1.0, 5)
    curves = [(x, 0.5 + 0.001 * place + 0.0 * x, f"line {place}", "black") for place in range(5)]
    gone = (x, 0.5 - 2.0 * x, "leaves", "black")
    assert end_labels(axes, [*curves, gone]) == [5]
    heights = sorted(text.get_window_extent().y0 for text in axes.texts)
    assert min(np.diff(heights)) > 9.0
