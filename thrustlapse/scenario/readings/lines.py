"""From the bytes of a table of readings to its cells: encodings, separators, remarks, quotes."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator

from thrustlapse.scenario.faults import Fault
from thrustlapse.scenario.files.text_file import line_at, single_fault

_DECIMAL_COMMA = re.compile(r"(?<![0-9.,])([+−-]?[0-9]*),([0-9]+)(?![0-9.,])")


class BrokenQuotes(Exception):
    """Quotation marks that leave no table to read on."""

    def __init__(self, fault: Fault) -> None:
        super().__init__(str(fault))
        self.fault = fault


class _Lines:
    """Lines of a text for the CSV reader, which asks for more where a quoted cell runs on."""

    def __init__(self, text: str, skip: int) -> None:
        self._lines = enumerate(io.StringIO(text, newline=None), start=1)
        for _ in range(skip):
            next(self._lines)
        self.fresh, self.start = True, 0

    def __iter__(self) -> Iterator[str]:
        for number, line in self._lines:
            if self.fresh:
                if not line.strip(" ,;\t\n") or line.lstrip().startswith("#"):
                    continue
                self.start, self.fresh = number, False
            yield line


def records(text: str, separator: str, skip: int, file: str) -> Iterator[tuple[int, list[str]]]:
    """Line and cells of every record that holds anything, after ``skip`` lines.

    Raises
    ------
    BrokenQuotes
        Where quotation marks leave no table to read on.
    """
    lines = _Lines(text, skip)
    reader = csv.reader(lines, delimiter=separator, strict=True, skipinitialspace=True)
    while True:
        lines.fresh = True
        try:
            cells = next(reader)
        except StopIteration:
            return
        except csv.Error:
            raise BrokenQuotes(Fault(
                file=file, line=lines.start, key="", value="",
                problem="quotation marks that do not match",
                accepted='a cell either without quotation marks or in one pair: "thin, lip"',
                hint="a mark inside a quoted cell is written twice")) from None
        yield lines.start, [cell.strip() for cell in cells]


def separator_of(text: str) -> tuple[str, int]:
    """What separates the cells, by the first line that is no remark; lines before it to skip."""
    for number, line in enumerate(io.StringIO(text, newline=None)):
        plain = line.strip()
        told = re.fullmatch(r"sep=([,;\t])", plain)
        if told:
            return told.group(1), number + 1
        if plain and not plain.startswith("#"):
            bare = re.sub(r'"[^"]*"|\[[^\]]*\]|\([^)]*\)', "", line)
            counts = {mark: bare.count(mark) for mark in (";", "\t", ",")}
            best = max(counts, key=lambda mark: counts[mark])
            return (best if counts[best] else ","), 0
    return ",", 0


def decoded(data: bytes, name: str, noun: str) -> str:
    if data.startswith((b"PK\x03\x04", b"\xd0\xcf\x11\xe0")):
        raise single_fault(name, "a spreadsheet workbook, not CSV", f"{noun} in CSV",
                           'save the sheet as "CSV UTF-8"')
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise single_fault(name, "saved as UTF-16", f"{noun} saved as UTF-8",
                           'save it as "CSV UTF-8"')
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = line_at(data, error.start)
        hint = ('± in an older encoding: save as "CSV UTF-8", or write +- instead'
                if data[error.start] in (0xB0, 0xB1) else 'save it as "CSV UTF-8"')
        raise single_fault(name, "not UTF-8 text", f"{noun} saved as UTF-8", hint,
                           line=line) from None


def with_points(text: str) -> str:
    """Decimal commas as points."""
    return _DECIMAL_COMMA.sub(lambda found: f"{found[1] or '0'}.{found[2]}", text)
