"""Hostile bench files and flight logs: ``python -m tests.scenario.hostile_readings 20000``.

Each number makes the same bytes everywhere. A file is read, and then says what it holds, or is
refused in words; any other exception is a fault of the reader, and so is a warning.
"""

from __future__ import annotations

import math
import random
import tempfile
from pathlib import Path

from tests.scenario.hostile import try_many
from thrustlapse.bench.summary import summarise
from thrustlapse.report.bench.table import check_lines
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.readings.bench_file import bench_starter, read_bench
from thrustlapse.scenario.readings.log_file import log_starter, read_log

NASTY = (
    "nan", "inf", "-inf", "1e999", "-1e308", "1e-320", "9" * 300, "0", "-0", "-1", "0x1F", "1_000",
    "1e308", "1,5", "1.234,5", "1'000", "1 000", "١٢", "½", "−5", "5 ± 5", "5 ± ", "± 5", "5 ± -1",
    "5 ± nan", "5 ± 1e400", "5 ± 200 %", "5 +- 1 m", "1e3 gf", "12 parsec", "12 V ± 1 A", "", " ",
    "-", "=1+1", "=cmd|'/C calc'!A0", "@SUM(A1)", "+1+1", "\t=1",
    "%s%n", "<script>alert(1)</script>",
    "$\\frac{$", "{{ 7 * 7 }}", "x" * 500, '"', '""', '"a', 'a"b', '"a""b"', "#", "\u202e12",
    "\ufeff12", "e\u0301", "\U0001f680", "\u2028", "\x1b[31m", "\x7f", "yes", "no", "TRUE",
)
HEADINGS = ("thrust [gf]", "thrust [N]", "± thrust [gf]", "thrust [m]", "thrust", "note", "", "[N]",
            "voltage [V]", "supply voltage [V] ± 1 %", "time [s]", "height [km]", "=thrust [gf]",
            "thrust [gf] ± nan", "thrust [9**9**9 m]", "note [V]", "duty [%]", "x" * 500,
            "<b>thrust</b> [gf]", "shaft speed [krpm] ± -3", "load factor", "time [year]")
MARKS = (b"\xef\xbb\xbf", b"\xff\xfe", b"\xfe\xff", b"PK\x03\x04", b"\xd0\xcf\x11\xe0", b"\0",
         b"\xff", b"\xb1", b"\xc0\x80", b"\xed\xa0\x80", b"\x1a", b"sep=;\n", b"sep=\t\r\n",
         b"sep=,\r", b"#\r\n")
STARTERS = {"bench": bench_starter(), "log": log_starter()}


def hostile(number: int) -> tuple[str, bytes]:
    """Kind and bytes of one file."""
    chance = random.Random(number)
    kind = chance.choice(("bench", "log"))
    rows = [line.split(",") for line in STARTERS[kind].splitlines()
            if line.strip() and not line.startswith("#")]
    for _ in range(chance.choice((0, 1, 1, 1, 2, 3, 8))):
        _worse(chance, rows)
    separator = chance.choice((",", ",", ",", ";", "\t", " ; "))
    text = "".join(separator.join(row) + chance.choice(("\n", "\n", "\r\n", "\r", "\n\n"))
                   for row in rows)
    if separator == ";" and chance.random() < 0.7:
        text = text.replace(".", ",")
    data = text.encode("utf-8", errors="surrogatepass")
    if chance.random() < 0.4:
        place = chance.choice((0, chance.randrange(len(data) + 1)))
        data = data[:place] + chance.choice((*MARKS, bytes([chance.randrange(256)]))) + data[
            place + chance.randrange(2):]
    if chance.random() < 0.1:
        data = data[:chance.randrange(len(data) + 1)]
    if chance.random() < 0.02:
        data = bytes(chance.randrange(256) for _ in range(chance.randrange(3000)))
    return kind, data


def _worse(chance: random.Random, rows: list[list[str]]) -> None:
    """Spoil one thing of a table in place."""
    row = chance.choice(rows)
    what = chance.randrange(9)
    if what <= 3:
        row[chance.randrange(len(row))] = chance.choice(NASTY)
    elif what == 4:
        rows[0][chance.randrange(len(rows[0]))] = chance.choice(HEADINGS)
    elif what == 5:
        row.insert(chance.randrange(len(row) + 1), chance.choice(NASTY))
    elif what == 6 and len(row) > 1:
        del row[chance.randrange(len(row))]
    elif what == 7:
        rows.insert(chance.randrange(len(rows) + 1), list(chance.choice(rows)))
    elif what == 8:
        place = chance.randrange(len(row))
        number = row[place].strip()
        sign = chance.choice(("-", "1e9", "0.00000000", "99999"))
        row[place] = sign + number


def outcome(kind: str, data: bytes, folder: Path) -> str:
    """``read`` or ``refused``; raises what a reader must not raise."""
    path = folder / "readings.csv"
    path.write_bytes(data)
    try:
        if kind == "log":
            log = read_log(path)
            assert all(math.isfinite(value) for value in log.airspeed)
            told = list(log.told)
        else:
            told = check_lines(summarise(read_bench(path)))
    except ScenarioError as error:
        words = str(error)
        assert words.strip()
        assert "Traceback" not in words
        assert all(letter.isprintable() or letter == "\n" for letter in words)
        return "refused"
    for line in told:
        assert " nan" not in line.lower(), line
        assert all(letter.isprintable() or letter == "\n" for letter in line), line
    return "read"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        def attempt(number: int) -> str:
            kind, data = hostile(number)
            return f"{kind} {outcome(kind, data, Path(place))}"

        try_many(attempt)
