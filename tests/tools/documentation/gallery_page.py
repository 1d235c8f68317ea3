"""The gallery: every figure of the main story's committed report, with the lines that make it."""

from __future__ import annotations

import shutil
from pathlib import Path

from tests.tools.documentation.markdown import block, heading
from thrustlapse.report.comparison.captions import PLOTS

ROOT = Path(__file__).parents[3]
STORY = "three_ways_to_push"


def page(source: Path, folder: str) -> str:
    """Markdown of the page; its figures are put into ``folder`` of ``source``."""
    parts = [heading("Gallery"),
             "The figures of the invented story, each with the line that makes it at the width of "
             "a journal's column; in Python `tl.figure(answer, NAME)` gives the same to save or "
             "to change.\n"]
    for name, plot in PLOTS.items():
        kept = ROOT / "reports" / STORY / "figures" / f"{name}.svg"
        if not kept.exists():  # the story has nothing to show there
            continue
        shutil.copy(kept, source / folder / f"gallery-{name}.svg")
        parts += [heading(plot.title, 2),
                  block(f"thrustlapse figure scenarios/{STORY}.toml {name} --size column",
                        "console"),
                  f"```{{image}} /{folder}/gallery-{name}.svg\n:alt: {plot.title}\n:class: chart\n"
                  "```\n", f"{plot.caption}\n"]
    return "\n".join(parts)
