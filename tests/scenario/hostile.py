"""Scenario files that wish the reader ill, by number: ``python -m tests.scenario.hostile 20000``.

Each number makes the same file everywhere. A file is either read or refused in words; any other
exception is a fault of the reader.
"""

from __future__ import annotations

import random
import re
import sys
import warnings
from collections import Counter
from collections.abc import Callable

from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_text
from thrustlapse.scenario.files.starter import starter_text

STARTER = starter_text()
VALUE = re.compile(r"(?m)^([A-Za-z_]+ = )([^#\n]+?)(\s*(?:#.*)?)$")

NASTY = (
    "nan", "-inf", "inf", "1e999", "-1e308", "9" * 400, "-0.0", "0", "1e-320", "0x7f" + "f" * 40,
    '"1e400 m"', '"9**9**9 m"', '"-5 mm"', '"nan mm"', '"inf W"', '"1 parsec"',
    '"1,5 mm"', '"١٢ mm"', '"12 mm\\u0000"', '"\\u202e12 mm"', '"m"', '""', '" "', '"' + "x" * 9000
    + '"', "true", "false", "[]", "[[]]", "[1, [2, [3]]]", "{}", "{ a = { b = { c = 1 } } }",
    "1979-05-27T07:32:00Z", "07:32:00", '"=cmd|\'/C calc\'!A0"', '"../../etc/passwd"',
    '"<script>alert(1)</script>"', "'{{ 7 * 7 }}'", '"%s%s%n"', '"1 m; import os"',
    "[" * 200 + "]" * 200, "[" + "1, " * 3000 + "]", '"1e308 m" ', "0.1e", "'''", "=",
)
LINES = ("[[candidates]]", "[candidates.\"../up\"]", "[candidates.\"=1+1\"]",
         "[candidates]\nx = 1", "[pack]", "a.b.c.d.e.f = 1", "[" + "a." * 300 + "a]", "\ufeff",
         "\x00", "\u2028", "# é\n", "[candidates.\"\"]", "[search]", "[wiring]\nlength = \"1 m\"",
         "title = 3", "= 3", "]", '"')


def hostile(number: int, text: str = STARTER) -> str:
    """The text of one file, made of a good one."""
    chance = random.Random(number)
    for _ in range(chance.choice((1, 1, 1, 2, 3, 8))):
        kind = chance.randrange(7)
        if kind <= 2:
            found = list(VALUE.finditer(text))
            if found:
                one = chance.choice(found)
                text = text[:one.start(2)] + chance.choice(NASTY) + text[one.end(2):]
        elif kind == 3:
            lines = text.split("\n")
            del lines[chance.randrange(len(lines))]
            text = "\n".join(lines)
        elif kind == 4:
            lines = text.split("\n")
            lines.insert(chance.randrange(len(lines) + 1), chance.choice((
                chance.choice(LINES), chance.choice(lines))))
            text = "\n".join(lines)
        elif kind == 5:
            place = chance.randrange(len(text) + 1)
            text = text[:place] + chr(chance.choice((chance.randrange(1, 128),
                                                     chance.randrange(160, 0xd7ff)))) + text[
                                                         place + chance.randrange(2):]
        else:
            text = text[:chance.randrange(len(text) + 1)]
    return text


def outcome(text: str) -> str:
    """``read`` or ``refused``; raises what a reader must not raise."""
    try:
        read_text(text)
    except ScenarioError as error:
        told = str(error)
        assert told.strip()
        assert "Traceback" not in told
        return "refused"
    return "read"


def try_many(attempt: Callable[[int], str]) -> None:
    """Try as many files as the command line says, and tell how they fared."""
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    fared: Counter[str] = Counter()
    for number in range(count):
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                fared[attempt(number)] += 1
        except Exception as error:
            fared["broke the reader"] += 1
            print(f"file {number}: {type(error).__name__}: {str(error)[:300]}")
    print(f"{count} files: " + ", ".join(f"{many} {how}" for how, many in sorted(fared.items())))


if __name__ == "__main__":
    try_many(lambda number: outcome(hostile(number)))
