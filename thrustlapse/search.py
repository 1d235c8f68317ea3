"""A search from a scenario to its result: where the reader, the work and the summary meet."""

from __future__ import annotations

from pathlib import Path

from thrustlapse import __version__
from thrustlapse.designs.answers import points_per_design
from thrustlapse.designs.spec import chunks
from thrustlapse.scenario.build.designs import scenario_designs
from thrustlapse.scenario.build.model import Scenario
from thrustlapse.study.search.run import Tell, run_search
from thrustlapse.study.search.store import Store, open_store
from thrustlapse.study.search.summary import SearchResult, summarise
from thrustlapse.study.workers import hired


class NoSearch(ValueError):
    """A scenario without a search."""


def search_scenario(scenario: Scenario, folder: Path | str, *, processes: int = 1,
                    cluster: str | None = None, resume: bool = False,
                    tell: Tell | None = None) -> tuple[Store, SearchResult]:
    """Work the search of a scenario out into a folder, and sum it up.

    Parameters
    ----------
    scenario : Scenario
        Read from a file with a table ``[search]``
    folder : path
        For the chunks and their manifest; must be new or empty unless resuming
    processes : int
        Worker processes on this machine; one works in this very process
    cluster : str, optional
        Address of a running cluster's scheduler, in their place
    resume : bool
        Go on with the search that is in the folder
    tell : callable, optional
        Called with operating points done and in all

    Raises
    ------
    NoSearch, StoreError, ClusterError
    """
    if not scenario.searches:
        raise NoSearch("no table [search] in it: that table says what varies and what counts. "
                       "The starter file shows one: thrustlapse new FILE")
    machines = scenario_designs(scenario)
    spec = machines.spec
    store = open_store(Path(folder), spec,
                       chunks(spec, points_per_design(spec.airspeed.size, spec.answers)),
                       scenario_digest=scenario.digest, version=__version__, resume=resume)
    with hired(processes=processes, cluster=cluster) as hands:
        run_search(machines, store, hands, tell=tell)
    basis = scenario.comparison
    footing = basis.footing + (f", that of {basis.reference}" if basis.reference else "")
    return store, summarise(scenario, scenario_designs, store, footing=footing, version=__version__)
