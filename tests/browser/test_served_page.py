"""The served page in a real browser: every move asks the solver, and nothing good is lost."""

from __future__ import annotations

import threading
import time
from pathlib import Path

import numpy as np
import pytest

from tests import shipped
from thrustlapse.served.app import make_app
from thrustlapse.served.scenario_editor import ScenarioEditor
from thrustlapse.served.server import listen

uvicorn = pytest.importorskip("uvicorn")

STORY = Path("scenarios/three_ways_to_push.toml")
QUIET = "() => lapse.quiet"


@pytest.fixture
def served(tmp_path: Path):
    """An editor over a copy of the story, and its address."""
    file = tmp_path / "mine.toml"
    file.write_bytes(STORY.read_bytes())
    editor = ScenarioEditor(file=file, folder=tmp_path)
    app = make_app(editor)
    listening = listen(0)
    server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off", ws="none"))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.01)
    yield editor, f"http://127.0.0.1:{listening.getsockname()[1]}/{app.state.secret}/"
    server.should_exit = True
    thread.join(timeout=10.0)
    listening.close()


@pytest.fixture
def editor_page(served, page):
    editor, address = served
    page.goto(address)
    page.wait_for_function(QUIET)
    page.editor = editor
    return page


def handle(page, label: str):
    return page.get_by_label(label, exact=True)


def typed(page, label: str, text: str) -> None:
    field = handle(page, label)
    field.fill(text)
    field.press("Enter")
    page.wait_for_function(QUIET)


def thrust(page, place: int = 0) -> float:
    return page.evaluate(f"lapse.shown.candidates[{place}].static_thrust")


BLOWER = "blower: nozzle exit diameter"


def test_it_opens_on_the_comparison_of_the_file(editor_page) -> None:
    """Top speeds against the comparison itself, to 0.2 %."""
    answer = shipped.story()
    tops = editor_page.evaluate("lapse.shown.candidates.map((one) => [one.name, one.top.speed])")
    for name, top in tops:
        assert top == pytest.approx(answer.candidates[name].level.top_speed, rel=2e-3)
    assert "propeller is the fastest" in editor_page.locator(".live-verdict").inner_text().lower()


def test_a_typed_value_in_any_unit_is_solved(editor_page) -> None:
    before = thrust(editor_page)
    typed(editor_page, BLOWER, "0.512 in")
    first = thrust(editor_page)
    typed(editor_page, BLOWER, "13.0048 mm")
    assert thrust(editor_page) == pytest.approx(first, rel=1e-6)
    assert first != before


def test_a_slider_moves_by_keys_and_by_hand(editor_page) -> None:
    slide = editor_page.get_by_label(f"{BLOWER} [mm]", exact=True)
    before = thrust(editor_page)
    slide.focus()
    for _ in range(12):
        editor_page.keyboard.press("ArrowLeft")
    editor_page.wait_for_function(QUIET)
    by_keys = thrust(editor_page)
    assert by_keys != before
    box = slide.bounding_box()
    editor_page.mouse.move(box["x"] + 0.4 * box["width"], box["y"] + 0.5 * box["height"])
    editor_page.mouse.down()
    editor_page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.5 * box["height"], steps=6)
    editor_page.mouse.up()
    editor_page.wait_for_function(QUIET)
    assert thrust(editor_page) != by_keys
    assert "mm" in handle(editor_page, BLOWER).input_value()


def test_the_band_moves_with_its_curve_and_is_worked_out_anew(editor_page) -> None:
    """Carried along while a handle moves, the solver's own when it rests."""
    read = "lapse.shown.candidates.map((one) => [one.thrust[0], one.band.low[0], one.band.high[0]])"
    before = editor_page.evaluate(read)
    assert all(low < thrust < high for thrust, low, high in before)
    typed(editor_page, BLOWER, "13 mm")
    after = editor_page.evaluate(read)
    assert after[0] != before[0]
    assert all(low < thrust < high for thrust, low, high in after)
    own = editor_page.editor.band({("candidates", "blower", "nozzle", "exit_diameter"): "13 mm"})
    assert after[0][1] - after[0][0] == pytest.approx(own[0]["low"][0], rel=1e-6)
    # a stroke of the band's colour lies beside the curve: the canvas is not blank there
    shades = editor_page.evaluate("""() => { const one = document.querySelector('canvas');
        const pen = one.getContext('2d'); const set = new Set();
        const at = pen.getImageData(0, 0, one.width, one.height).data;
        for (let i = 3; i < at.length; i += 4) if (at[i] > 25 && at[i] < 60) set.add(at[i]);
        return set.size; }""")
    assert shades > 0


def test_the_frame_stands_while_a_slider_is_dragged(editor_page) -> None:
    high = "document.querySelectorAll('canvas').length && lapse.frame(lapse.shown)"
    axis = editor_page.locator(".live-chart")
    slide = editor_page.get_by_label("comparison electrical power [W]", exact=True)
    before, stood = axis.screenshot(), editor_page.evaluate("lapse.framed()")
    slide.scroll_into_view_if_needed()  # the picture may have put it out of the window
    box = slide.bounding_box()
    editor_page.mouse.move(box["x"] + 0.33 * box["width"], box["y"] + 0.5 * box["height"])
    editor_page.mouse.down()
    editor_page.mouse.move(box["x"] + 0.95 * box["width"], box["y"] + 0.5 * box["height"], steps=4)
    editor_page.wait_for_function(QUIET)
    assert editor_page.evaluate("lapse.framed()") == stood
    editor_page.mouse.up()
    editor_page.wait_for_function(f"() => lapse.framed()[1] > {stood[1]}")
    assert editor_page.evaluate(high)[1] == editor_page.evaluate("lapse.framed()")[1]
    assert axis.screenshot() != before


def test_a_bad_value_says_what_is_wrong_and_leaves_the_rest_working(editor_page) -> None:
    typed(editor_page, BLOWER, "14 mm")
    good = thrust(editor_page)
    typed(editor_page, "airframe mass", "eleven")
    said = editor_page.locator(".desk-faults").inner_text()
    assert "airframe.mass" in said
    assert "accepted" in said
    assert "last good curves are shown" in said
    assert handle(editor_page, "airframe mass").get_attribute("aria-invalid") == "true"
    assert thrust(editor_page) == good
    typed(editor_page, BLOWER, "13 mm")
    assert thrust(editor_page) > good
    assert editor_page.locator(".desk-faults").inner_text() == ""


def test_undo_and_redo_go_through_the_moves(editor_page) -> None:
    start = thrust(editor_page)
    typed(editor_page, BLOWER, "14 mm")
    second = thrust(editor_page)
    typed(editor_page, BLOWER, "13 mm")
    third = thrust(editor_page)
    undo = editor_page.get_by_role("button", name="Undo")
    for wanted in (second, start):
        undo.click()
        editor_page.wait_for_function(QUIET)
        assert thrust(editor_page) == pytest.approx(wanted, rel=1e-9)
    assert undo.is_disabled()
    assert handle(editor_page, BLOWER).input_value() == "15 mm"
    redo = editor_page.get_by_role("button", name="Redo")
    for wanted in (second, third):
        redo.click()
        editor_page.wait_for_function(QUIET)
        assert thrust(editor_page) == pytest.approx(wanted, rel=1e-9)
    assert redo.is_disabled()


def test_variants_stand_side_by_side(editor_page) -> None:
    editor_page.get_by_role("button", name="Keep for comparison").click()
    typed(editor_page, BLOWER, "13 mm")
    editor_page.get_by_role("button", name="Keep for comparison").click()
    typed(editor_page, BLOWER, "12 mm")
    table = editor_page.locator(".desk-variants")
    rows = table.locator("tbody tr")
    assert rows.count() == 3
    assert "as in the file" in rows.nth(1).inner_text()
    assert f"{BLOWER} = 13 mm" in rows.nth(2).inner_text()
    rows.nth(2).get_by_role("button", name="use").click()
    editor_page.wait_for_function(QUIET)
    assert handle(editor_page, BLOWER).input_value() == "13 mm"
    rows.nth(1).get_by_role("button", name="drop").click()
    assert rows.count() == 2


def test_any_number_of_the_file_can_be_fetched_by_keyboard(editor_page) -> None:
    editor_page.get_by_label("Add a control").focus()
    editor_page.keyboard.type("pack.cell_resist")
    editor_page.keyboard.press("Enter")
    assert editor_page.evaluate("document.activeElement.type") == "range"
    before = thrust(editor_page, 2)
    drawn = editor_page.evaluate("lapse.shown.candidates[2].current_here")
    typed(editor_page, "pack cell resistance", "60 mohm")
    # the same 400 W flow at a lower voltage, so a little more is lost in the leads
    assert 0.995 * before < thrust(editor_page, 2) < before
    current = editor_page.evaluate("lapse.shown.candidates[2].current_here")
    assert current > drawn


def test_written_back_the_comments_stay(editor_page) -> None:
    before = editor_page.editor.file.read_text(encoding="utf-8")
    typed(editor_page, BLOWER, "13 mm")
    editor_page.get_by_role("button", name="Write these values").click()
    editor_page.locator(".desk-told", has_text="comments and all else").wait_for()
    after = editor_page.editor.file.read_text(encoding="utf-8")
    assert after == before.replace('exit_diameter = "15 mm"', 'exit_diameter = "13 mm"')
    assert editor_page.get_by_role("button", name="Write these values").is_disabled()
    solved = thrust(editor_page)
    editor_page.reload()
    editor_page.wait_for_function(QUIET)
    assert thrust(editor_page) == pytest.approx(solved, rel=1e-6)


def test_a_write_up_is_made_and_opens(editor_page) -> None:
    typed(editor_page, BLOWER, "13 mm")
    editor_page.get_by_label("folder of a write-up").fill("narrow")
    editor_page.get_by_role("button", name="Make a write-up").click()
    link = editor_page.get_by_role("link", name="open it")
    link.wait_for(timeout=60_000)
    with editor_page.context.expect_page() as opened:
        link.click()
    told = opened.value
    told.wait_for_load_state()
    assert "Three ways to push" in told.title()
    assert told.locator("figure svg").count() > 5
    assert (editor_page.editor.folder / "narrow" / "results.json").is_file()


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1100])
def test_axe_finds_nothing_and_nothing_sticks_out(served, browser, axe, width, scheme) -> None:
    context = browser.new_context(viewport={"width": width, "height": 800}, color_scheme=scheme)
    opened = context.new_page()
    opened.goto(served[1])
    opened.wait_for_function(QUIET)
    opened.get_by_role("button", name="Keep for comparison").click()
    found = axe.run(opened)
    assert found.violations_count == 0, found.generate_report()
    assert opened.evaluate("document.documentElement.scrollWidth") <= width
    context.close()


def test_print_holds_curves_and_numbers(editor_page) -> None:
    editor_page.emulate_media(media="print")
    assert not editor_page.locator(".desk-bar").first.is_visible()
    assert editor_page.locator("#live-numbers").is_visible()
    wide = editor_page.evaluate("""() => [document.querySelector('.live canvas').clientWidth,
        document.querySelector('.live').clientWidth]""")
    assert 0 < wide[0] <= wide[1]
    assert len(editor_page.pdf()) > 10_000


def test_when_the_program_is_gone_the_curves_stand(served, page) -> None:
    page.goto(served[1])
    page.wait_for_function(QUIET)
    good = thrust(page)
    page.route("**/picture", lambda route: route.abort())
    typed(page, BLOWER, "13 mm")
    assert "does not answer" in page.locator(".desk-faults").inner_text()
    assert thrust(page) == good
    page.said.clear()  # the browser itself tells of the request that failed
    assert np.isfinite(good)
