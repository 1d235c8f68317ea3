"""The documentation site: pages written by hand are filled with numbers worked out now, the others
are made from the code, and Sphinx turns all of them into HTML that needs no network.
"""

from __future__ import annotations

import re
import shutil
import tempfile
import textwrap
from collections.abc import Callable
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import jinja2

from tests.credibility import collect, figure
from tests.credibility.facts import families
from tests.tools.documentation import (
    api_pages,
    command_pages,
    gallery_page,
    mistakes_page,
    ruler_drawing,
    scenario_pages,
    sure_page,
    words_page,
)
from tests.tools.documentation.facts import facts
from tests.tools.documentation.markdown import block
from tests.tools.documentation.story import Story, work_through
from thrustlapse.report.safety_text import CAUTIONS, LIMITS

PAGES = Path(__file__).parent / "pages"
FIGURES = "_static/story"
SHORT = WIDE = 84
"""Letters of a line of a command, or of what it says, that fit on the page."""

DUBLIN = "{http://purl.org/dc/elements/1.1/}"


class SiteError(RuntimeError):
    """A site that could not be built; the message says what was said."""


def build(folder: Path, *, api: bool = True, numbers: bool = True) -> Path:
    """Build the site in ``folder``, which must be its own; returns its first page.

    ``api=False`` leaves out the pages made from docstrings, ``numbers=False`` leaves blank what the
    story and the records would fill in: both for a quick look, or a quick test, of the rest.

    Raises
    ------
    SiteError
        If a page has anything that is worth a warning, or would fetch anything over a network.
    """
    from sphinx.cmd.build import build_main

    with tempfile.TemporaryDirectory() as scratch:
        source = Path(scratch) / "source"
        write_source(source, Path(scratch) / "story", api=api, numbers=numbers)
        _make_way(folder)
        failed = build_main(["-b", "html", "-q", "-W", "--keep-going", "-d",
                             str(Path(scratch) / "doctrees"), str(source), str(folder)])
        if failed:
            kept = folder.with_name(f"{folder.name}-source")
            shutil.rmtree(kept, ignore_errors=True)
            shutil.copytree(source, kept)
            raise SiteError(f"the site has warnings, said above; its source: {kept}")
    for page in folder.rglob("*.html"):
        page.write_text(reachable(page.read_text(encoding="utf-8")), encoding="utf-8")
    if fetched := [line for page in sorted(folder.rglob("*")) for line in fetches(page)]:
        raise SiteError("the pages would fetch over a network:\n" + "\n".join(fetched))
    return folder / "index.html"


REACH = {"<pre>": '<pre tabindex="0">',
         '<aside class="sidebar-drawer"': '<aside aria-label="all pages" class="sidebar-drawer"',
         '<aside class="toc-drawer': '<aside aria-label="this page" class="toc-drawer'}
"""What the theme leaves out: text that scrolls must be reached by the keyboard, and a screen reader
tells two sidebars apart by their names."""


def reachable(page: str) -> str:
    """A page that needs neither mouse nor eyes."""
    for plain, named in REACH.items():
        page = page.replace(plain, named)
    return page


def _make_way(folder: Path) -> None:
    """Remove an earlier site, and nothing that is not one."""
    if not folder.exists():
        return
    if any(folder.iterdir()) and not (folder / ".buildinfo").exists():
        raise SiteError(f"{folder} holds something else than an earlier site: give another folder")
    shutil.rmtree(folder)


LOADS = re.compile(r"""<(?:script|img|iframe|source|video|audio|embed|object)\b[^>]*?
                       \b(?:src|data|srcset)\s*=\s*["']?\s*((?:https?:)?//[^"'\s>]+)
                    |  <link\b(?=[^>]*\brel=["']?(?:stylesheet|icon|preload|preconnect|search))
                       [^>]*?\bhref=["']?\s*((?:https?:)?//[^"'\s>]+)
                    |  (?:url\(|@import)\s*["']?\s*((?:https?:)?//[^"')\s]+)
                    |  \b(?:fetch|importScripts)\(\s*["'`]((?:https?:)?//[^"'`]+)""",
                   re.VERBOSE | re.IGNORECASE)
"""What makes a browser load something from another place; a link that a person follows does not."""


def fetches(file: Path) -> list[str]:
    """Addresses that a page, a style or a script would load from elsewhere."""
    if file.suffix not in {".html", ".css", ".js", ".svg"}:
        return []
    return [f"{file.name}: {next(filter(None, found))}"
            for found in LOADS.findall(file.read_text(encoding="utf-8"))]


def write_source(source: Path, workshop: Path, *, api: bool, numbers: bool = True) -> None:
    """Everything Sphinx reads: filled pages, made pages, figures."""
    shutil.copytree(PAGES, source)
    (source / FIGURES).mkdir(parents=True)
    ruler_drawing.save(source / FIGURES)
    made = {"commands.md": command_pages.page(), "words.md": words_page.page(),
            "mistakes.md": mistakes_page.page(),
            "gallery.md": gallery_page.page(source, FIGURES),
            **{f"scenario/{name}.md": text for name, text in scenario_pages.pages().items()},
            **api_pages.pages(complete=api)}
    if numbers:
        story, records = work_through(workshop), collect.groups()
        fill(source, {**facts(story), **_tools(story, source)}, jinja2.StrictUndefined)
        figure.save(families(records), source / FIGURES)
        made["how_sure.md"] = sure_page.page(records, f"/{FIGURES}")
    else:
        fill(source, dict.fromkeys(TOOLS, lambda *_: ""), jinja2.ChainableUndefined)
        made["how_sure.md"] = "# How sure\n"
    for name, text in made.items():
        (source / name).parent.mkdir(exist_ok=True)
        (source / name).write_text(text, encoding="utf-8")


def fill(source: Path, known: dict[str, Any], unknown: type[jinja2.Undefined]) -> None:
    """Fill every page written by hand."""
    environment = jinja2.Environment(undefined=unknown, autoescape=False, trim_blocks=True,
                                     lstrip_blocks=True, keep_trailing_newline=True)
    for page in sorted(source.rglob("*.md")):
        text = environment.from_string(page.read_text(encoding="utf-8")).render(
            {"cautions": CAUTIONS, "limits": LIMITS, **known})
        page.write_text(text, encoding="utf-8")


TOOLS = ("typed", "said", "drawn", "toml", "file", "lines", "bullets")
"""What a page may call to show a command, its answer, a figure, a part of a file, and the like."""


def _tools(story: Story, source: Path) -> dict[str, Callable[..., str]]:
    def typed(step: str) -> str:
        """The command of a step, as typed; a long one goes on in the next line."""
        words = story.typed[step]
        return block(words if len(words) < SHORT else words.replace(" --", " \\\n    --"),
                     "console")

    def said(step: str, until: str = "") -> str:
        """What the command printed, up to a line that begins so."""
        text = story.said[step].rstrip()
        if until:
            kept = text.split(f"\n{until}", 1)
            assert len(kept) == 2, f"{step} says nothing that begins with {until!r}"
            text = f"{kept[0].rstrip()}\n..."
        return block("\n".join(_wrapped(line) for line in text.splitlines()))

    def drawn(folder: str, name: str) -> str:
        """A figure that a step drew, with its own title and description."""
        title, described = words_of(story.folder / folder / "figures" / f"{name}.svg")
        target = f"{folder}-{name}.svg"
        shutil.copy(story.folder / folder / "figures" / f"{name}.svg", source / FIGURES / target)
        return (f"```{{figure}} /{FIGURES}/{target}\n:alt: {described}\n:class: chart\n\n"
                f"{title}.\n```\n")

    def toml(name: str, since: str, until: str = "") -> str:
        """A part of a scenario of the story, from a line on up to another."""
        text = (story.folder / name).read_text(encoding="utf-8")
        assert since in text, f"{name} has no line {since!r}"
        kept = text[text.index(since):]
        return block(kept[:kept.index(until, len(since))] if until else kept, "toml")

    def file(name: str) -> str:
        """A file of the story, to be kept."""
        kept = Path(name).name
        shutil.copy(story.folder / name, source / FIGURES / kept)
        return f"{{download}}`{kept} </{FIGURES}/{kept}>`"

    def lines(text: str, language: str = "text") -> str:
        """Text as it stands."""
        return block(text, language)

    def bullets(items: Any) -> str:
        """Sentences as a list."""
        return "\n".join(f"- {_plain(item)}" for item in items)

    return dict(zip(TOOLS, (typed, said, drawn, toml, file, lines, bullets), strict=True))


def words_of(svg: Path) -> tuple[str, str]:
    """Title and description that a figure carries."""
    tree = ElementTree.parse(svg)
    found = [tree.find(f".//{DUBLIN}{name}") for name in ("title", "description")]
    title, described = (" ".join((one.text or "").split()) if one is not None else ""
                        for one in found)
    assert title, f"{svg.name} has no title"
    assert described, f"{svg.name} has no description"
    return title, described


def _wrapped(line: str) -> str:
    """A sentence in lines of a terminal's width; a row of a table as it is."""
    indent = len(line) - len(line.lstrip())
    if len(line) <= WIDE or "   " in line.strip():
        return line
    return textwrap.fill(line, WIDE, subsequent_indent=" " * (indent + 4))


def _plain(text: str) -> str:
    return re.sub(r"([*_`\[\]<>])", r"\\\1", text)
