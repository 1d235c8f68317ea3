"""A search on disk: a manifest that says what the numbers are, and one file of arrays per chunk.

The manifest is written once, before anything is worked out, and never changes; a chunk's file
appears whole or not at all. What is there is therefore always right, and what is missing is all
that an interrupted search still has to do.
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import Axis, Chunk, SearchSpec
from thrustlapse.glossary import quantity
from thrustlapse.study.search.bits import BITS
from thrustlapse.study.search.evaluate import Evaluated

MANIFEST = "manifest.json"
FORMAT, FORMAT_VERSION = "thrustlapse search", 3
_CAUSES = ("causes", "design_causes")


class StoreError(OSError):
    """A results folder that cannot be used; its message says why and what to do."""

    def __init__(self, message: str) -> None:
        super().__init__(message)
        self.message = message

    def __str__(self) -> str:
        return self.message

    def __reduce__(self) -> tuple[type[StoreError], tuple[str]]:
        return type(self), (self.message,)


def spec_record(spec: SearchSpec) -> dict[str, Any]:
    """A search as plain JSON values, complete: two searches with equal records are equal."""
    return {
        "candidates": spec.candidates,
        "axes": [_axis_record(axis) for axis in spec.axes],
        "airspeed": {"unit": "m/s", "values": spec.airspeed.tolist()},
        "answers": {name: {"unit": quantity(name).unit, "of": "design and airspeed"
                           if ANSWERS[name].at_airspeed else "design"} for name in spec.answers},
        "best": spec.best, "front": list(spec.front),
        "front_airspeed": {"unit": "m/s", "value": spec.front_airspeed},
        "bounds": [{"answer": bound.answer, "at_least": _finite(bound.at_least),
                    "at_most": _finite(bound.at_most)} for bound in spec.bounds],
        "leave_out": list(spec.leave_out), "samples": spec.samples, "seed": spec.seed,
        "installed_mass": {"unit": "kg", "value": spec.installed_mass},
    }


def _axis_record(axis: Axis) -> dict[str, Any]:
    return {"name": axis.name, "keys": list(axis.keys), "unit": axis.unit, "kind": axis.kind,
            "values": axis.values.tolist(), "sampled": axis.sampled, "candidate": axis.owner,
            "relative": axis.relative, "slow": axis.slow,
            **({"follow": dict(axis.follow)} if axis.follow else {})}


def _finite(value: float) -> float | None:
    return value if np.isfinite(value) else None


def manifest(spec: SearchSpec, chunks: tuple[Chunk, ...], *, scenario_digest: str,
             version: str) -> dict[str, Any]:
    """Everything the numbers of a search depend on, and what they are."""
    record = spec_record(spec)
    told = json.dumps(record, sort_keys=True).encode()
    return {
        "format": FORMAT, "format_version": FORMAT_VERSION, "package_version": version,
        "scenario_sha256": scenario_digest, "search_sha256": hashlib.sha256(told).hexdigest(),
        "search": record, "cause_bits": BITS,
        "chunks": [[chunk.candidate, chunk.start, chunk.stop] for chunk in chunks],
    }


@dataclass(frozen=True, kw_only=True)
class Store:
    """The folder of one search."""

    folder: Path
    spec: SearchSpec
    chunks: tuple[Chunk, ...]

    def path(self, chunk: Chunk) -> Path:
        """Where a chunk's numbers are."""
        return self.folder / "chunks" / f"{chunk.number:06d}.npz"

    def missing(self) -> tuple[Chunk, ...]:
        """Chunks that are not there, or are not what they should be."""
        return tuple(chunk for chunk in self.chunks if self._read(chunk) is None)

    def write(self, chunk: Chunk, result: Evaluated) -> None:
        """Keep a chunk, whole or not at all."""
        place = self.path(chunk)
        part = place.with_name(f".{place.name}.{os.getpid()}.part")
        try:
            with part.open("wb") as stream:
                np.savez(stream, allow_pickle=False, causes=result.causes,
                         design_causes=result.design_causes, **result.answers)
            part.replace(place)
        except OSError as problem:
            part.unlink(missing_ok=True)
            raise StoreError(f"cannot write {place}: {problem.strerror or problem}. What is done "
                             "is kept: make room, then go on with --resume.") from problem

    def read(self, chunk: Chunk) -> Evaluated:
        """A chunk that is there.

        Raises
        ------
        StoreError
            If it is not, or is damaged.
        """
        found = self._read(chunk)
        if found is None:
            raise StoreError(f"{self.path(chunk)} is missing or damaged: go on with --resume")
        return found

    def results(self) -> Iterator[tuple[Chunk, Evaluated]]:
        """Every chunk in order, one at a time."""
        for chunk in self.chunks:
            yield chunk, self.read(chunk)

    def answers(self, candidate: str, rows: IntArray) -> dict[str, Array]:
        """Answers of some designs of a candidate by number, in any order.

        Raises
        ------
        StoreError
            If a chunk is missing or damaged.
        """
        found = {name: np.full((rows.size, self.spec.airspeed.size) if ANSWERS[name].at_airspeed
                               else (rows.size,), np.nan) for name in self.spec.answers}
        for chunk in self.chunks:
            wanted = np.flatnonzero((rows >= chunk.start) & (rows < chunk.stop))
            if chunk.candidate == candidate and wanted.size:
                result = self.read(chunk)
                for name, table in found.items():
                    table[wanted] = result.answers[name][rows[wanted] - chunk.start]
        return found

    def _read(self, chunk: Chunk) -> Evaluated | None:
        place = self.path(chunk)
        if not place.exists():
            return None
        try:
            with place.open("rb") as stream, np.load(stream, allow_pickle=False) as file:
                arrays = {name: file[name] for name in (*self.spec.answers, *_CAUSES)}
        except (OSError, ValueError, KeyError, EOFError, zipfile.BadZipFile):
            return None
        designs = chunk.stop - chunk.start
        tall, wide = (designs,), (designs, self.spec.airspeed.size)
        shapes = {name: wide if ANSWERS[name].at_airspeed else tall for name in self.spec.answers}
        shapes |= {"causes": wide, "design_causes": tall}
        if any(arrays[name].shape != shape for name, shape in shapes.items()) or any(
                arrays[name].dtype != np.int64 for name in _CAUSES):
            return None
        return Evaluated(answers=arrays, **{name: arrays.pop(name) for name in _CAUSES})


def open_store(folder: Path, spec: SearchSpec, chunks: tuple[Chunk, ...], *, scenario_digest: str,
               version: str, resume: bool) -> Store:
    """A folder for a search: a new one, or the one it was begun in.

    Raises
    ------
    StoreError
        If the folder is there and ``resume`` is not asked for, if it holds another search, or if
        it cannot be written.
    """
    wanted = manifest(spec, chunks, scenario_digest=scenario_digest, version=version)
    place = folder / MANIFEST
    store = Store(folder=folder, spec=spec, chunks=chunks)
    if resume:
        _check_same(place, wanted)
    elif folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StoreError(f"{folder} is already there, and left as it is. Give another folder"
                         + (", or go on with this search: --resume" if place.is_file() else "."))
    try:
        (folder / "chunks").mkdir(parents=True, exist_ok=True)
        if not resume:
            part = place.with_name(f".{place.name}.part")
            part.write_text(json.dumps(wanted, indent=1) + "\n", encoding="utf-8")
            part.replace(place)
    except OSError as problem:
        raise StoreError(f"cannot write into {folder}: {problem.strerror or problem}") from problem
    return store


_DIFFERS = {
    "package_version": "it was begun by another version of thrustlapse",
    "scenario_sha256": "the scenario file has changed since",
    "search_sha256": "the search has changed since",
    "format_version": "its folder has another form",
    "chunks": "its chunks have other bounds",
}


def _check_same(place: Path, wanted: dict[str, Any]) -> None:
    try:
        there = json.loads(place.read_text(encoding="utf-8"))
    except FileNotFoundError:
        raise StoreError(f"{place.parent}: nothing to resume, there is no {MANIFEST} in it. "
                         "Leave --resume out to begin.") from None
    except (OSError, ValueError, RecursionError) as problem:
        raise StoreError(f"{place} cannot be read ({problem}). Begin anew in another "
                         "folder.") from None
    if not isinstance(there, dict) or there.get("format") != FORMAT:
        raise StoreError(f"{place} is not the manifest of a search. Give another folder.")
    reasons = [why for key, why in _DIFFERS.items() if there.get(key) != wanted[key]]
    if reasons:
        raise StoreError(f"{place.parent} cannot be resumed: {'; '.join(reasons)}. Its numbers "
                         "would not fit: begin anew in another folder.")
