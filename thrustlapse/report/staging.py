"""Putting files in place whole: an earlier good report is never replaced by half a new one."""

from __future__ import annotations

import os
import shutil
import tempfile
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
    temporary = path.with_name(f".{path.name}.{os.getpid()}.part")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        temporary.write_text(text, encoding="utf-8", newline="")
        temporary.replace(path)
    except OSError as problem:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise ReportError(f"cannot write {path}: {_why(problem)}") from problem


@contextmanager
def staged(folder: Path, *, owned: tuple[str, ...] = ()) -> Iterator[Path]:
    """A temporary folder whose files appear in ``folder`` together when the block ends well.

    Other files in ``folder`` are left alone. If anything fails, on the way or while files are
    moved into place, ``folder`` is as it was.

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
    prefix = f".{folder.name}."
    if folder.is_dir():
        # proves that the folder itself can be written, and works where it is a mount of its own
        return Path(tempfile.mkdtemp(dir=folder, prefix=prefix))
    return Path(tempfile.mkdtemp(dir=folder.parent, prefix=prefix))


def _swap(new: Path, folder: Path, *, aside: Path, owned: tuple[str, ...]) -> None:
    if not folder.exists():
        new.rename(folder)
        return
    aside.mkdir()
    incoming = sorted(item.name for item in new.iterdir())
    kept, placed = [], []
    try:
        for name in {*incoming, *owned}:
            if (folder / name).exists() or (folder / name).is_symlink():
                (folder / name).rename(aside / name)
                kept.append(name)
        for name in incoming:
            (new / name).rename(folder / name)
            placed.append(name)
    except OSError:
        for name in placed:
            (folder / name).rename(new / name)
        for name in kept:
            (aside / name).rename(folder / name)
        raise

