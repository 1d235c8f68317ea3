"""The served page as one text: the view of a write-up, and handles for every number of a file."""

from __future__ import annotations

from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from thrustlapse.learning import with_evidence
from thrustlapse.report.live.files import SCRIPTS, STYLES, digest, inline_json, source
from thrustlapse.report.live.words import WORDS
from thrustlapse.report.safety_text import CAUTIONS
from thrustlapse.scenario.files.editable_values import Handle
from thrustlapse.served.labels import EDITOR_LABELS
from thrustlapse.served.scenario_editor import ScenarioEditor

FIRST_HANDLES = 9
"""Handles that stand on the page from the start; any other can be fetched."""

USUAL = (("nozzle", "exit_diameter"), ("table", "pitch"), ("comparison", "electrical_power"),
         ("airframe", "minimum_drag_coefficient"), ("airframe", "drag_area"), ("airframe", "mass"),
         ("pack", "series"))
"""Ends of the keys that are moved most, in that order."""


def page_text(editor: ScenarioEditor) -> tuple[str, str]:
    """The page, and its scripts' hashes as a policy states them."""
    found = editor.known
    data: dict[str, Any] = {
        "words": WORDS | EDITOR_LABELS, "file": editor.file.name,
        "handles": [_handle(one) for one in found],
        "first": [found.index(one) for one in _first(found)],
        "table": editor.picture({}),
        "name": f"{editor.file.stem}-report",
    }
    names = [name for name in SCRIPTS if name != "page.js"]
    scripts = [*(source(name) for name in names), _own("served.js")]
    css = "\n".join([resources.files("thrustlapse.report").joinpath("templates/page.css")
                     .read_text("utf-8"), *(source(name) for name in STYLES), _own("served.css")])
    jinja = Environment(loader=PackageLoader("thrustlapse.served", "page"), autoescape=True,
                        undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)
    text = jinja.get_template("served.html").render(
        title=editor.scenario.title, question=editor.scenario.question,
        invented=editor.scenario.invented, file=editor.file.name, words=EDITOR_LABELS,
        cautions=CAUTIONS, learned=with_evidence(editor.scenario),
        css=Markup(css), data=Markup(inline_json(data)), scripts=list(map(Markup, scripts)))
    return text, " ".join(f"'sha256-{digest(one)}'" for one in scripts)


def _own(name: str) -> str:
    return resources.files("thrustlapse.served").joinpath(f"page/{name}").read_text("utf-8")


def _handle(one: Handle) -> dict[str, Any]:
    return {"key": list(one.key), "label": one.label, "meaning": one.meaning, "text": one.text,
            "value": one.value, "unit": one.unit, "tail": one.tail, "low": one.low,
            "high": one.high, "whole": one.whole}


def _first(found: tuple[Handle, ...]) -> list[Handle]:
    """The handles moved most, as far as the file has them."""
    def rank(one: Handle) -> int:
        ends = [place for place, end in enumerate(USUAL) if one.key[-2:] == end
                or one.key == end]
        return ends[0] if ends else len(USUAL)

    usual = sorted((one for one in found if rank(one) < len(USUAL)), key=rank)
    return usual[:FIRST_HANDLES]
