"""A real browser for pages: the Chromium of the machine, headless, with no network of its own."""

from __future__ import annotations

import shutil
from collections.abc import Iterator

import pytest

NAMES = ("chromium", "chromium-browser", "google-chrome")
QUIET = ("--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync")


@pytest.fixture(scope="session")
def browser() -> Iterator:
    """One browser for all tests of a worker; they skip, and say so, where there is none."""
    playwright = pytest.importorskip("playwright.sync_api")
    path = next((found for found in map(shutil.which, NAMES) if found), None)
    if path is None:
        pytest.skip(f"no browser on this machine: none of {', '.join(NAMES)}")
    with playwright.sync_playwright() as play:
        started = play.chromium.launch(executable_path=path, args=list(QUIET))
        yield started
        started.close()


@pytest.fixture
def page(browser) -> Iterator:
    """A fresh page that fails its test on a script error or a word on the console."""
    context = browser.new_context(viewport={"width": 1100, "height": 900})
    opened = context.new_page()
    said: list[str] = []
    opened.on("pageerror", lambda error: said.append(str(error)))
    opened.on("console", lambda message: said.append(message.text))
    opened.said = said
    yield opened
    context.close()
    assert said == []


@pytest.fixture(scope="session")
def axe():
    """Finds what keeps people with other eyes or hands out: the axe rules, through their port."""
    return pytest.importorskip("axe_playwright_python.sync_playwright").Axe()
