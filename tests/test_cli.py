"""The commands, as a person runs them."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from tests.known_machines import AIRFRAME, MACHINE
from thrustlapse.cli import main

ROOT = Path(__file__).parents[1]
STORY = ROOT / "scenarios" / "three_ways_to_push.toml"


SMALL = f'title = "Small"\n[uncertainty]\nsamples = 0\n{AIRFRAME}{MACHINE}'
"""What takes a moment, where it does not matter what is compared."""


@pytest.fixture
def small(tmp_path: Path) -> Path:
    (tmp_path / "small.toml").write_text(SMALL, encoding="utf-8")
    return tmp_path / "small.toml"


def run(*words: str):
    return CliRunner().invoke(main, [str(word) for word in words])


@pytest.fixture(scope="module")
def written(tmp_path_factory) -> Path:
    folder = tmp_path_factory.mktemp("report") / "out"
    result = run("compare", STORY, "--out", folder)
    assert result.exit_code == 0, result.output
    assert "written" in result.output
    return folder


def test_draws_that_break_a_rule_between_keys_are_refused_in_words(tmp_path: Path) -> None:
    text = (ROOT / "scenarios" / "how_sure.toml").read_text(encoding="utf-8")
    scenario = tmp_path / "story.toml"
    scenario.write_text(text.replace('"52 mm ± 0.3 mm"', '"57 mm ± 0.9 mm"'), encoding="utf-8")
    result = run("compare", scenario, "--out", tmp_path / "out")
    assert result.exit_code == 2
    assert ("candidates.fan.nozzle.exit_diameter: for some of the values: the nozzle's exit is "
            "larger than its entry") in result.output
    assert not (tmp_path / "out").exists()


def test_compare_writes_page_results_curves_and_figures(written: Path) -> None:
    assert {"index.html", "results.json", "curves.csv", "figures"} <= {
        path.name for path in written.iterdir()}
    figures = {path.name for path in (written / "figures").iterdir()}
    for name in ("thrust", "lapse", "watts", "nozzle", "efficiency"):
        assert {f"{name}.svg", f"{name}.png"} <= figures


def test_results_have_the_names_others_build_on(written: Path) -> None:
    results = json.loads((written / "results.json").read_text(encoding="utf-8"))
    assert set(results["candidates"]) == {"blower", "fan", "propeller"}
    for candidate in results["candidates"].values():
        count = len(candidate["airspeed_m_s"])
        for key in ("net_thrust_N", "electrical_power_W", "shaft_power_W", "shaft_speed_rad_s",
                    "mass_flow_kg_s", "jet_speed_m_s", "installed_thrust_N", "drive_limit",
                    "severity", "flags"):
            assert len(candidate[key]) == count, key
        assert "top_speed_m_s" in candidate
    for crossing in results["crossovers"]:
        assert {"kind", "between", "airspeed_m_s", "net_thrust_N",
                "drag_area_threshold_m2"} <= set(crossing)
    assert results["verdict"]


def test_the_page_asks_nothing_of_the_network(written: Path) -> None:
    import re

    page = (written / "index.html").read_text(encoding="utf-8")
    asked = re.findall(r"""(?:src|href)=["'](?!#|data:)([^"']+)""", page)
    assert not [link for link in asked if link.startswith(("http", "//"))]
    assert "<script src" not in page


def test_a_second_run_replaces_the_first_whole(tmp_path: Path, small: Path) -> None:
    out = tmp_path / "out"
    first, second = ((run("compare", small, "--out", out).exit_code,
                      {path.relative_to(out): path.read_bytes() for path in out.rglob("*")
                       if path.is_file()}) for _ in range(2))
    assert first[0] == second[0] == 0
    assert {"index.html", "results.json"} <= {str(path) for path in first[1]}
    assert first[1] == second[1]


def test_a_bad_scenario_leaves_an_earlier_report_alone(written: Path, tmp_path: Path) -> None:
    before = {path: path.read_bytes() for path in written.rglob("*") if path.is_file()}
    bad = tmp_path / "bad.toml"
    bad.write_text(STORY.read_text(encoding="utf-8").replace('"38 mm"', '"38 kg"'),
                   encoding="utf-8")
    result = run("compare", bad, "--out", written)
    assert result.exit_code == 2
    assert "tip_diameter" in result.output
    assert "Traceback" not in result.output
    assert before == {path: path.read_bytes() for path in written.rglob("*") if path.is_file()}


def test_files_of_the_person_in_the_folder_survive(tmp_path: Path, small: Path) -> None:
    folder = tmp_path / "mine"
    folder.mkdir()
    (folder / "diary.txt").write_text("do not lose me", encoding="utf-8")
    assert run("compare", small, "--out", folder).exit_code == 0
    assert (folder / "diary.txt").read_text(encoding="utf-8") == "do not lose me"


@pytest.mark.parametrize("kind", ["a file", "below a file"])
def test_a_folder_that_cannot_be_written(tmp_path: Path, small: Path, kind: str) -> None:
    taken = tmp_path / "taken"
    taken.write_text("a file, not a folder", encoding="utf-8")
    result = run("compare", small, "--out", taken if kind == "a file" else taken / "out")
    assert result.exit_code == 2
    assert "taken" in result.output
    assert "Traceback" not in result.output
    assert taken.read_text(encoding="utf-8") == "a file, not a folder"


def test_check_lists_what_was_assumed() -> None:
    result = run("check", STORY)
    assert result.exit_code == 0
    assert "pod drag area" in result.output


def test_check_tells_what_the_drag_rests_on() -> None:
    output = run("check", STORY.with_name("ruler_and_scale.toml")).output
    assert "airframe: interference factor 1.05 of tailplane, fin" in output
    assert "airframe: span efficiency" in output
    assert "airframe: drag built up from parts: CDmin 0.0449 (" in output
    assert "airframe: drag as given: CDmin 0.0210, drag area 39.9" in run("check", STORY).output


def test_point_as_table_and_as_json() -> None:
    words = ("point", STORY, "--candidate", "blower", "--airspeed", "90 km/h")
    table = run(*words)
    assert table.exit_code == 0
    assert "net thrust" in table.output
    record = json.loads(run(*words, "--altitude", "1 km", "--json").output)
    assert record["airspeed_m_s"] == pytest.approx(25.0)
    assert record["net_thrust_N"] > 0.0


@pytest.mark.parametrize(("words", "said"), [
    (("--candidate", "bolwer", "--airspeed", "9 m/s"), "Did you mean 'blower'"),
    (("--candidate", "blower", "--airspeed", "9 kg"), "speed"),
    (("--candidate", "blower", "--airspeed", "-9 m/s"), "at least 0"),
    (("--candidate", "blower", "--airspeed", "9 m/s", "--altitude", "high"), "length")])
def test_point_refuses_with_words(words, said) -> None:
    result = run("point", STORY, *words)
    assert result.exit_code == 2
    assert said in result.output
    assert "Traceback" not in result.output


def test_new_writes_a_good_file_and_never_over_another(tmp_path: Path) -> None:
    path = tmp_path / "mine.toml"
    assert run("new", path).exit_code == 0
    assert run("check", path).exit_code == 0
    path.write_text("mine", encoding="utf-8")
    again = run("new", path)
    assert again.exit_code == 2
    assert path.read_text(encoding="utf-8") == "mine"
    assert run("new", tmp_path / "no" / "folder.toml").exit_code == 2


def test_schema_is_json() -> None:
    assert json.loads(run("schema").output)["title"] == "thrustlapse scenario"


def test_help_and_import_load_nothing_heavy() -> None:
    """Start-up stays far below half a second because none of these is imported."""
    code = ("import sys, thrustlapse\nfrom click.testing import CliRunner\n"
            "from thrustlapse.cli import main\n"
            "assert CliRunner().invoke(main, ['--help']).exit_code == 0\n"
            "heavy = {'numpy', 'scipy', 'matplotlib', 'pint', 'pydantic', 'jinja2', 'rich'}\n"
            "found = heavy & {name.split('.')[0] for name in sys.modules}\n"
            "assert not found, found")
    subprocess.run([sys.executable, "-c", code], check=True)


def test_reading_and_operating_load_no_plotting() -> None:
    code = ("import sys, thrustlapse as tl\n"
            f"scenario = tl.read_scenario({str(STORY)!r})\n"
            "tl.operate(scenario.candidates['blower'], airspeed=[0.0, 20.0])\n"
            "assert 'matplotlib' not in sys.modules and 'jinja2' not in sys.modules")
    subprocess.run([sys.executable, "-c", code], check=True)


def test_check_says_what_a_plain_number_was_read_as(tmp_path: Path) -> None:
    """A speed constant without its unit is in rad/s per volt, which is seldom what was meant."""
    path = tmp_path / "plain.toml"
    path.write_text(STORY.read_text(encoding="utf-8").replace('"1150 rpm/V"', "900"),
                    encoding="utf-8")
    result = run("check", path)
    assert result.exit_code == 0
    assert "candidates.propeller.motor.speed_constant = 900, read as 8.59" in result.output
    assert "without a unit" not in run("check", STORY).output
