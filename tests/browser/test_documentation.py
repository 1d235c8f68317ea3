"""The documentation site in a browser: nothing spills over or is fetched, and axe finds nothing.

Built without numbers and docstrings, for time; what is looked at are the widest pages of the rest.
"""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = ("index", "physics", "commands", "words", "cautions", "scenario/candidates",
         "scenario/airframe", "tutorial/index", "tutorial/verdict")


@pytest.fixture(scope="module")
def site(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("documentation") / "site"
    subprocess.run([sys.executable, "-m", "tests.tools.documentation", str(folder), "--without-api",
                    "--without-numbers"], cwd=ROOT, check=True, capture_output=True)
    return folder


@pytest.mark.parametrize("width", [390, 1280])
def test_no_page_spills_over_or_fetches(site, page, width) -> None:
    asked: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.set_viewport_size({"width": width, "height": 900})
    for name in PAGES:
        page.goto((site / f"{name}.html").as_uri())
        assert page.evaluate("document.scrollingElement.scrollWidth") <= width, name
    assert not [url for url in asked if not url.startswith(("file:", "data:"))]


def test_formulas_are_drawn_and_search_answers(site, page) -> None:
    page.goto((site / "physics.html").as_uri())
    sizes = page.evaluate("[...document.querySelectorAll('.formula math')]"
                          ".map(one => one.getBoundingClientRect().height)")
    assert len(sizes) > 8
    assert min(sizes) > 10
    page.goto((site / "search.html").as_uri() + "?q=nozzle")
    page.wait_for_selector("#search-results li a")
    assert page.locator("#search-results li a").count() > 2


def test_axe_finds_nothing(site, browser, axe) -> None:
    """A page of its own: the rules ask for style files again, which the console tells."""
    page = browser.new_page(viewport={"width": 1280, "height": 900})
    for name in ("index", "physics", "commands", "scenario/flight"):
        page.goto((site / f"{name}.html").as_uri())
        assert [(one["id"], one["nodes"][0]["html"][:80])
                for one in axe.run(page).response["violations"]] == [], name
    page.close()
