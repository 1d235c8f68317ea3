"""Does a high-pressure blower win at high airspeed, and can the aircraft get there?

Thrust, thrust lapse, top speed and a verdict for centrifugal blowers, axial ducted fans and
propellers on an equal footing, from one scenario file. The short way:

    import thrustlapse as tl

    scenario = tl.read_scenario("scenarios/three_ways_to_push.toml")
    point = tl.operate(scenario.candidates["blower"], airspeed=[0.0, 20.0, 40.0])
    answer = tl.compare(scenario)
    tl.write_report(answer, "out")

Names are fetched when they are first used, so that importing the package costs next to nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

_WHERE = {
    "read_scenario": "thrustlapse.scenario.files.read",
    "read_bench": "thrustlapse.scenario.readings.bench_file",
    "fit_bench": "thrustlapse.study.bench_fit",
    "bench_answer": "thrustlapse.study.experiment_design",
    "ScenarioError": "thrustlapse.scenario.faults",
    "operate": "thrustlapse.propulsor.candidate",
    "compare": "thrustlapse.study.compare",
    "next_experiments": "thrustlapse.learning",
    "live_table": "thrustlapse.study.live_table",
    "when": "thrustlapse.sizing",
    "search_scenario": "thrustlapse.search",
    "write_search": "thrustlapse.report.search.files",
    "standard_air": "thrustlapse.air.atmosphere",
    "verdict": "thrustlapse.report.comparison.verdict",
    "write_report": "thrustlapse.report.comparison.write_up",
    "write_results": "thrustlapse.report.comparison.results_file",
    "read_results": "thrustlapse.report.comparison.results_file",
    "figure": "thrustlapse.report.comparison.figures",
    "table": "thrustlapse.report.data_frame",
}

__all__ = ["__version__", *sorted(_WHERE)]

if TYPE_CHECKING:
    from thrustlapse.air.atmosphere import standard_air as standard_air
    from thrustlapse.propulsor.candidate import operate as operate
    from thrustlapse.study.compare import compare as compare


def __getattr__(name: str) -> Any:
    if name not in _WHERE:
        raise AttributeError(f"module 'thrustlapse' has no attribute {name!r}")
    return getattr(import_module(_WHERE[name]), name)


def __dir__() -> list[str]:
    return sorted(set(globals()) | set(__all__))
