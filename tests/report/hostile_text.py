"""Evil texts in every place that takes one: ``python -m tests.report.hostile_text 40``.

Each number makes one scenario, its readings and its log, asks one command about them and looks at
every file that comes out: a text stays text on the page and in drawings, no CSV cell is a formula,
no name leads out of the folder.
"""

from __future__ import annotations

import csv
import io
import random
import re
import sys
import tempfile
import tomllib
import warnings
import xml.etree.ElementTree as tree
from collections import Counter
from collections.abc import Iterator
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import tomlkit
from click.testing import CliRunner

from tests.refresh_reports import BENCH, FLIGHT_LOG
from tests.searches import scenario_file
from thrustlapse.cli import main as command
from thrustlapse.commands.console import FAULTY
from thrustlapse.report.csv_cells import FORMULA_SIGNS
from thrustlapse.scenario.files.starter import starter_text

MARK = "x7q"
EVIL = (
    f"<script>{MARK}()</script>", f"\"><img src=x onerror={MARK}()>", f"' onmouseover='{MARK}()",
    f"</title></style></script><b id={MARK}>", f"]]><!--{MARK}--><svg onload={MARK}()>",
    f"&lt;script&gt;{MARK}()&lt;/script&gt;", f"javascript:{MARK}()",
    f"{{{{ 7 * 7 }}}}{{% {MARK} %}}",
    f"=cmd|'/C {MARK}'!A0", f"+{MARK}", f"-{MARK}", f"@{MARK}", f"a,={MARK}\n={MARK}\r\n@{MARK}",
    f"\t={MARK}", f"$\\frac{{{MARK}$", f"$x^{{2}}$ {MARK}", f"%s%n{MARK}", f"{MARK}\u202e{MARK}",
    f"{MARK} \U0001f680 \u0661\u0662 \u4e2d\u6587", f"{MARK}\u2028={MARK}",
    f"../../{MARK}", f"C:\\{MARK}", "e\u0301" * 15 + MARK, MARK * 9,
)
UNWRITTEN = (f"\x1b[31m{MARK}\x07", f"\x7f{MARK}\x01", f"{MARK}\ufffe")
"""Texts that are refused"""
MAP_SOURCES = ("map", "table")


def evil(chance: random.Random, most: int) -> str:
    """One evil text of at most ``most`` characters, sometimes two of them together."""
    text = chance.choice(EVIL if chance.random() < 0.99 else UNWRITTEN)
    if chance.random() < 0.3:
        text += chance.choice(EVIL)
    return text[:most]


def scenario(chance: random.Random, folder: Path, *, search: bool) -> Path:
    """A scenario whose every free text is evil."""
    source = (scenario_file(folder).read_text(encoding="utf-8") if search else starter_text())
    raw: dict[str, Any] = tomllib.loads(source)
    raw["title"], raw["question"] = evil(chance, 200), evil(chance, 2000)
    raw["note"] = evil(chance, 5000)
    raw["airspeed"] = {"at": ["0 m/s", "20 m/s", "40 m/s"]}
    raw.pop("flight", None)
    for one in raw["candidates"].values():
        for home in MAP_SOURCES:
            if home in one:
                one[home]["origin"] = evil(chance, 500)
                one[home]["band"] = {"head": "5 %",
                                     "basis": evil(chance, 300)}
        one.setdefault("installation", {})
    for part in raw.get("airframe", {}).get("drag", {}).get("parts", []):
        part["name"] = evil(chance, 40)
    for axis in raw.get("search", {}).get("axes", []):
        axis["name"] = evil(chance, 40)
    path = folder / "asked.toml"
    path.write_text(tomlkit.dumps(raw), encoding="utf-8")
    return path


def spoiled(chance: random.Random, source: Path, folder: Path) -> Path:
    """A bench file with evil notes and settings, under an evil name where the disk allows it."""
    rows = [line for line in source.read_text(encoding="utf-8").splitlines()
            if line.strip() and not line.startswith("#")]
    heads, *body = list(csv.reader(rows))
    for head in ("note", "drive setting"):
        if head in heads:
            place = heads.index(head)
            words = {row[place]: evil(chance, 38) for row in body}
            for row in body:
                row[place] = words[row[place]]
    out = io.StringIO()
    csv.writer(out).writerows([heads, *body])
    name = re.sub("[/\\\\\x00\x01\r\n]", "_", evil(chance, 40))
    path = folder / f"{name}.csv"
    path.write_text(out.getvalue(), encoding="utf-8", newline="")
    return path


def questions(number: int, folder: Path) -> list[str]:
    """Words of one command."""
    chance = random.Random(number)
    kind = ("compare", "machine", "fit", "log", "search", "check", "new")[number % 7]
    asked = scenario(chance, folder, search=kind in ("search", "fit", "log"))
    out = str(folder / "out")
    if kind == "check":
        return ["check", str(asked)]
    if kind == "new":
        return ["new", str(folder / "out" / evil(chance, 250))]
    if kind == "machine":
        names = list(tomllib.loads(asked.read_text(encoding="utf-8"))["candidates"])
        return ["machine", str(asked), "--candidate", chance.choice(names), "--out", out]
    if kind == "fit":
        return ["bench", "fit", str(asked), "--candidate", "blower", "--readings",
                str(spoiled(chance, BENCH, folder)), "--out", out, "--answer", "static thrust"]
    if kind == "log":
        return ["log", "explain", str(asked), "--candidate", "blower", "--readings",
                str(spoiled(chance, FLIGHT_LOG, folder)), "--out", out]
    return [kind, str(asked), "--out", out]


class _Page(HTMLParser):
    """Finds what would run or stand in the page because of a text."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.live: list[str] = []
        self.within = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.within = tag if tag in ("script", "style") else ""
        for name, value in attrs:
            runs = name.startswith("on") or name in ("src", "href", "id", "style")
            if MARK in name or (runs and MARK in (value or "")):
                self.live.append(f"<{tag} {name}={value!r}>")
        if MARK in tag:
            self.live.append(f"<{tag}>")

    def handle_endtag(self, tag: str) -> None:
        del tag
        self.within = ""

    def handle_comment(self, data: str) -> None:
        if MARK in data:
            self.live.append(f"<!--{data}-->")

    def handle_data(self, data: str) -> None:
        if self.within == "script" and MARK in data and not data.lstrip().startswith("{"):
            self.live.append(data[:80])


def faults_of(folder: Path) -> Iterator[str]:
    """What is wrong with the files of a folder."""
    for path in sorted(folder.rglob("*")):
        if path.suffix == ".html":
            page = _Page()
            page.feed(path.read_text(encoding="utf-8"))
            yield from (f"{path.name}: {one}" for one in page.live)
        elif path.suffix == ".svg":
            for element in tree.parse(path).iter():
                if MARK in element.tag or any(MARK in name or name.startswith("on")
                                              for name in element.attrib):
                    yield f"{path.name}: {element.tag} {element.attrib}"
        elif path.suffix == ".csv":
            for row in csv.reader(io.StringIO(path.read_text(encoding="utf-8"))):
                yield from (f"{path.name}: {cell!r}" for cell in row
                            if cell.lstrip().startswith(FORMULA_SIGNS) and not _number(cell))
        elif path.suffix == ".toml":
            tomllib.loads(path.read_text(encoding="utf-8"))
        elif path.suffix == ".dxf":
            lines = path.read_text(encoding="utf-8").splitlines()
            if any(not line.strip().isdigit() for line in lines[::2]):
                yield f"{path.name}: a group code is no number"


def _number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


def outcome(number: int, folder: Path) -> str:
    """What the command did; raises AssertionError where something is live or has escaped."""
    words = questions(number, folder)
    (folder / "out").mkdir(exist_ok=True)
    before = {path for path in folder.rglob("*") if (folder / "out") not in path.parents}
    ran = CliRunner().invoke(command, words)
    if ran.exception is not None and not isinstance(ran.exception, SystemExit):
        raise ran.exception
    assert ran.exit_code in (0, FAULTY), ran.output
    assert ran.output.strip()
    control = re.findall("[\x00-\x09\x0b-\x1f\x7f\u202e]", ran.output)
    assert not control, f"control characters: {ran.output[:500]!r}"
    after = {path for path in folder.rglob("*") if (folder / "out") not in path.parents}
    assert after == before, f"written outside: {after - before}"
    found = list(faults_of(folder / "out"))
    assert not found, found[:5]
    return f"{words[0]} {'done' if ran.exit_code == 0 else 'refused'}"


def main(count: int) -> None:
    """Ask many and say how they fared."""
    fared: Counter[str] = Counter()
    for number in range(count):
        with tempfile.TemporaryDirectory() as place:
            try:
                with warnings.catch_warnings():
                    warnings.simplefilter("error")
                    fared[outcome(number, Path(place))] += 1
            except Exception as error:
                fared["broke"] += 1
                print(f"number {number}: {type(error).__name__}: {str(error)[:400]}", flush=True)
    print(f"{count} commands: " + ", ".join(f"{many} {how}" for how, many in sorted(fared.items())))


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 14)
