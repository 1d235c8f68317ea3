"""The chapters of the tutorial, in the order of its table of contents, for the README."""

from __future__ import annotations

import re
from pathlib import Path

PAGES = Path(__file__).parent / "pages" / "tutorial"
PICTURE = "reports/documentation/verdict.png"


def titles() -> list[str]:
    """Titles of the chapters."""
    index = (PAGES / "index.md").read_text(encoding="utf-8")
    tree = re.search(r"```\{toctree\}(.*?)```", index, re.DOTALL)
    assert tree is not None
    return [_title(PAGES / f"{name}.md") for name in re.findall(r"^(\w+)$", tree[1], re.MULTILINE)]


def _title(page: Path) -> str:
    return page.read_text(encoding="utf-8").split("\n", 1)[0].removeprefix("# ")


def readme_lines() -> str:
    """The README's lines: the chapters, and a picture of the last one."""
    names = titles()
    return (f"The tutorial's chapters: {'; '.join(names)}.\n\n"
            f"![Chapter \"{names[-1]}\" of the tutorial: the headline, a table of candidates with "
            f"thrust and top speed, and thrust against airspeed]({PICTURE})\n")
