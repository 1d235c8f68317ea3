"""A page: one self-contained HTML file, figures inside, nothing fetched."""

from __future__ import annotations

import re
from dataclasses import dataclass
from importlib import resources
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape

from thrustlapse.report.safety_text import CAUTIONS
from thrustlapse.report.saved_figures import Saved, Words
from thrustlapse.report.table import Table


@dataclass(frozen=True, kw_only=True)
class Chart:
    """A figure as the page holds it."""

    title: str
    svg: Markup
    caption: str
    alt: str


def page_text(template: str, drawn: Saved, *, links: bool = True,
              **values: Any) -> str:
    """Text of a page: a template upon ``base.html``, with figures and their SVG text.

    Every page has ``css``, ``charts`` by name and ``cautions``, beside the values given; ``links``
    to the files of its figures unless it stands in no folder.
    """
    css = resources.files("thrustlapse.report").joinpath("templates/page.css").read_text("utf-8")
    charts = {one.name: Chart(title=one.title, svg=inline_svg(text, one), caption=one.caption,
                              alt=one.alt) for one, text in drawn}
    return _templates().get_template(template).render(
        css=Markup(css), charts=charts, cautions=CAUTIONS, links=links, **values)


def table_html(table: Table) -> str:
    """One table as a page has it."""
    pieces: Any = _templates().get_template("pieces.html").module
    return str(pieces.draw(table))


def _templates() -> Environment:
    return Environment(loader=PackageLoader("thrustlapse.report"), autoescape=True,
                       undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True)


def inline_svg(text: str, drawn: Words) -> Markup:
    """A figure's SVG as part of the page: own identifiers, a name, and its words beside it.

    Safe to put in unescaped: its texts are drawn as paths, and what carries them is taken out.
    """
    body = text[text.index("<svg"):]
    body = re.sub(r"<metadata>.*?</metadata>|<!--.*?-->|<title>.*?</title>|<style.*?</style>", "",
                  body, flags=re.DOTALL)
    prefix = f"{drawn.name}-"
    body = re.sub(r'\bid="', f'id="{prefix}', body)
    body = re.sub(r'href="#', f'href="#{prefix}', body)
    body = body.replace("url(#", f"url(#{prefix}")
    body = re.sub(r'<svg ([^>]*?)width="[^"]*" height="[^"]*"',
                  lambda found: f'<svg {found[1]}role="img" aria-label="{escape(drawn.title)}" '
                                f'aria-describedby="words-{drawn.name}"', body, count=1)
    return Markup(re.sub(r"\s*\n\s*", "\n", body))
