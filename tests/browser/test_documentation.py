"""The documentation site builds; in a browser nothing spills over or is fetched, axe finds nothing.

Built without numbers and docstrings, for time; what is looked at are the widest pages of the rest.
"""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = ("index", "physics", "commands", "words", "cautions", "scenario/candidates",
         "scenario/airframe", "tutorial/index", "tutorial/verdict")


@pytest.fixture(scope="module")
def built(tmp_path_factory) -> tuple[Path, subprocess.CompletedProcess[str]]:
    """The folder, and what the command that builds it said."""
    folder = tmp_path_factory.mktemp("documentation") / "site"
    return folder, subprocess.run(
        [sys.executable, "-m", "tests.tools.documentation", str(folder), "--without-api",
         "--without-numbers"], cwd=ROOT, capture_output=True, text=True, check=False)


@pytest.fixture(scope="module")
def site(built) -> Path:
    folder, run = built
    assert run.returncode == 0, run.stderr
    return folder


def test_the_site_builds_without_a_warning_and_fetches_nothing(site, built) -> None:
    """A warning or an address elsewhere is an error of the command."""
    assert str(site / "index.html") in built[1].stdout
    physics = (site / "physics.html").read_text(encoding="utf-8")
    assert physics.count("<math") > 25
    assert not [one for one in re.findall("<script[^>]*>", physics) if "math" in one.lower()]
    assert "<pre>" not in (site / "commands.html").read_text(encoding="utf-8")
    assert physics.count("<aside aria-label=") == 2


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
