"""The invented story from bench readings to a verdict, worked through with the commands a reader
would type. The tutorial's pages read their numbers from what this leaves behind.

Nothing below is a result. What stands here is what a person chooses: which nozzles are to be had,
how far the inputs may be off, which way is flown.
"""

from __future__ import annotations

import json
import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import tomlkit
from click.testing import CliRunner

import thrustlapse as tl
from thrustlapse.cli import main
from thrustlapse.study.comparison import Comparison

ROOT = Path(__file__).parents[3]
STORY, BENCH, LOG = "three_ways_to_push.toml", "story_blower_bench.csv", "story_fan_flight.csv"
SCALE, RINGS = "kitchen_scale.toml", "kitchen_scale_bench.csv"

SWITCH = """[candidates.high]
kind = "blower"
[candidates.high.readings]
thrust = "214 gf"
electrical_power = "250 W"
exit_diameter = "24 mm"

[candidates.low]
kind = "blower"
same_machine_as = "high"
[candidates.low.readings]
thrust = "133 gf"
electrical_power = "122 W"
exit_diameter = "24 mm"
"""
"""One machine at two settings of its switch (invented)."""

LEAFLET = "thrust [gf],electrical power [W],nozzle exit diameter [mm]\n300,420,15\n"
WEIGHED = """thrust [gf],electrical power [W],nozzle exit diameter [mm],note
261,400,15,on the kitchen scale
"""
"""What the blower's leaflet says, and one weighing (both invented)."""

HUM, PITCH = "hum.wav", 1427.5
"""An invented recording of the blower as it flies, and the turns of its shaft in a second [Hz]: as
the story's own model has it, a little less."""

BLADES, LOUD = 9, ((1.0, 0.02), (2.0, 0.01), (9.0, 0.1), (18.0, 0.03))
"""Blades of the wheel; multiples of the shaft's turns that are heard, and how loud."""

DRILLS = 0.5e-3
"""Step of the nozzles a club can print and ream to size [m]."""

SPREADS = {
    ("airframe", "minimum_drag_coefficient"): "{}, 8 % uncertain",
    ("airframe", "span_efficiency"): "{}, 5 % uncertain",
    ("pack", "cell_resistance"): "{} ± 10 %",
    ("pack", "state_of_charge"): "{} ± 3 %",
    ("candidates", "fan", "motor", "resistance"): "{} ± 10 %",
    ("candidates", "fan", "duct", "loss_coefficient"): "{}, 25 % uncertain",
}
"""How far the story's people think they may be off: one standard deviation (invented)."""

DRAWS = {"samples": 256, "seed": 1}

FLIGHT = """
[flight]
least_state_of_charge = "15 %"

[flight.launch]
kind = "rail"
length = "4 m"
angle = "8 deg"
pull = "75 N"          # a bungee, taken as constant
height = "1 m"

[[flight.legs]]
kind = "climb"
height = "40 m"

[[flight.legs]]
kind = "dash"

[[flight.legs]]
kind = "coast"
airspeed = "20 m/s"

[[flight.legs]]
kind = "cruise"
airspeed = "18 m/s"
distance = "1 km"

[[flight.legs]]
kind = "glide"
"""
"""The course that each machine is to fly (invented)."""


class StoryError(RuntimeError):
    """A command of the story that did not end well; the message is what it said."""


@dataclass(kw_only=True)
class Story:
    """A folder in which the story is worked through, step by step, and what each step said."""

    folder: Path
    said: dict[str, str] = field(default_factory=dict)
    typed: dict[str, str] = field(default_factory=dict)

    # What is typed ------------------------------------------------------------------------------

    def run(self, step: str, *words: str) -> None:
        """Run one command in the folder and keep what it printed."""
        with _inside(self.folder):
            done = CliRunner().invoke(main, list(words))
        if done.exit_code != 0:
            raise StoryError(f"thrustlapse {' '.join(words)}: {done.output}{done.exception or ''}")
        self.typed[step] = " ".join(["thrustlapse", *(f'"{word}"' if " " in word else word
                                                      for word in words)])
        self.said[step] = done.output

    def scenario(self, name: str) -> Any:
        """A scenario of the folder, as text that can be changed."""
        return tomlkit.parse((self.folder / name).read_text(encoding="utf-8"))

    def write(self, name: str, text: str) -> None:
        """Write a file into the folder."""
        (self.folder / name).write_text(text, encoding="utf-8")

    # What came of it ----------------------------------------------------------------------------

    def answer(self, folder: str) -> Comparison:
        """The numbers that a comparison wrote."""
        return tl.read_results(self.folder / folder / "results.json")

    def record(self, path: str) -> dict[str, Any]:
        """A file of results."""
        found: dict[str, Any] = json.loads((self.folder / path).read_text(encoding="utf-8"))
        return found

    @cached_property
    def as_described(self) -> Comparison:
        """The story before anything was measured."""
        return tl.compare(tl.read_scenario(self.folder / "scenarios" / STORY))


def work_through(folder: Path) -> Story:
    """The whole story in a new folder."""
    folder.mkdir(parents=True)
    (folder / "scenarios").mkdir()
    for name in (STORY, BENCH, LOG, SCALE, RINGS):
        shutil.copy(ROOT / "scenarios" / name, folder / "scenarios")
    story = Story(folder=folder)
    _weigh(story)
    story.run("readings", "bench", "check", f"scenarios/{BENCH}")
    story.run("fit", "bench", "fit", f"scenarios/{STORY}", "--candidate", "blower", "--readings",
              f"scenarios/{BENCH}", "--out", "bench")
    _take_the_fit(story)
    story.run("check", "check", "measured.toml")
    story.run("compare", "compare", "measured.toml", "--out", "measured")
    _take_the_best_nozzle(story)
    _say_how_sure(story)
    _fly(story)
    story.run("whole", "compare", "whole.toml", "--out", "whole")
    story.run("log", "log", "explain", "whole.toml", "--candidate", "fan", "--readings",
              f"scenarios/{LOG}", "--out", "log")
    _take_the_log(story)
    story.run("verdict", "compare", "flown.toml", "--out", "flown")
    _gather(story)
    return story


def _gather(story: Story) -> None:
    """All that was found out about the blower over some weeks, in one file, and what is next."""
    shutil.copy(story.folder / "scenarios" / STORY, story.folder / "weeks.toml")
    story.write("leaflet.csv", LEAFLET)
    story.write("weighed.csv", WEIGHED)
    shutil.copy(story.folder / "scenarios" / BENCH, story.folder / "night.csv")
    _record(story.folder / HUM)
    of_blower = ("--candidate", "blower")
    story.run("leaflet", "evidence", "add", "weeks.toml", "leaflet.csv", *of_blower, "--kind",
              "label", "--date", "2026-02-01")
    scenario = story.scenario("weeks.toml")
    scenario["candidates"]["blower"] = {"include": "blower.machine.toml"}
    story.write("weeks.toml", tomlkit.dumps(scenario))
    story.run("asked", "next", "weeks.toml", "--reach", "26 m/s", "--bench", "--out", "asked")
    story.run("weighed", "evidence", "add", "weeks.toml", "weighed.csv", *of_blower, "--date",
              "2026-02-08")
    story.run("hum", "evidence", "add", "weeks.toml", HUM, *of_blower, "--blades", f"{BLADES}",
              "--date", "2026-02-15")
    story.run("night", "evidence", "add", "weeks.toml", "night.csv", *of_blower, "--date",
              "2026-03-01")
    story.run("weeks", "evidence", "show", "weeks.toml", *of_blower, "--out", "weeks")
    story.run("settled", "next", "weeks.toml", "--faster-than", "fan", "--out", "settled")


def _record(file: Path) -> None:
    """Ten seconds of the blower's sound, with noise."""
    from scipy.io import wavfile

    time = np.arange(441_000) / 44_100.0
    heard = sum(loud * np.sin(2.0 * np.pi * PITCH * times * time) for times, loud in LOUD)
    noise = 0.02 * np.random.default_rng(4).standard_normal(time.size)
    wavfile.write(file, 44_100, (heard + noise).astype(np.float32))


def _weigh(story: Story) -> None:
    """The machine of which nothing is known but what scale, wattmeter and ruler say."""
    story.run("scale_check", "check", f"scenarios/{SCALE}")
    story.run("scale", "compare", f"scenarios/{SCALE}", "--out", "out")
    story.run("scale_fit", "bench", "fit", f"scenarios/{SCALE}", "--candidate", "blower",
              "--readings", f"scenarios/{RINGS}", "--out", "scale-bench")


def _take_the_fit(story: Story) -> None:
    """In place of the blower as it was described, the blower as it was measured."""
    scenario = story.scenario(f"scenarios/{STORY}")
    scenario["candidates"]["blower"] = {"include": "bench/blower.toml"}
    story.write("measured.toml", tomlkit.dumps(scenario))


def best_nozzle(answer: Comparison, name: str) -> float:
    """Exit diameter of most thrust at a candidate's top speed, of those that are to be had [m]."""
    study = answer.candidates[name].nozzle
    assert study is not None
    return float(DRILLS * np.round(study.best_diameter[-1] / DRILLS))


def _take_the_best_nozzle(story: Story) -> None:
    """The blower's nozzle alone: the fan's log was flown with the fan's nozzle as it is."""
    scenario = story.scenario("measured.toml")
    exit_ = f"{1e3 * best_nozzle(story.answer('measured'), 'blower'):g} mm ± 0.05 mm"
    scenario["candidates"]["blower"]["nozzle"] = {"exit_diameter": exit_}
    story.write("whole.toml", tomlkit.dumps(scenario))


def _say_how_sure(story: Story) -> None:
    scenario = story.scenario("whole.toml")
    for path, form in SPREADS.items():
        table = scenario
        for step in path[:-1]:
            table = table[step]
        table[path[-1]] = form.format(table[path[-1]])
    scenario["uncertainty"] = DRAWS
    story.write("whole.toml", tomlkit.dumps(scenario))


def _fly(story: Story) -> None:
    scenario = story.scenario("whole.toml")
    scenario["flight"] = tomlkit.parse(FLIGHT)["flight"]
    story.write("whole.toml", tomlkit.dumps(scenario))


def _take_the_log(story: Story) -> None:
    """The drag that the log tells, with its spread, in place of the assumed one."""
    found = story.record("log/log.json")
    factor, width = found["drag_factor"], found["covariance"][-1][-1] ** 0.5
    assumed = story.scenario("measured.toml")["airframe"]["minimum_drag_coefficient"]
    scenario = story.scenario("whole.toml")
    scenario["airframe"]["minimum_drag_coefficient"] = (
        f"{assumed * factor:.4f} ± {assumed * width:.2g}")
    scenario["uncertainty"]["drivers"] = False  # that and the course were asked before
    del scenario["flight"]
    story.write("flown.toml", tomlkit.dumps(scenario))


@contextmanager
def _inside(folder: Path) -> Iterator[None]:
    before = Path.cwd()
    os.chdir(folder)
    try:
        yield
    finally:
        os.chdir(before)
