"""A search on disk: what its manifest says, and its chunks as answers of designs."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from thrustlapse.arrays import Array, IntArray
from thrustlapse.designs.answers import ANSWERS
from thrustlapse.designs.spec import Axis, Chunk, SearchSpec
from thrustlapse.glossary import quantity
from thrustlapse.study.chunk_folder import (
    MANIFEST,
    ChunkFolder,
    Manifest,
    StoreError,
    digest_of,
    open_chunks,
)
from thrustlapse.study.search.bits import BITS
from thrustlapse.study.search.evaluate import Evaluated

FORMAT, FORMAT_VERSION = "thrustlapse search", 3
_CAUSES = ("causes", "design_causes")


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
             version: str) -> Manifest:
    """Everything the numbers of a search depend on, and what they are."""
    record = spec_record(spec)
    return Manifest(what="search", differs=_DIFFERS, told={
        "format": FORMAT, "format_version": FORMAT_VERSION, "package_version": version,
        "scenario_sha256": scenario_digest, "search_sha256": digest_of(record),
        "search": record, "cause_bits": BITS,
        "chunks": [[chunk.candidate, chunk.start, chunk.stop] for chunk in chunks],
    })


@dataclass(frozen=True, kw_only=True)
class Store:
    """The folder of one search."""

    folder: Path
    spec: SearchSpec
    chunks: tuple[Chunk, ...]

    @property
    def files(self) -> ChunkFolder:
        """Its chunks' files."""
        return ChunkFolder(folder=self.folder)

    def path(self, chunk: Chunk) -> Path:
        """Where a chunk's numbers are."""
        return self.files.path(chunk.number)

    def missing(self) -> tuple[Chunk, ...]:
        """Chunks that are not there, or are not what they should be."""
        return tuple(chunk for chunk in self.chunks if self._read(chunk) is None)

    def write(self, chunk: Chunk, result: Evaluated) -> None:
        """Keep a chunk, whole or not at all; raises StoreError."""
        self.files.write(chunk.number, {"causes": result.causes,
                                        "design_causes": result.design_causes, **result.answers})

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
        tall = (chunk.stop - chunk.start,)
        wide = (*tall, self.spec.airspeed.size)
        form: dict[str, tuple[tuple[int, ...], type]] = {
            name: (wide if ANSWERS[name].at_airspeed else tall, np.float64)
            for name in self.spec.answers}
        arrays = self.files.read(chunk.number, form | {"causes": (wide, np.int64),
                                                       "design_causes": (tall, np.int64)})
        return None if arrays is None else Evaluated(
            answers=arrays, **{name: arrays.pop(name) for name in _CAUSES})


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
    if not resume and folder.exists() and (not folder.is_dir() or any(folder.iterdir())):
        raise StoreError(f"{folder} is already there, and left as it is. Give another folder"
                         + (", or go on with this search: --resume"
                            if (folder / MANIFEST).is_file() else "."))
    open_chunks(folder, wanted, resume=resume)
    return Store(folder=folder, spec=spec, chunks=chunks)


_DIFFERS = {
    "package_version": "it was begun by another version of thrustlapse",
    "scenario_sha256": "the scenario file has changed since",
    "search_sha256": "the search has changed since",
    "format_version": "its folder has another form",
    "chunks": "its chunks have other bounds",
}
