"""Make the committed reports and the README's numbers anew: ``python -m tests.refresh_reports``.

``tests/test_reports.py`` fails when what is committed no longer follows from the code.
"""

from __future__ import annotations

import re
import tempfile
from functools import cache
from pathlib import Path

import thrustlapse as tl
from tests import accuracy_figure, shipped
from tests.credibility import collect
from tests.credibility import page as credibility
from tests.rotor.measured_propellers import SUSPECT, compare_measured
from tests.tools.documentation.build import PAGES
from thrustlapse.commands.bench_fit import candidate_text
from thrustlapse.report.bench.page import write_bench_report
from thrustlapse.report.flight_log.page import write_log
from thrustlapse.rotor.propeller.geometry import UNKNOWN_SECTION
from thrustlapse.scenario.readings.bench_file import read_bench
from thrustlapse.scenario.readings.log_file import read_log
from thrustlapse.study.bench_study import BenchStudy, study_bench
from thrustlapse.study.comparison import Comparison
from thrustlapse.study.log_study import LogStudy, study_log
from thrustlapse.study.search.summary import SearchResult

ROOT = Path(__file__).parents[1]
STORY = ROOT / "scenarios" / "three_ways_to_push.toml"
BENCH = ROOT / "scenarios" / "story_blower_bench.csv"
BENCH_REPORT = ROOT / "reports" / BENCH.stem
FLIGHT_LOG = ROOT / "scenarios" / "story_fan_flight.csv"
FLIGHT_REPORT = ROOT / "reports" / "story_fan_flight"
FILLED = (ROOT / "README.md", PAGES / "accuracy.md")
"""Pages written by hand with numbers that are made."""

BLOCK = re.compile(r"(<!-- made by tests\.refresh_reports: (\w+) -->\n).*?(<!-- end -->)",
                   re.DOTALL)


def scenarios() -> list[Path]:
    """Every runnable scenario of the repository."""
    return sorted((ROOT / "scenarios").glob("*.toml"))


def report_folder(scenario: Path) -> Path:
    """Where the report of a scenario is committed."""
    return ROOT / "reports" / scenario.stem


def answer(scenario: Path) -> Comparison:
    """The comparison of a scenario."""
    return shipped.answer(scenario.stem)


def searched(scenario: Path) -> SearchResult:
    """The search of a scenario; its chunks are only on the way to it and are not kept."""
    with tempfile.TemporaryDirectory() as folder:
        return tl.search_scenario(tl.read_scenario(scenario), Path(folder) / "chunks")[1]


def flight_log_study() -> LogStudy:
    """The invented flight of the story's fan, laid over the prediction."""
    story = tl.read_scenario(STORY)
    assert story.airframe is not None
    return study_log(read_log(FLIGHT_LOG), story.candidates["fan"], story.airframe,
                     title=story.title, invented=story.invented, digest=story.digest)


def story_table(comparison: Comparison) -> str:
    """The invented story in five columns."""
    lines = ["| candidate | thrust at rest | jet speed at rest | top speed | thrust there |",
             "| --- | --- | --- | --- | --- |"]
    for name, result in comparison.candidates.items():
        level, top = result.level, result.at_top
        assert level is not None
        speed = f"{level.top_speed:.1f} m/s" if top is not None else "none"
        thrust = f"{float(top.installed_thrust):.2f} N" if top is not None else ""
        lines.append(f"| {name} | {float(result.at_rest.installed_thrust):.2f} N "
                     f"| {float(result.at_rest.jet_speed):.0f} m/s | {speed} | {thrust} |")
    return "\n".join(lines) + "\n"


def propeller_table() -> str:
    """Blade elements against measured propellers, in per cent of the peak."""
    lines = ["| propeller [inch] | section | points | CT rms | CP rms |",
             "| --- | --- | --- | --- | --- |"]
    lines += [f"| {one.propeller}{' (suspect data)' if one.propeller in SUSPECT else ''} "
              f"| {'unknown' if one.section == UNKNOWN_SECTION else one.section} | {one.points} "
              f"| {100 * one.thrust_rms:.1f} % | {100 * one.power_rms:.1f} % |"
              for one in compare_measured() if one.test == "all"]
    return "\n".join(lines) + "\n"


@cache
def blocks() -> dict[str, str]:
    """Every block of a written page that is made and not written."""
    comparison = answer(STORY)
    return {"story": story_table(comparison),
            "propellers": propeller_table(), "trust": credibility.trust_lines(collect.groups())}


def filled(text: str, made: dict[str, str]) -> str:
    """A page with its blocks filled."""
    return BLOCK.sub(lambda found: found[1] + made[found[2]] + found[3], text)


def bench_study() -> BenchStudy:
    """The story's blower fitted to its invented bench."""
    return study_bench(tl.read_scenario(STORY), "blower", read_bench(BENCH))


def write_bench() -> None:
    """The report of that fit, with the fitted candidate."""
    study, read = bench_study(), tl.read_scenario(STORY)
    text, why = candidate_text(study, read)
    assert text is not None, why
    write_bench_report(study, BENCH_REPORT, candidate_text=text, title=read.title,
                       invented=read.invented)


def main() -> None:
    """Write all reports and fill the README."""
    for scenario in scenarios():
        read = tl.read_scenario(scenario)
        answer = tl.compare(read)
        tl.write_report(answer, report_folder(scenario), scenario_text=read.text,
                        live=tl.live_table(read, answer))
        print(f"written: {report_folder(scenario).relative_to(ROOT)}")
        if read.searches:
            folder = report_folder(scenario) / "search"
            tl.write_search(searched(scenario), folder, scenario_text=read.text)
            print(f"written: {folder.relative_to(ROOT)}")
    write_bench()
    print(f"written: {BENCH_REPORT.relative_to(ROOT)}")
    write_log(flight_log_study(), FLIGHT_REPORT)
    print(f"written: {FLIGHT_REPORT.relative_to(ROOT)}")
    accuracy_figure.save(ROOT / "reports" / "accuracy")
    print("written: reports/accuracy")
    credibility.write(collect.groups())
    print("written: reports/credibility")
    made = blocks()
    for page in FILLED:
        page.write_text(filled(page.read_text(encoding="utf-8"), made), encoding="utf-8")
        print(f"filled: {page.relative_to(ROOT)}")


if __name__ == "__main__":
    main()
