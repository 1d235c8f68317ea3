"""The carried tables: each names its source, says what it is worth, and can be read."""

import pytest

from tests import authority

NAMES = sorted(path.stem for path in authority.FOLDER.glob("*.csv"))
LETTERS = set("RCFMXDT") | {"R2"}


@pytest.mark.parametrize("name", NAMES)
def test_table_says_where_it_comes_from_and_what_it_is_worth(name):
    words = authority.header(name)
    assert any(line.startswith("source:") and len(line) > 20 for line in words)
    stated = {line.removeprefix("status:").split()[0] for line in words
              if line.startswith("status:")}
    stated |= {part for row in authority.rows(name) if row.get("status")
               for part in str(row["status"]).split("+")}
    assert stated, name
    assert stated <= LETTERS, stated - LETTERS


@pytest.mark.parametrize("name", NAMES)
def test_every_line_has_every_column(name):
    for row in authority.rows(name):
        assert None not in row  # more cells than columns
        assert None not in row.printed.values()  # fewer
        assert len(row) >= 2


def test_half_a_unit_follows_the_printed_digits():
    row = authority.Row({"a": "0.90", "b": "591e3", "c": "7.0e-5", "d": "12", "e": "", "f": "x"})
    assert [row.half_unit(key) for key in "abcd"] == pytest.approx([5e-3, 500.0, 5e-7, 0.5])
    assert (row["a"], row["e"], row["f"], str(row)) == (0.9, None, "x", "0.90")


def test_a_table_without_source_or_status_is_refused(tmp_path, monkeypatch):
    monkeypatch.setattr(authority, "FOLDER", tmp_path)
    (tmp_path / "bare.csv").write_text("a,b\n1,2\n")
    (tmp_path / "half.csv").write_text("# source: a book, somewhere in it\na,b\n1,2\n")
    with pytest.raises(ValueError, match="does not name its source"):
        authority.rows("bare")
    with pytest.raises(ValueError, match="does not say what its numbers are worth"):
        authority.rows("half")
