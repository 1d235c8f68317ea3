"""What a reader meets first, measured in a browser on the committed write-up of the main story.

The limits (first figure within one screen of a laptop and 1.5 of a telephone, 3,000 words shown
before anything is unfolded, ten printed sheets) are this project's own: common practice, no source.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest

STORY = Path("reports/three_ways_to_push/index.html").resolve().as_uri()
FIRST_FIGURE = "document.querySelector('figure svg').getBoundingClientRect().top / innerHeight"


@pytest.mark.parametrize(("width", "height", "screens"), [(1280, 900, 1.0), (390, 844, 1.5)])
def test_the_first_figure_begins_early(page, width, height, screens) -> None:
    page.set_viewport_size({"width": width, "height": height})
    page.goto(STORY)
    assert page.evaluate(FIRST_FIGURE) < screens


def test_little_is_shown_before_anything_is_unfolded_and_nothing_is_lost(page) -> None:
    page.goto(STORY)
    shown = len(page.evaluate("document.body.innerText").split())
    page.evaluate("document.querySelectorAll('details').forEach((one) => { one.open = true; })")
    assert shown < 3000 < len(page.evaluate("document.body.innerText").split())


def test_stops_and_cautions_are_never_folded(page) -> None:
    page.goto(STORY)
    assert page.locator("#cautions + ul li").count() == 7
    assert page.locator("details :is(.stop, #cautions + ul, .alarm)").count() == 0


def test_a_printed_write_up_takes_at_most_ten_sheets(page) -> None:
    page.goto(STORY)
    printed = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b", printed)) <= 10
