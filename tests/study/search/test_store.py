"""A search on disk: refused, resumed, mended; whoever does the work, the numbers are the same."""

from __future__ import annotations

import json
import os
import signal
import socket
import subprocess
import sys
import time
from concurrent.futures import Executor, Future
from dataclasses import replace
from importlib.util import find_spec
from multiprocessing import active_children
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from scipy.io import netcdf_file

from tests.searches import MACHINES, SAMPLED, SEARCH, chunks_of, designs
from tests.study.cluster import local_cluster
from thrustlapse.designs import spec as spec_module
from thrustlapse.designs.spec import Chunk
from thrustlapse.report.search.files import write_netcdf
from thrustlapse.report.search.words import terminal_lines
from thrustlapse.scenario.build.designs import ScenarioDesigns
from thrustlapse.scenario.files.read import read_text
from thrustlapse.search import search_scenario
from thrustlapse.study import workers as workers_module
from thrustlapse.study.chunk_folder import StoreError
from thrustlapse.study.hand_out import AHEAD
from thrustlapse.study.search.bits import BITS, FIRST_LIMIT, mask
from thrustlapse.study.search.evaluate import Evaluated, evaluate
from thrustlapse.study.search.run import run_search
from thrustlapse.study.search.store import Store, open_store
from thrustlapse.study.workers import (
    NO_CLUSTER,
    TRIM,
    ClusterError,
    Hands,
    cluster_workers,
    hired,
    local_workers,
    slow_workers,
)

DISTRIBUTED = pytest.mark.skipif(find_spec("distributed") is None, reason=NO_CLUSTER)


@pytest.fixture
def small_chunks(monkeypatch: pytest.MonkeyPatch) -> None:
    """Many chunks of few points, so that there is something to interrupt."""
    monkeypatch.setattr(spec_module, "POINTS_PER_CHUNK", 150)


def opened(folder: Path, made: ScenarioDesigns, *, resume: bool = False) -> Store:
    return open_store(folder, made.spec, chunks_of(made.spec), scenario_digest=made.digest,
                      version="1", resume=resume)


def filled(folder: Path, made: ScenarioDesigns, hands: Hands | None = None) -> Store:
    store = opened(folder, made)
    if hands is not None:
        run_search(made, store, hands)
        return store
    with hired() as here:
        run_search(made, store, here)
    return store


def same(one: Store, other: Store) -> bool:
    """Whether two stores hold the same chunks, to the last bit."""
    pairs = zip(one.results(), other.results(), strict=True)
    return all(a == b and equal(x, y) for (a, x), (b, y) in pairs)


def equal(one: Evaluated, other: Evaluated) -> bool:
    return (np.array_equal(one.causes, other.causes)
            and np.array_equal(one.design_causes, other.design_causes)
            and all(np.array_equal(one.answers[name], other.answers[name], equal_nan=True)
                    for name in one.answers))


def test_a_chunk_keeps_every_cause_it_can_hold(tmp_path: Path) -> None:
    """History: it kept 32 bits, and every limit that says stop has its bit above those."""
    made = designs()
    store = opened(tmp_path / "out", made)
    chunk = store.chunks[0]
    worked = evaluate(made, made.spec, chunk)
    every = mask(BITS)
    store.write(chunk, replace(worked, causes=worked.causes | every,
                               design_causes=worked.design_causes | every))
    back = store.read(chunk)
    assert np.all(back.causes == every)
    assert np.all(back.design_causes == every)


@pytest.mark.parametrize("best", ["installed_thrust", "static_thrust", "top_speed"])
def test_a_search_on_disk_crowns_no_design_that_a_limit_stops(tmp_path: Path, best: str) -> None:
    """A 10 A connector before 350 W on six cells, near 15 A: no design is left of any kind."""
    text = MACHINES + '[wiring]\nconnector_rating = "10 A"\n' + SEARCH.replace(
        "[search]", f'[search]\nbest = "{best}"').replace('"200 W"', '"350 W"')
    store, found = search_scenario(read_text(text), tmp_path / "out")
    write_netcdf(store, tmp_path / "out")
    told = "\n".join(terminal_lines(found))
    assert "No design counts" in told
    assert "no kind of machine makes thrust" not in told.lower()
    for name, one in found.found.items():
        assert one.counted > 0
        assert one.left == 0
        assert one.causes["connector current"] == one.counted
        assert np.all(one.row < 0)
        assert one.front is None or one.front.row.size == 0
        with netcdf_file(tmp_path / "out" / f"{name}.nc", mmap=False) as file:
            bits = file.variables["limits"][:].astype(np.int64) << FIRST_LIMIT
            assert np.all(bits & BITS["connector current"])


def test_a_folder_that_is_there_is_refused_and_left_alone(tmp_path: Path) -> None:
    made = designs()
    (tmp_path / "notes.txt").write_text("mine")
    with pytest.raises(StoreError, match="already there"):
        opened(tmp_path, made)
    assert [path.name for path in tmp_path.iterdir()] == ["notes.txt"]
    filled(tmp_path / "search", made)
    with pytest.raises(StoreError, match="--resume"):
        opened(tmp_path / "search", made)


def test_a_file_in_its_place_is_refused(tmp_path: Path) -> None:
    (tmp_path / "out").write_text("mine")
    with pytest.raises(StoreError, match="already there"):
        opened(tmp_path / "out", designs())


def test_nothing_to_resume_is_said(tmp_path: Path) -> None:
    with pytest.raises(StoreError, match="nothing to resume"):
        opened(tmp_path, designs(), resume=True)
    (tmp_path / "manifest.json").write_text("{}")
    with pytest.raises(StoreError, match="not the manifest"):
        opened(tmp_path, designs(), resume=True)
    (tmp_path / "manifest.json").write_text("{")
    with pytest.raises(StoreError, match="cannot be read"):
        opened(tmp_path, designs(), resume=True)


def test_another_search_is_not_resumed(tmp_path: Path) -> None:
    filled(tmp_path, designs())
    with pytest.raises(StoreError, match="scenario file has changed"):
        opened(tmp_path, replace(designs(), digest="0" * 64), resume=True)
    with pytest.raises(StoreError, match="the search has changed"):
        opened(tmp_path, designs(SAMPLED), resume=True)


@pytest.mark.usefixtures("small_chunks")
def test_what_is_missing_or_damaged_is_done_again_and_nothing_else(tmp_path: Path) -> None:
    made = designs()
    whole = filled(tmp_path / "whole", made)
    store = filled(tmp_path / "broken", made)
    assert len(store.chunks) > 4
    store.path(store.chunks[1]).unlink()
    store.path(store.chunks[2]).write_bytes(store.path(store.chunks[2]).read_bytes()[:200])
    store.path(store.chunks[3]).write_bytes(b"not a chunk")
    assert store.missing() == store.chunks[1:4]
    with pytest.raises(StoreError, match="missing or damaged"):
        store.read(store.chunks[2])
    told: list[tuple[int, int]] = []
    with hired() as here:
        run_search(made, opened(tmp_path / "broken", made, resume=True), here,
                   tell=lambda done, total: told.append((done, total)))
    assert same(whole, store)
    assert len(told) == 4  # once at the start, once for each chunk done again
    assert told[-1][0] == told[-1][1]
    assert 0 < told[0][0] < told[0][1]


def test_the_manifest_says_what_the_numbers_are(tmp_path: Path) -> None:
    made = designs()
    store = filled(tmp_path, made)
    told = json.loads((tmp_path / "manifest.json").read_text())
    assert told["scenario_sha256"] == made.digest
    assert told["search"]["answers"]["installed_thrust"] == {"unit": "N",
                                                             "of": "design and airspeed"}
    nozzle = next(axis for axis in told["search"]["axes"] if axis["name"] == "nozzle")
    assert nozzle["unit"] == "m"
    assert nozzle["values"] == pytest.approx(np.linspace(0.011, 0.026, 6))
    assert told["chunks"] == [[chunk.candidate, chunk.start, chunk.stop] for chunk in store.chunks]
    assert told["cause_bits"]["stall side"] == 16


class Counting(Executor):
    """Keeps count of what it is given and has not yet handed back."""

    def __init__(self) -> None:
        self.waiting, self.most = 0, 0

    def submit(self, fn: Any, /, *args: Any, **kwargs: Any) -> Future[Any]:
        self.waiting += 1
        self.most = max(self.most, self.waiting)
        future: Future[Any] = Future()
        future.add_done_callback(lambda _: setattr(self, "waiting", self.waiting - 1))
        future.set_result(fn(*args, **kwargs))
        return future


@pytest.mark.usefixtures("small_chunks")
def test_no_more_chunks_are_handed_out_than_workers_can_take(tmp_path: Path) -> None:
    """Memory is bounded because results do not pile up: at most so many are on their way."""
    workers = Counting()
    filled(tmp_path, designs(), Hands(workers=workers))
    assert workers.most <= AHEAD


@pytest.mark.usefixtures("small_chunks")
def test_two_processes_give_the_numbers_of_one(tmp_path: Path) -> None:
    made = designs()
    one = filled(tmp_path / "one", made)
    with local_workers(2) as pool:
        two = filled(tmp_path / "two", made, Hands(workers=pool, count=2))
        again = pool.submit(os.getenv, "OPENBLAS_NUM_THREADS").result()
    assert same(one, two)
    assert again == "1"


@pytest.mark.usefixtures("small_chunks")
def test_a_worker_that_dies_loses_nothing_that_is_done(tmp_path: Path) -> None:
    made = designs()
    store = opened(tmp_path / "two", made)
    with hired() as here:
        run_search(made, replace(store, chunks=store.chunks[:3]), here)
    with local_workers(2) as pool:
        pool.submit(os.getpid).result()
        pool.submit(os.kill, pool.submit(os.getpid).result(), signal.SIGKILL)
        with pytest.raises(StoreError, match="--resume"):
            run_search(made, store, Hands(workers=pool, count=2))
    assert set(store.chunks[:3]).isdisjoint(store.missing())


@DISTRIBUTED
@pytest.mark.filterwarnings("ignore")
@pytest.mark.usefixtures("small_chunks")
def test_a_cluster_gives_the_numbers_of_one_even_if_a_worker_is_killed(tmp_path: Path) -> None:
    made = designs()
    one = filled(tmp_path / "one", made)
    store = opened(tmp_path / "many", made)
    with local_cluster(2) as address, cluster_workers(address) as (workers, count, watch):
        assert count == 2
        assert slow_workers(address) == []
        victim = workers.submit(os.getpid).result()
        killed: list[int] = []

        def kill_in_the_middle(done: int, total: int) -> None:
            if done > total // 4 and not killed:
                os.kill(victim, signal.SIGKILL)
                killed.append(done)

        run_search(made, store, Hands(workers=workers, count=count, watch=watch),
                   tell=kill_in_the_middle)
        assert killed
    assert same(one, store)


def cluster_of_processes(workers: int) -> tuple[str, list[subprocess.Popen[bytes]]]:
    """A scheduler and workers that nobody starts again, as processes of their own."""
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    address = f"tcp://127.0.0.1:{port}"
    commands = [["dask_scheduler", "--host", "127.0.0.1", "--port", str(port), "--no-dashboard"],
                *[["dask_worker", address, "--nthreads", "1", "--no-nanny", "--no-dashboard"]
                  ] * workers]
    return address, [subprocess.Popen(
        [sys.executable, "-m", f"distributed.cli.{name}", *words], stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL) for name, *words in commands]


@DISTRIBUTED
@pytest.mark.filterwarnings("ignore")
@pytest.mark.usefixtures("small_chunks")
@pytest.mark.parametrize(("victims", "words"), [
    (slice(1, None), "no workers any more"), (slice(0, 1), "scheduler is gone")])
def test_a_cluster_that_dies_is_told_soon_and_what_is_done_is_kept(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch, victims: slice, words: str) -> None:
    """History: without workers a search waited for ever; without scheduler it gave a traceback."""
    made = designs()
    one = filled(tmp_path / "one", made)
    store = opened(tmp_path / "many", made)
    address, processes = cluster_of_processes(2)
    died: list[float] = []

    def kill_in_the_middle(done: int, total: int) -> None:
        if done > total // 4 and not died:
            for process in processes[victims]:
                process.kill()
                process.wait()
            died.append(time.monotonic())

    def search() -> None:
        with cluster_workers(address) as (workers, count, watch):
            monkeypatch.setattr(workers_module, "PATIENCE", 3.0)
            run_search(made, store, Hands(workers=workers, count=count, watch=watch),
                       tell=kill_in_the_middle)

    try:
        until = time.monotonic() + 60.0
        while time.monotonic() < until:  # until both have joined
            try:
                with cluster_workers(address) as (_, count, _):
                    if count == 2:
                        break
            except ClusterError:
                time.sleep(0.2)
        with pytest.raises(ClusterError, match=words):
            search()
        assert time.monotonic() - died[0] < 30.0
    finally:
        for process in processes:
            process.kill()
            process.wait()
    done = len(store.chunks) - len(store.missing())
    assert 0 < done < len(store.chunks)
    again = opened(tmp_path / "many", made, resume=True)
    with hired() as here:
        run_search(made, again, here)
    assert same(one, again)


@DISTRIBUTED
@pytest.mark.filterwarnings("ignore")
def test_no_cluster_is_said(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(workers_module, "PATIENCE", 1.0)
    start = time.monotonic()
    with pytest.raises(ClusterError, match="no cluster answers"), cluster_workers("nowhere"):
        pass
    with pytest.raises(ClusterError, match="no cluster answers"):
        slow_workers("tcp://127.0.0.1:9")
    assert time.monotonic() - start < 30.0


def test_the_variable_that_slows_workers_is_the_allocators_own() -> None:
    """mallopt(3), GNU C library: M_TRIM_THRESHOLD is read from MALLOC_TRIM_THRESHOLD_."""
    assert TRIM == "MALLOC_TRIM_THRESHOLD_"


def test_chunks_pickle() -> None:
    import pickle

    made = designs()
    again = pickle.loads(pickle.dumps((made, made.spec, chunks_of(made.spec))))
    assert again[0] == made
    assert isinstance(again[2][0], Chunk)


def test_a_worker_that_never_ends_is_not_waited_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """History: a worker begun while another died was told nothing, and the search hung at its end.
    """
    monkeypatch.setattr(workers_module, "LEAVING", 0.2)
    before = set(active_children())
    with local_workers(2) as pool:
        pool.submit(time.sleep, 3600.0)
        pool.submit(os.getpid).result()
    ends = time.monotonic() + 5.0  # the pool's own thread may still be taking leave of one
    while set(active_children()) - before and time.monotonic() < ends:
        time.sleep(0.05)
    assert set(active_children()) <= before
