"""Tables of readings: headings, units, spreads, faults, and files that are none."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.readings.heading import Column
from thrustlapse.scenario.readings.table import MOST_FAULTS, read_table, table_of

COLUMNS = (
    Column(name="time", heading="time", kind="time", low=0.0, high=1e5, unit="s"),
    Column(name="thrust", heading="thrust", kind="force", low=-1e3, high=1e3, unit="gf"),
    Column(name="temperature", heading="air temperature", kind="temperature", low=200.0,
           high=340.0, unit="degC"),
    Column(name="duty", heading="duty", kind="ratio", low=0.0, high=1.0, unit="%"),
    Column(name="shaft_speed", heading="shaft speed", kind="shaft speed", low=0.0, high=1e5,
           unit="krpm", slips=("rpm",)),
    Column(name="shut", heading="inlet blocked", kind="yes or no"),
    Column(name="note", heading="note", kind="words"),
)
GF = 9.80665e-3


def table(text: str, **more):
    return table_of(text, COLUMNS, name="mine.csv", noun="a log", **more)


def faults(text: str | bytes, tmp_path=None) -> str:
    with pytest.raises(ScenarioError) as caught:
        table(text) if isinstance(text, str) else read_table(
            _written(tmp_path, text), COLUMNS, noun="a log")
    return str(caught.value)


def _written(folder, data: bytes):
    path = folder / "mine.csv"
    path.write_bytes(data)
    return path


def test_words_units_and_empty_cells() -> None:
    read = table("time [s], Thrust (gf), duty [%], air_temperature [degC], inlet blocked, note\n"
                 "# a remark\n\n"
                 "0.5, 190, 80, 20, yes, \"thin, lip\"\n"
                 "1e1, -, , , , \n"
                 "12 min, 1.9 N, 0.5 %\n")
    np.testing.assert_allclose(read.values["time"], [0.5, 10.0, 720.0])
    np.testing.assert_allclose(read.values["thrust"], [190 * GF, np.nan, 1.9])
    np.testing.assert_allclose(read.values["duty"], [0.8, np.nan, 0.005])
    np.testing.assert_allclose(read.values["temperature"], [293.15, np.nan, np.nan])
    assert read.yes["shut"].tolist() == [True, False, False]
    assert read.words["note"] == ("thin, lip", "", "")
    assert read.line.tolist() == [4, 5, 6]
    assert np.isnan(read.values["shaft_speed"]).all()
    assert set(read.given) == {"time", "thrust", "duty", "temperature", "shut", "note"}


@pytest.mark.parametrize(("heading", "cell", "value", "spread"), [
    ("thrust [gf]", "190", 190 * GF, math.nan),
    ("thrust [gf] ± 3", "190", 190 * GF, 3 * GF),
    ("thrust [gf] +- 2 %", "-190", -190 * GF, 3.8 * GF),
    ("thrust [gf] ± 3", "190 ± 5", 190 * GF, 5 * GF),
    ("thrust [gf] +/- 20 mN", "190", 190 * GF, 0.020),
    ("thrust [gf]", "1.9 N ± 30 mN", 1.9, 0.030),
    ("thrust [gf]", "1.9 N ± 0.03", 1.9, 0.030),
    ("thrust", "190 ± 3 gf", 190 * GF, 3 * GF),
    ("thrust [gf]", "190 ± 1 %", 190 * GF, 1.9 * GF),
    ("air temperature [degC]", "20 ± 2", 293.15, 2.0),  # a difference has no offset
    ("air temperature [degF] ± 9", "68", 293.15, 5.0),
    ("duty [%]", "80 ± 2 %", 0.8, 0.02),  # points of the duty, not a share of it
])
def test_a_spread_is_one_standard_deviation_in_the_readings_unit(heading, cell, value,
                                                                 spread) -> None:
    read = table(f"{heading},note\n{cell},x\n")
    name = next(iter(set(read.given) - {"note"}))
    assert read.values[name][0] == pytest.approx(value, rel=1e-12)
    assert read.spread[name][0] == pytest.approx(spread, rel=1e-9, nan_ok=True)


@pytest.mark.parametrize("heading", ["± thrust [gf]", "thrust uncertainty [gf]",
                                     "thrust spread [gf]", "±thrust"])
def test_a_column_of_spreads(heading) -> None:
    read = table(f"thrust [gf] ± 1,{heading}\n190,3\n200,\n210 ± 7,4\n220,2 %\n,5\n")
    np.testing.assert_allclose(read.spread["thrust"], np.array([3, 1, 7, 4.4, np.nan]) * GF)


def test_per_cent_in_a_column_of_spreads() -> None:
    read = table("thrust [gf],± thrust [%]\n200,3\n")
    assert read.spread["thrust"][0] == pytest.approx(6 * GF)


@pytest.mark.parametrize("text", [
    "thrust [gf];time [s];note\n190,5 ± 2,5;12,0;\"a;b, c\"\n",
    "\ufeffthrust [gf]\ttime [s]\tnote\n190,5 ± 2,5\t12\ta;b, c\n",
    "sep=;\r\nthrust [gf];time [s];note\r\n190,5 ± 2,5;12,0;\"a;b, c\"\r\n",
    "# ; ; ;\n\"thrust [gf]\",\"time [s]\",note\n190.5 ± 2.5,12,\"a;b, c\"\n"])
def test_separators_and_decimal_commas(text, tmp_path) -> None:
    read = read_table(_written(tmp_path, text.encode()), COLUMNS, noun="a log")
    assert read.values["thrust"][0] == pytest.approx(190.5 * GF)
    assert read.spread["thrust"][0] == pytest.approx(2.5 * GF)
    assert read.values["time"][0] == 12.0
    assert read.words["note"] == ("a;b, c",)


@pytest.mark.parametrize(("text", "said"), [
    ("thrust [g]\n190\n", "write gf"),
    ("thrust\n190\n", 'write "thrust [gf]"'),
    ("rpm\n82500\n", 'write "shaft speed [rpm]"'),  # the writer's own unit
    ("thurst [gf]\n190\n", 'did you mean "thrust [gf]"'),
    ("thrust [gf],thrust [N]\n190,2\n", "there twice"),
    ("thrust [gf],± time [s]\n190,2\n", "a spread without its readings"),
    ("note [gf]\nx\n", "a unit or a spread over words"),
    ("thrust [gf\n190\n", "not understood"),
    ("thrust [gf] ± many\n190\n", "the spread: does not begin with a number"),
    ("thrust [gf]\n190 ± -3\n", "the spread is negative"),
    ("thrust [gf]\n190 ± 200 %\n", "beyond 0 to 100 %"),
    ("thrust [gf]\n190 ± 1e-300\n", "too small to be one"),  # its square in a weight overflowed
    ("thrust [gf] ± 2 %\n1e-300\n", "too small to be one"),
    ("thrust [gf]\n19O\n", 'mine.csv:2: column "thrust [gf]" = "19O"'),
    ("thrust [gf]\n=HYPERLINK(1)\n", "does not begin with a number"),
    ("thrust [gf]\nnan\n", "inf or nan"),
    ("thrust [gf]\n1e999\n", "a number"),
    ("thrust [gf],time [s]\n1,5,2\n", "a comma as decimal mark"),
    ("thrust [gf];time [s]\n1.234,5;2\n", "comma"),
    ("thrust [gf];time [s]\n1,5;2.5\n", "decimal commas (line 2) and decimal points (line 2)"),
    ("time [s]\n-1\n", "below 0 s"),
    ("time [s],inlet blocked\n1,perhaps\n", "neither yes nor no"),
    ("time [s],\n1,2\n", "a cell under no heading"),
    ("time [s]\n\"1\n2\n", "quotation marks"), ("time [s]\n\"1\"2\n", "quotation marks"),
    ("", "empty"), ("# nothing\n\n", "empty"), ("time [s]\n", "no readings"),
    ("time [s]\n1\0\n", "not a text file"),
    ("note\n" + "x" * 500 + "\n", "longer than 400"),
    ("note" + ",note" * 80 + "\nx\n", "more than 64 columns"),
])
def test_faults_in_words(text, said) -> None:
    assert said in faults(text)


@pytest.mark.parametrize(("data", "said"), [
    (b"PK\x03\x04rest", "spreadsheet workbook"), ("time [s]\n1\n".encode("utf-16"), "UTF-16"),
    ("thrust [gf] ± 3\n1\n".encode("cp1252"), "write +- instead"), (b"\x80\x81", "UTF-8")])
def test_files_that_are_no_csv(data, said, tmp_path) -> None:
    assert said in faults(data, tmp_path)


def test_a_missing_file_and_a_folder(tmp_path) -> None:
    for path, said in ((tmp_path / "none.csv", "no such file"), (tmp_path, "a folder")):
        with pytest.raises(ScenarioError, match=said):
            read_table(path, COLUMNS, noun="a log")


def test_every_fault_at_once_with_its_line() -> None:
    with pytest.raises(ScenarioError) as caught:
        table("time [s],thrust [g],duty [%]\n1,2,300\nx,2,50\n,,y\n")
    lines = [(fault.line, fault.key) for fault in caught.value.faults]
    assert lines == [(1, 'column "thrust [g]"'), (2, 'column "duty [%]"'),
                     (3, 'column "time [s]"'), (4, 'column "duty [%]"')]


def test_very_many_faults_and_rows_are_bounded() -> None:
    with pytest.raises(ScenarioError) as caught:
        table("time [s]\n" + "x\n" * 5000)
    assert len(caught.value.faults) == MOST_FAULTS + 2
    assert "reading stopped here" in caught.value.faults[-1].problem
    with pytest.raises(ScenarioError, match="more than 3 rows"):
        table("time [s]\n" + "1\n" * 9, most_rows=3)


def test_a_terminal_obeys_no_note() -> None:
    read = table("note,time [s]\n\x1b[31mred,1\n")
    assert "\x1b" not in read.words["note"][0]


def test_a_further_check_is_told_with_the_rest() -> None:
    def check(read):
        yield read.fault(1, "thrust", "odd", "even")

    with pytest.raises(ScenarioError) as caught:
        table("time [s],thrust [gf]\n1,2\nx,3\n", check=check)
    assert [fault.line for fault in caught.value.faults] == [3, 3]
    assert 'column "thrust [gf]": odd' in str(caught.value)


@settings(max_examples=200, deadline=None)
@given(st.text(alphabet=st.sampled_from(list("thrustime gfs[]();,\"'#=+-±%.0123456789\n\t\r\x0bé")),
               max_size=120))
def test_any_text_is_a_table_or_faults(text) -> None:
    try:
        read = table("thrust [gf],note\n" + text)
    except ScenarioError as error:
        assert error.faults
        assert all(fault.problem for fault in error.faults)
    else:
        rows = len(read.line)
        assert all(array.shape == (rows,) for array in (*read.values.values(),
                                                        *read.spread.values()))
        assert not any(np.isinf(array).any() for array in read.values.values())


@given(st.lists(st.floats(-900, 900).map(lambda x: round(x, 6)), min_size=1, max_size=20))
def test_numbers_written_out_are_read_back(numbers) -> None:
    read = table("thrust [N]\n" + "".join(f"{number!r}\n" for number in numbers))
    np.testing.assert_array_equal(read.values["thrust"], np.array(numbers) + 0.0)
