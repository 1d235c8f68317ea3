"""A killed process, an interruption, a full disk: no half report, no mixture of two."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.report.interrupted import killed_before_move, outcome, put, state, without_room
from thrustlapse.commands.console import write_new
from thrustlapse.report.atomic_write import MANIFEST, ReportError, staged, whole_file


@pytest.mark.parametrize("number", range(12))
def test_what_is_left_is_one_report_or_none(tmp_path: Path, number: int) -> None:
    assert outcome(number, tmp_path / "out").split(": ")[1] in ("old", "new", "no page")


def test_every_place_to_be_killed_at(tmp_path: Path) -> None:
    """The page goes first and comes last, so it never stands beside files of another report."""
    seen = []
    for moves in range(10):
        folder = tmp_path / str(moves)
        put(folder, "o")
        (folder / "mine.txt").write_text("mine", encoding="utf-8")
        seen.append(killed_before_move(folder, moves))
    assert seen[0] == "old"
    assert set(seen[1:8]) == {"no page"}
    assert seen[-1] == "new"


@pytest.mark.parametrize("most", [0, 4096])
def test_no_room_leaves_the_earlier_report(tmp_path: Path, most: int) -> None:
    put(tmp_path, "o")
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    assert without_room(tmp_path, most) == "old"
    assert sorted(path.name for path in tmp_path.iterdir() if path.name.startswith(".")
                  ) == [MANIFEST]


@pytest.mark.parametrize("good_moves", range(1, 8))
def test_an_interruption_by_the_person_while_moving_loses_nothing(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, good_moves: int) -> None:
    put(tmp_path, "o")
    (tmp_path / "mine.txt").write_text("mine", encoding="utf-8")
    moved, real = [], Path.rename

    def rename(self: Path, target: Path) -> Path:
        moved.append(self)
        if len(moved) == good_moves + 1:
            raise KeyboardInterrupt
        return real(self, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", rename)
        with pytest.raises(KeyboardInterrupt):
            put(tmp_path, "n")
    assert state(tmp_path) == "old"


def test_a_file_of_its_own_is_whole_or_not_there(tmp_path: Path) -> None:
    figure = tmp_path / "a.svg"

    def half() -> None:
        with whole_file(figure) as part:
            part.write_text("half", encoding="utf-8")
            raise OSError(28, "No space left on device")

    with pytest.raises(ReportError, match="No space left"):
        half()
    assert list(tmp_path.iterdir()) == []


def test_a_starter_is_whole_or_not_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(self: object, text: str) -> int:
        raise OSError(28, "No space left on device")

    class Full:
        """A stream for which there is no room."""

        def __enter__(self) -> Full:
            return self

        def __exit__(self, *_: object) -> None:
            return None

        write = full

    plain = Path.open

    def opened(self: Path, *given: object, **more: object) -> object:
        plain(self, *given, **more).close()  # type: ignore[call-overload]
        return Full()

    with monkeypatch.context() as patched:
        patched.setattr(Path, "open", opened)
        with pytest.raises(SystemExit):
            write_new(tmp_path / "mine.toml", "text")
    assert not (tmp_path / "mine.toml").exists()


def test_a_long_name_is_no_obstacle(tmp_path: Path) -> None:
    """The parts of a name as long as the disk allows are themselves short."""
    with staged(tmp_path / ("x" * 255)) as new:
        (new / "a.txt").write_text("a", encoding="utf-8")
    assert (tmp_path / ("x" * 255) / "a.txt").exists()
