"""The README's picture of the site: ``python -m tests.tools.documentation.picture site``.

A browser's letters differ from machine to machine, so no test compares the picture; make it anew
when the page looks different.
"""

from __future__ import annotations

import argparse
import shutil
import tempfile
from pathlib import Path

from PIL import Image

from tests.browser.conftest import NAMES, QUIET

PICTURE = Path(__file__).parents[3] / "reports" / "documentation" / "verdict.png"
PAGE = "tutorial/verdict.html"
WIDTH, HEIGHT = 1280, 980
COLOURS = 128
"""Of a palette: a page of text needs no more, and the file is a third of the size."""


def take(site: Path) -> None:
    """Photograph a page of a built site."""
    from playwright.sync_api import sync_playwright

    browser = next((found for found in map(shutil.which, NAMES) if found), None)
    if browser is None:
        raise SystemExit(f"no browser on this machine: none of {', '.join(NAMES)}")
    PICTURE.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as scratch, sync_playwright() as play:
        started = play.chromium.launch(executable_path=browser, args=list(QUIET))
        page = started.new_page(viewport={"width": WIDTH, "height": HEIGHT})
        page.goto((site / PAGE).resolve().as_uri())
        page.screenshot(path=f"{scratch}/page.png")
        started.close()
        with Image.open(f"{scratch}/page.png") as taken:
            taken.convert("RGB").quantize(COLOURS).save(PICTURE, optimize=True)
    print(f"written: {PICTURE}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("site", type=Path)
    take(parser.parse_args().site)
