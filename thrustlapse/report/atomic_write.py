"""Putting files in place whole: an earlier good report is never replaced by half a new one."""

from __future__ import annotations

import json
import os
import platform
import re
import shutil
import tempfile
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from functools import cache
from hashlib import sha256
from pathlib import Path


class ReportError(OSError):
    """A report or results file that cannot be written or read; its message says all."""


class Changed(ReportError):
    """A file that someone else changed meanwhile."""


def _why(problem: OSError) -> str:
    return problem.strerror or str(problem)


def write_file(path: Path, text: str) -> None:
    """Write one UTF-8 file, whole or not at all; raises ReportError."""
    with whole_file(path) as part:
        path.parent.mkdir(parents=True, exist_ok=True)
        part.write_text(text, encoding="utf-8", newline="")


def edit_file(path: Path, text: str, *, before: bytes) -> None:
    """Put a text in place of a file's, if it still holds ``before``; mode and links stay.

    Raises
    ------
    Changed
        If the file holds anything else at the moment of replacing.
    ReportError
        If it cannot be written; it is then as it was.
    """
    try:
        target = path.resolve(strict=True)
        with whole_file(target) as part:
            part.write_text(text, encoding="utf-8", newline="")
            shutil.copymode(target, part)
            if target.read_bytes() != before:
                raise Changed(f"{path.name} was changed by someone else since it was read; "
                              "nothing was written. Start again from the file to see it")
    except ReportError:
        raise
    except OSError as problem:
        raise ReportError(f"cannot write {path}: {_why(problem)}") from problem


@contextmanager
def whole_file(path: Path) -> Iterator[Path]:
    """Where to write one file that appears under ``path`` only when the block ends well.

    Raises
    ------
    ReportError
        If the file cannot be written; what was there before is then as it was.
    """
    # a short name of its own: one made from a long name would be too long for the disk
    part = path.with_name(f".{_writer()}.{threading.get_ident()}.part{path.suffix[:8]}")
    try:
        yield part
        part.replace(path)
    except ReportError:
        raise
    except OSError as problem:
        raise ReportError(f"cannot write {path}: {_why(problem)}") from problem
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)


MANIFEST = ".thrustlapse.json"
"""Lists the files of a folder that this package wrote: only those are ever replaced or removed."""

ADOPTED = ("results.json", "search.json", "fit.json", "log.json", "when.json")
"""A folder without a manifest is ours by one of these, if it says so of itself."""

_WRITER = r"(?P<home>[0-9a-f]{12})\.(?P<pid>[0-9]+)"
_WORKSHOP = re.compile(rf"\.(?P<name>.*)\.{_WRITER}-[^.]*")
_PART = re.compile(rf"\.{_WRITER}\.[0-9]+\.part.*")

ABANDONED = 86_400.0
"""Seconds after which a workshop counts as left behind, where no process can be asked for."""


@cache
def home_of_processes() -> str:
    """Twelve digits for the host whose process numbers ours is one of, as well as can be told.

    A disk may be shared between hosts, and a container has numbers of its own.
    """
    known = platform.node()
    with suppress(OSError):
        known += f" {Path('/proc/self/ns/pid').stat().st_ino}"
    return sha256(known.encode("utf-8", "replace")).hexdigest()[:12]


def _writer() -> str:
    return f"{home_of_processes()}.{os.getpid()}"


@contextmanager
def staged(folder: Path) -> Iterator[Path]:
    """A temporary folder whose files appear in ``folder`` together when the block ends well.

    Only files that an earlier run wrote there are replaced, or removed where the new report does
    not have them; any other file is left alone. If anything fails, on the way or while files are
    moved into place, ``folder`` is as it was. Even a process killed between two moves leaves no
    mixture of two reports, and no page (``index.html``) beside anything but its own files: the page
    goes first and comes last. What such a process left behind is swept away here.

    Parameters
    ----------
    folder : Path
        Made if it does not exist

    Raises
    ------
    ReportError
        If the folder cannot be written, or holds files of other origin by the names of ours.
    """
    _sweep(folder)
    try:
        workshop = _workshop(folder)
    except OSError as problem:
        raise ReportError(f"cannot write into {folder}: {_why(problem)}") from problem
    try:
        new = workshop / "new"
        new.mkdir()
        yield new
        _swap(new, folder, aside=workshop / "old")
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
    prefix = f".{folder.name[:100]}.{_writer()}-"
    if folder.is_dir():
        # proves that the folder itself can be written, and works where it is a mount of its own
        return Path(tempfile.mkdtemp(dir=folder, prefix=prefix))
    return Path(tempfile.mkdtemp(dir=folder.parent, prefix=prefix))


def _sweep(folder: Path) -> None:
    """Remove what killed writers of this folder left in it or beside it."""
    for home in (folder, folder.parent):
        try:
            found = list(home.iterdir())
        except OSError:
            continue
        for path in found:
            shop, part = _WORKSHOP.fullmatch(path.name), _PART.fullmatch(path.name)
            if shop and shop["name"] == folder.name[:100] and path.is_dir() \
                    and not path.is_symlink() and _left_behind(path, shop):
                shutil.rmtree(path, ignore_errors=True)
            elif part and home == folder and path.is_file() and _left_behind(path, part):
                with suppress(OSError):
                    path.unlink()


def _left_behind(path: Path, writer: re.Match[str]) -> bool:
    """Whether the process that made it is gone; where that cannot be asked, whether it is old."""
    if os.name == "posix" and writer["home"] == home_of_processes():
        try:
            os.kill(int(writer["pid"]), 0)
        except (ProcessLookupError, OverflowError):
            return True
        except OSError:
            return False
        return False
    try:
        return time.time() - path.stat().st_mtime > ABANDONED
    except OSError:
        return False


def _files(folder: Path) -> list[str]:
    return sorted(path.relative_to(folder).as_posix() for path in folder.rglob("*")
                  if path.is_file() or path.is_symlink())


def _ours(folder: Path, incoming: list[str]) -> set[str]:
    """Files of a folder that an earlier run wrote."""
    try:
        listed = json.loads((folder / MANIFEST).read_text(encoding="utf-8"))["files"]
        return {name for name in listed if isinstance(name, str) and not name.startswith("/")
                and ".." not in name.split("/")}
    except (OSError, ValueError, KeyError, TypeError):
        pass
    for name in ADOPTED:
        try:
            made = json.loads((folder / name).read_text(encoding="utf-8"))["format"]
        except (OSError, ValueError, KeyError, TypeError):
            continue
        if str(made).startswith("thrustlapse"):
            return set(incoming)
    return set()


def _listing(names: set[str]) -> str:
    return json.dumps({"what": "files here that thrustlapse wrote, and may replace or remove",
                       "files": sorted(names)}, indent=1) + "\n"


def _swap(new: Path, folder: Path, *, aside: Path) -> None:
    incoming = _files(new)
    if not folder.exists():
        (new / MANIFEST).write_text(_listing(set(incoming)), encoding="utf-8")
        new.rename(folder)
        return
    ours = _ours(folder, incoming)
    foreign = [name for name in incoming if name not in ours
               and ((folder / name).exists() or (folder / name).is_symlink())]
    if foreign:
        raise ReportError(
            f"{folder} has files of other origin by names that this writes: "
            f"{', '.join(foreign[:5])}{' and more' if len(foreign) > 5 else ''}; nothing was "
            "written. Choose another folder, or move them away")
    aside.mkdir()
    manifest = folder / MANIFEST
    before = manifest.read_bytes() if manifest.is_file() else None
    # whatever happens between two moves, what lies here is known as ours
    write_file(manifest, _listing(ours | set(incoming)))
    kept: list[str] = []
    placed: list[str] = []
    try:
        for name in sorted(ours, key=_page_last, reverse=True):
            if (folder / name).is_file() or (folder / name).is_symlink():
                _move(folder, aside, name)
                kept.append(name)
        for name in sorted(incoming, key=_page_last):
            _move(new, folder, name)
            placed.append(name)
    except BaseException:  # an interruption by the person too, or the old report would be lost
        for name in placed:
            _move(folder, new, name)
        for name in reversed(kept):
            _move(aside, folder, name)
        _restore(manifest, before)
        _prune(folder, incoming)
        raise
    write_file(manifest, _listing(set(incoming)))
    _prune(folder, kept)


def _move(source: Path, target: Path, name: str) -> None:
    (target / name).parent.mkdir(parents=True, exist_ok=True)
    (source / name).rename(target / name)


def _restore(manifest: Path, before: bytes | None) -> None:
    with suppress(OSError):
        if before is None:
            manifest.unlink()
        else:
            manifest.write_bytes(before)


def _prune(folder: Path, names: list[str]) -> None:
    """Remove subfolders of ours that have become empty."""
    for name in names:
        for parent in (folder / name).parents:
            if parent == folder:
                break
            with suppress(OSError):
                parent.rmdir()


def _page_last(name: str) -> tuple[bool, str]:
    return name == "index.html", name
