"""Long work on disk: a manifest that says what the numbers are, and one file of arrays per chunk.

The manifest is written once, before anything is worked out, and never changes; a chunk's file
appears whole or not at all. What is there is therefore always right, and what is missing is all
that interrupted work still has to do.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
import numpy.typing as npt

MANIFEST = "manifest.json"

Arrays = Mapping[str, npt.NDArray[Any]]
"""A chunk's numbers by name."""

Form = Mapping[str, tuple[tuple[int, ...], type]]
"""Shape and type of each of a chunk's arrays, by which a damaged file is known."""


class StoreError(OSError):
    """A results folder that cannot be used; its message says why and what to do."""


def digest_of(record: Mapping[str, Any]) -> str:
    """SHA-256 of plain JSON values: equal records have equal ones."""
    return hashlib.sha256(json.dumps(record, sort_keys=True).encode()).hexdigest()


@dataclass(frozen=True, kw_only=True)
class ChunkFolder:
    """A folder of chunks, each by its number."""

    folder: Path

    def path(self, number: int) -> Path:
        """Where a chunk's numbers are."""
        return self.folder / "chunks" / f"{number:06d}.npz"

    def write(self, number: int, arrays: Arrays) -> None:
        """Keep a chunk, whole or not at all.

        Raises
        ------
        StoreError
            If it cannot be written; what is done is kept.
        """
        place = self.path(number)
        part = place.with_name(f".{place.name}.{os.getpid()}.part")
        try:
            with part.open("wb") as stream:
                np.savez(stream, allow_pickle=False, **arrays)
            part.replace(place)
        except OSError as problem:
            part.unlink(missing_ok=True)
            raise StoreError(f"cannot write {place}: {problem.strerror or problem}. What is done "
                             "is kept: make room, then go on with --resume.") from problem

    def read(self, number: int, form: Form) -> dict[str, npt.NDArray[Any]] | None:
        """A chunk's numbers; None where they are missing or not what they should be."""
        place = self.path(number)
        if not place.exists():
            return None
        try:
            with place.open("rb") as stream, np.load(stream, allow_pickle=False) as file:
                arrays = {name: file[name] for name in form}
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None
        fits = all(arrays[name].shape == shape and arrays[name].dtype == kind
                   for name, (shape, kind) in form.items())
        return arrays if fits else None


@dataclass(frozen=True, kw_only=True)
class Manifest:
    """What a folder is to hold: ``what`` in a word, ``told`` as plain JSON values with a
    ``format``, and ``differs`` says of each value that must be the same what it means where it is
    not."""

    what: str
    told: Mapping[str, Any]
    differs: Mapping[str, str]

    def check(self, place: Path) -> None:
        """Whether the manifest of a folder is this one.

        Raises
        ------
        StoreError
            If there is none, it cannot be read, or says something else.
        """
        try:
            there = json.loads(place.read_text(encoding="utf-8"))
        except FileNotFoundError:
            raise StoreError(f"{place.parent}: nothing to resume, there is no {MANIFEST} in it. "
                             "Leave --resume out to begin.") from None
        except (OSError, ValueError, RecursionError) as problem:
            raise StoreError(f"{place} cannot be read ({problem}). Begin anew in another "
                             "folder.") from None
        if not isinstance(there, dict) or there.get("format") != self.told["format"]:
            raise StoreError(f"{place} is not the manifest of a {self.what}. Give another folder.")
        reasons = [why for key, why in self.differs.items() if there.get(key) != self.told[key]]
        if reasons:
            raise StoreError(f"{place.parent} cannot be resumed: {'; '.join(reasons)}. Its numbers "
                             "would not fit: begin anew in another folder.")


def open_chunks(folder: Path, manifest: Manifest, *, resume: bool) -> ChunkFolder:
    """A folder for chunks: a new one, or one that was begun with the same manifest.

    Raises
    ------
    StoreError
        If it cannot be resumed, see :meth:`Manifest.check`, or cannot be written.
    """
    place = folder / MANIFEST
    if resume:
        manifest.check(place)
    try:
        (folder / "chunks").mkdir(parents=True, exist_ok=True)
        if not resume:
            part = place.with_name(f".{place.name}.part")
            part.write_text(json.dumps(manifest.told, indent=1) + "\n", encoding="utf-8")
            part.replace(place)
    except OSError as problem:
        raise StoreError(f"cannot write into {folder}: {problem.strerror or problem}") from problem
    return ChunkFolder(folder=folder)
