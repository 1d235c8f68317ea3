"""The spectrum of a recording as drawn: its data, its marks, its words."""

from __future__ import annotations

import math

import numpy as np
import pytest

from thrustlapse.bench.blade_tone import choose_meaning
from thrustlapse.bench.tone import find_tones
from thrustlapse.report.bench.figure_tones import draw_tones, save_tones, words_of_tones
from thrustlapse.report.figure_style import styled

RPM = math.tau / 60.0


def read(*pitches: float):
    random = np.random.default_rng(1)
    time = np.arange(44_100) / 44_100.0
    heard = random.standard_normal(time.size) + 0.3 * sum(
        (np.sin(math.tau * pitch * time) for pitch in pitches), np.zeros(time.size))
    tones = find_tones(samples=heard, rate=44_100.0)
    return tones, choose_meaning(tones, blades=9, lowest=5_000 * RPM, highest=150_000 * RPM)


def test_the_spectrum_its_tones_and_the_lines_of_the_chosen_speed() -> None:
    tones, choice = read(1_375.0, 12_375.0)
    with styled():
        axes = draw_tones(tones, choice, blades=9).axes[0]
    spectrum, _, marks, *lines = axes.get_lines()
    np.testing.assert_array_equal(spectrum.get_ydata(), tones.spectrum)
    np.testing.assert_allclose(marks.get_xdata(), tones.frequency / 1000.0)
    assert [line.get_xdata()[0] for line in lines] == pytest.approx([1.375, 12.375], rel=1e-3)
    said = {text.get_text() for text in axes.texts}
    assert {"shaft", "blade pass", "1375 Hz", "12375 Hz"} <= said
    assert f"{choice.meanings[0].speed / RPM:.0f} rpm" in axes.get_title(loc="left")
    assert "12375 Hz" in words_of_tones(tones, choice)


def test_noise_alone_is_drawn_and_says_so() -> None:
    tones, choice = read()
    with styled():
        axes = draw_tones(tones, choice, blades=9).axes[0]
    assert "no shaft speed decided" in axes.get_title(loc="left")
    assert "Tones: none" in words_of_tones(tones, choice)
    assert axes.get_ylim()[1] > tones.threshold


@pytest.mark.parametrize("kind", ["svg", "png", "pdf"])
def test_files_are_written_the_same_twice(tmp_path, kind) -> None:
    tones, choice = read(12_375.0)
    for name in ("a", "b"):
        save_tones(tmp_path / f"{name}.{kind}", tones, choice, blades=9)
    first = (tmp_path / f"a.{kind}").read_bytes()
    assert first == (tmp_path / f"b.{kind}").read_bytes()
    if kind == "svg":
        assert b"12375 Hz" in first
