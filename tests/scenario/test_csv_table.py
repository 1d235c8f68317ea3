"""Tables of readings: what is read, and every fault with its line and column."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from thrustlapse.scenario.csv_table import LARGEST_TABLE, Column, read_table
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.fields import Quantity

COLUMNS = (
    Column(name="time", quantity=Quantity("time", 0.0, 1e5)),
    Column(name="airspeed", quantity=Quantity("speed", 0.0, 300.0), also=("true airspeed",)),
    Column(name="load factor", quantity=Quantity("ratio", 0.1, 10.0), required=False, gaps=True))


def read(tmp_path: Path, text: str | bytes, **options):
    file = tmp_path / "log.csv"
    file.write_bytes(text.encode("utf-8") if isinstance(text, str) else text)
    return read_table(file, COLUMNS, what="a log", **options)


def faults(tmp_path: Path, text: str | bytes, **options) -> list[str]:
    with pytest.raises(ScenarioError) as caught:
        read(tmp_path, text, **options)
    return [str(fault) for fault in caught.value.faults]


@pytest.mark.parametrize("separator", [",", ";", "\t", " , "])
def test_units_order_and_remarks(tmp_path: Path, separator: str) -> None:
    rows = [["True_Airspeed (km/h)", "time [min]", "load factor"], ["36", "0.5", "1.0"],
            ["72", "1e0", ""]]
    text = "# invented\n\n" + "\r\n".join(separator.join(row) for row in rows) + "\n# end\n"
    table = read(tmp_path, text)
    assert table.values["airspeed"] == pytest.approx([10.0, 20.0])
    assert table.values["time"] == pytest.approx([30.0, 60.0])
    assert table.values["load factor"][0] == 1.0
    assert np.isnan(table.values["load factor"][1])
    assert table.lines.tolist() == [4, 5]
    assert table.remarks == ("invented", "end")


def test_quoted_heads_and_a_byte_order_mark(tmp_path: Path) -> None:
    table = read(tmp_path, '\ufeff"time [s]","airspeed [m/s]"\n0,1\n'.encode())
    assert table.values["airspeed"].tolist() == [1.0]


def test_every_fault_at_once_with_line_and_column(tmp_path: Path) -> None:
    found = faults(tmp_path, "time [s],airspeed [m/s]\n0,12\n1,\n2,fast\n3,900\n4,1,5\n-5,nan\n")
    assert len(found) == 6
    for line, column, words in ((3, "airspeed", "empty"), (4, "airspeed", "not a number"),
                                (5, "airspeed", "above 300 m/s"), (6, "", "3 cells under 2 heads"),
                                (7, "time", "below 0 s"), (7, "airspeed", "not a number")):
        assert any(f"log.csv:{line}: {column}" in one and words in one for one in found), words
    assert any("decimal comma" in one for one in found)


@pytest.mark.parametrize(("head", "words"), [
    ("time [s],airspeed", 'a unit in brackets: "airspeed [m/s]"'),
    ("time [s],airspeed [kg]", "is the unit of a mass"),
    ("time [s],airspeed [furlong]", 'unknown unit "furlong"'),
    ("time [s],air speed x [m/s]", "no column of that name"),
    ("time [s],airsped [m/s]", 'did you mean "airspeed"?'),
    ("time [s],time [s],airspeed [m/s]", "a second column of time"),
    ("time [s],,airspeed [m/s]", "a column without a head"),
    ("time [s]", "missing: a column airspeed [m/s]"),
    ("time [s],airspeed [m/s", "no column of that name"),
])
def test_faulty_heads(tmp_path: Path, head: str, words: str) -> None:
    row = ",".join("1" for _ in head.split(","))
    assert any(words in one and "log.csv:1" in one for one in faults(tmp_path, f"{head}\n{row}\n"))


@pytest.mark.parametrize(("text", "words"), [
    ("", "empty"), ("# only a remark\n", "empty"), (b"\xff\xfe\x00", "UTF-8"),
    ("time [s],airspeed [m/s]\n1,\x002\n", "not a text"),
    ("time [s],airspeed [m/s]\n1," + 150_000 * "2", "a very long line"),
    ("time [s],airspeed [m/s]\n", "0 rows of readings"),
    (b"a" * (LARGEST_TABLE + 2), "too large")])
def test_what_is_no_table(tmp_path: Path, text: str | bytes, words: str) -> None:
    assert any(words in one for one in faults(tmp_path, text))


def test_no_file_and_a_folder(tmp_path: Path) -> None:
    for path, words in ((tmp_path / "none.csv", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(ScenarioError, match=words):
            read_table(path, COLUMNS, what="a log")


@given(st.text(max_size=300))
def test_any_text_is_read_or_refused(tmp_path_factory, text: str) -> None:
    file = tmp_path_factory.mktemp("any") / "any.csv"
    file.write_text(text, encoding="utf-8", errors="surrogatepass")
    try:
        table = read_table(file, COLUMNS, what="a log")
    except ScenarioError as error:
        assert error.faults
    else:
        assert np.isfinite(table.values["time"]).all()


@given(st.lists(st.text(alphabet='0123456789.,;e-+" \t#x', max_size=30), max_size=6))
def test_any_rows_are_read_or_refused(tmp_path_factory, rows: list[str]) -> None:
    file = tmp_path_factory.mktemp("rows") / "any.csv"
    file.write_text("\n".join(["time [s],airspeed [m/s]", *rows]), encoding="utf-8")
    try:
        table = read_table(file, COLUMNS, what="a log")
    except ScenarioError as error:
        assert error.faults
    else:
        assert np.isfinite(table.values["airspeed"]).all()
