"""Putting files in place whole: an earlier good report is never replaced by half a new one."""

from __future__ import annotations

import os
import shutil
import tempfile
import threading
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path


class ReportError(OSError):
    """A report or results file that cannot be written or read; its message says all."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __str__(self) -> str:
        return self.message


def _why(problem: OSError) -> str:
    return problem.strerror or str(problem)


def write_file(path: Path, text: str) -> None:
    """Write one UTF-8 file, whole or not at all; raises ReportError."""
    with whole_file(path) as part:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8", newline="")


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Where to write one file that appears under ``path`` only when the block ends well.

    Raises
    ------
    ReportError
        If the file cannot be written; what was there before is then as it was.
    """
    # a short name of its own: one made from a long name would be too long for the disk
    part = path.with_name(f".{os.getpid()}.{threading.get_ident()}.part{path.suffix[:8]}")
    try:
        yield part
        part.replace(path)
    except OSError as problem:
        raise ReportError(f"cannot write {path}: {_why(problem)}") from problem
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


@contextmanager
def staged(folder: Path, *, owned: tuple[str, ...] = ()) -> Iterator[Path]:
    """A temporary folder whose files appear in ``folder`` together when the block ends well.

    Other files in ``folder`` are left alone. If anything fails, on the way or while files are
    moved into place, ``folder`` is as it was. Even a process killed between two moves leaves no
    mixture of two reports, and no page (``index.html``) beside anything but its own files: the page
    goes first and comes last.

    Parameters
    ----------
    folder : Path
        Made if it does not exist
    owned : tuple of str
        Names of subfolders that belong to the report: what the new report does not have goes

    Raises
    ------
    ReportError
        If the folder cannot be written.
    """
    try:
        workshop = _workshop(folder)
    except OSError as problem:
        raise ReportError(f"cannot write into {folder}: {_why(problem)}") from problem
    try:
        new = workshop / "new"
        new.mkdir()
        yield new
        _swap(new, folder, aside=workshop / "old", owned=owned)
    except ReportError:
        raise
    except OSError as problem:
        raise ReportError(f"cannot write into {folder}: {_why(problem)}") from problem
    finally:
        shutil.rmtree(workshop, ignore_errors=True)


def _workshop(folder: Path) -> Path:
    """A new folder on the same disk: beside ``folder``, or inside where only that is allowed."""
    if folder.exists() and not folder.is_dir():
        raise NotADirectoryError(20, "it is a file, not a folder")
    folder.parent.mkdir(parents=True, exist_ok=True)
    prefix = f".{folder.name[:100]}."
    if folder.is_dir():
        # proves that the folder itself can be written, and works where it is a mount of its own
        return Path(tempfile.mkdtemp(dir=folder, prefix=prefix))
    return Path(tempfile.mkdtemp(dir=folder.parent, prefix=prefix))


def _swap(new: Path, folder: Path, *, aside: Path, owned: tuple[str, ...]) -> None:
    if not folder.exists():
        new.rename(folder)
        return
    aside.mkdir()
    incoming = sorted((item.name for item in new.iterdir()), key=_page_last)
    kept, placed = [], []
    try:
        for name in sorted({*incoming, *owned}, key=_page_last, reverse=True):
            if (folder / name).exists() or (folder / name).is_symlink():
                (folder / name).rename(aside / name)
                kept.append(name)
        for name in incoming:
            (new / name).rename(folder / name)
            placed.append(name)
    except BaseException:  # an interruption by the person too, or the old report would be lost
        for name in placed:
            (folder / name).rename(new / name)
        for name in reversed(kept):
            (aside / name).rename(folder / name)
        raise


def _page_last(name: str) -> tuple[bool, str]:
    return name == "index.html", name

