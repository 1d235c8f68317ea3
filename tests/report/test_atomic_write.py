"""Nothing half-written ever replaces an earlier good report."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from dataclasses import replace
from pathlib import Path

import pytest

from tests.report.machines import two
from thrustlapse.report.atomic_write import (
    ABANDONED,
    MANIFEST,
    ReportError,
    home_of_processes,
    staged,
    write_file,
)
from thrustlapse.report.comparison.captions import PLOTS
from thrustlapse.report.comparison.write_up import write_report


def listing(folder: Path) -> dict[str, bytes]:
    return {str(path.relative_to(folder)): path.read_bytes()
            for path in sorted(folder.rglob("*")) if path.is_file()}


def fill(folder: Path, text: str, *names: str) -> None:
    for name in names:
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_text(text, encoding="utf-8")


def test_a_new_folder_appears_whole(tmp_path: Path) -> None:
    out = tmp_path / "deep" / "out"
    with staged(out) as new:
        fill(new, "1", "a.txt", "figures/b.txt")
        assert not out.exists()
    assert set(listing(out)) == {"a.txt", "figures/b.txt", MANIFEST}
    assert [path.name for path in out.parent.iterdir()] == ["out"]


def report(folder: Path, text: str, *names: str) -> None:
    """A report of an earlier run."""
    with staged(folder) as new:
        fill(new, text, *names)


def shown(folder: Path) -> dict[str, bytes]:
    """Files of a folder but for the manifest."""
    return {name: data for name, data in listing(folder).items() if name != MANIFEST}


def test_an_earlier_report_is_replaced_and_other_files_stay(tmp_path: Path) -> None:
    out = tmp_path / "out"
    report(out, "old", "index.html", "figures/gone.svg")
    fill(out, "mine", "mine.txt", "figures/my drawing.svg")
    report(out, "new", "index.html", "figures/b.svg")
    assert shown(out) == {"index.html": b"new", "figures/b.svg": b"new", "mine.txt": b"mine",
                          "figures/my drawing.svg": b"mine"}


def test_what_is_not_ours_is_never_replaced(tmp_path: Path) -> None:
    """History: a person's own figures were deleted, and an index.html of theirs overwritten."""
    fill(tmp_path, "mine", "index.html", "figures/thrust.svg")
    before = listing(tmp_path)
    with pytest.raises(ReportError, match=r"of other origin .*figures/thrust\.svg, index\.html"):
        report(tmp_path, "new", "index.html", "figures/thrust.svg")
    assert listing(tmp_path) == before


def test_a_report_from_before_there_was_a_manifest_is_known_by_its_results(tmp_path: Path) -> None:
    fill(tmp_path, "old", "index.html", "figures/a.svg", "figures/mine.svg")
    fill(tmp_path, '{"format": "thrustlapse comparison"}', "results.json")
    report(tmp_path, "new", "index.html", "results.json", "figures/a.svg")
    assert shown(tmp_path) == {"index.html": b"new", "results.json": b"new",
                               "figures/a.svg": b"new", "figures/mine.svg": b"old"}


def a_process_that_is_gone() -> int:
    child = subprocess.Popen([sys.executable, "-c", "pass"])
    child.wait()
    return child.pid


def test_what_a_killed_writer_left_is_swept_by_the_next(tmp_path: Path) -> None:
    out, home, gone = tmp_path / "out", home_of_processes(), a_process_that_is_gone()
    report(out, "old", "index.html")
    fill(out, "left", f".out.{home}.{gone}-abc/new/index.html", f".{home}.{gone}.77.part.html")
    fill(tmp_path, "left", f".out.{home}.{gone}-def/new/a.txt")
    mine = f".out.{home}.{os.getpid()}-abc/new/index.html"
    fill(out, "kept", mine, ".out.mine/keep.txt")
    report(out, "new", "index.html")
    assert shown(out) == {"index.html": b"new", ".out.mine/keep.txt": b"kept", mine: b"kept"}
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_the_writers_of_another_host_are_judged_by_age_and_not_by_our_process_numbers(
        tmp_path: Path) -> None:
    """History: on a disk shared between hosts a running writer's files were swept away."""
    out, gone = tmp_path / "out", a_process_that_is_gone()
    other = "0" * 12
    assert home_of_processes() != other
    report(out, "old", "index.html")
    running, part = f".out.{other}.{gone}-abc", f".{other}.{gone}.77.part.html"
    left, forgotten = f".out.{other}.{os.getpid()}-abc", f".{other}.{os.getpid()}.77.part.html"
    fill(out, "there", f"{running}/new/index.html", part, f"{left}/new/index.html", forgotten)
    days_ago = time.time() - 2.0 * ABANDONED
    for name in (left, forgotten):
        os.utime(out / name, (days_ago, days_ago))
    report(out, "new", "index.html")
    assert shown(out) == {"index.html": b"new", f"{running}/new/index.html": b"there",
                          part: b"there"}


def test_a_writer_names_its_host(tmp_path: Path) -> None:
    with staged(tmp_path / "out") as new:
        (new / "a.txt").write_text("a", encoding="utf-8")
        shop = new.parent.name
        assert shop.startswith(f".out.{home_of_processes()}.{os.getpid()}-")


def test_a_failure_on_the_way_leaves_the_earlier_report(tmp_path: Path) -> None:
    report(tmp_path, "old", "index.html", "figures/a.svg")
    before = listing(tmp_path)

    def write() -> None:
        with staged(tmp_path) as new:
            fill(new, "new", "index.html")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        write()
    assert listing(tmp_path) == before


@pytest.mark.parametrize("good_moves", range(1, 6))
def test_a_failure_while_moving_restores_the_earlier_report(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, good_moves: int) -> None:
    report(tmp_path, "old", "index.html", "results.json", "figures/a.svg")
    before = listing(tmp_path)
    moved, real = [], Path.rename

    def rename(self: Path, target: Path) -> Path:
        moved.append(self)
        if len(moved) == good_moves + 1:
            raise OSError(28, "No space left on device")
        return real(self, target)

    with monkeypatch.context() as patched:
        patched.setattr(Path, "rename", rename)
        with pytest.raises(ReportError, match="No space left"), \
                staged(tmp_path) as new:
            fill(new, "new", "index.html", "results.json", "figures/b.svg")
    assert listing(tmp_path) == before


@pytest.mark.parametrize("place", ["file", "file/below"])
def test_an_output_folder_that_is_a_file_is_one_clear_message(tmp_path: Path, place: str) -> None:
    (tmp_path / "file").write_text("mine", encoding="utf-8")
    with pytest.raises(ReportError, match="cannot write") as caught:
        write_report(two(), tmp_path / place)
    assert "\n" not in str(caught.value)
    assert (tmp_path / "file").read_text(encoding="utf-8") == "mine"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_broken_figure_leaves_the_earlier_report(tmp_path: Path,
                                                   monkeypatch: pytest.MonkeyPatch) -> None:
    fill(tmp_path, "old", "index.html", "figures/a.svg")
    before = listing(tmp_path)

    def broken(comparison: object) -> None:
        raise RuntimeError("no ink")

    monkeypatch.setitem(PLOTS, "lapse", replace(PLOTS["lapse"], draw=broken))
    with pytest.raises(RuntimeError):
        write_report(two(), tmp_path)
    assert listing(tmp_path) == before


def test_one_file_is_written_whole_or_not(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "a.txt"
    write_file(path, "first µ")

    def full(self: Path, target: Path) -> Path:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "replace", full)
    with pytest.raises(ReportError, match="No space left"):
        write_file(path, "second")
    assert path.read_text(encoding="utf-8") == "first µ"
    assert [item.name for item in tmp_path.iterdir()] == ["a.txt"]
