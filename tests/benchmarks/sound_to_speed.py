"""How often a recording is read rightly: ``python -m tests.benchmarks.sound_to_speed``.

Recordings made here, so this is no validation: wheels of 5 to 13 blades at 20 to 120 krpm in white
noise, half with a tone of the shaft, three in ten with a foreign tone, some with their blade pass
beyond hearing. Counts for no other knowledge, and with a speed expected within 5 %.
"""

from __future__ import annotations

import math
from collections import Counter

import numpy as np

from thrustlapse.bench.blade_tone import ToneChoice, choose_meaning
from thrustlapse.bench.tone import find_tones

RPM = math.tau / 60.0
RECORDINGS = 600


def recording(random: np.random.Generator) -> tuple[np.ndarray, float, int, float]:
    """Samples, their rate, blades, and the true shaft speed [rad/s]."""
    rate = float(random.choice([44_100.0, 48_000.0, 96_000.0]))
    blades, turns = int(random.integers(5, 14)), random.uniform(20e3, 120e3) / 60.0
    time = np.arange(int(rate)) / rate
    with_shaft, loud = random.random() < 0.5, 10.0 ** random.uniform(-1.2, 0.0)
    lines = {blades * turns: 1.0, 2 * blades * turns: random.uniform(0.0, 0.5),
             3 * blades * turns: random.uniform(0.0, 0.2)}
    if with_shaft:
        lines[turns] = random.uniform(0.2, 0.8)
    heard = random.standard_normal(time.size)
    for pitch, share in lines.items():
        if pitch < 0.475 * rate:
            heard += loud * share * np.sin(math.tau * pitch * time + random.uniform(0.0, 6.0))
    if random.random() < 0.3:
        heard += 0.7 * loud * np.sin(math.tau * random.uniform(2_000.0, 20_000.0) * time)
    return heard, rate, blades, math.tau * turns


def judged(choice: ToneChoice, true: float) -> str:
    """Whether a choice is right."""
    if not choice.chosen:
        return "not decided"
    return "right" if abs(choice.meanings[0].speed / true - 1.0) < 0.003 else "wrong"


def main() -> None:
    """Print the counts."""
    random = np.random.default_rng(0)
    blind, told = Counter[str](), Counter[str]()
    for _ in range(RECORDINGS):
        heard, rate, blades, true = recording(random)
        tones = find_tones(samples=heard, rate=rate)
        span = {"lowest": 5_000.0 * RPM, "highest": 150_000.0 * RPM}
        blind[judged(choose_meaning(tones, blades=blades, **span), true)] += 1
        told[judged(choose_meaning(tones, blades=blades, **span, expected=1.05 * true), true)] += 1
    print(f"{RECORDINGS} recordings: {dict(blind)}; with an expected speed: {dict(told)}")


if __name__ == "__main__":
    main()
