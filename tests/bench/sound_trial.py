"""Made recordings read, by class: ``python -m tests.bench.sound_trial [first] [final]``.

``first`` reads those whose codec and room the method was made with, ``final`` the others too. It
writes ``sound_trial.csv`` beside this file when all are read.
"""

from __future__ import annotations

import csv
import math
import sys
from collections import Counter
from collections.abc import Iterable
from pathlib import Path

from tests.bench.sounds import RECORDINGS, SEED, MadeSound, made_sound
from thrustlapse import __version__
from thrustlapse.bench.blade_tone import choose_meaning
from thrustlapse.bench.tone import find_tones

RESULT = Path(__file__).with_name("sound_trial.csv")
SAME = 0.003
"""Share of the true speed within which a decision is right."""


def read(made: MadeSound) -> str:
    """``right``, ``wrong`` or ``not decided``."""
    tones = find_tones(samples=made.samples, rate=made.rate)
    choice = choose_meaning(tones, blades=made.blades, lowest=made.lowest, highest=made.highest,
                            expected=made.expected, expected_deviation=made.expected_deviation)
    if not choice.chosen:
        return "not decided"
    found = choice.meanings[0].speed
    if abs(found / made.speed - 1.0) < SAME:
        return "right"
    print(f"wrong: {made.number} {made.kind} {made.codec}, {made.room}, {made.level:.0f} dB, "
          f"{made.blades} blades, expected {made.expected}: {found / math.tau * 60.0:.0f} rpm for "
          f"{made.speed / math.tau * 60.0:.0f}; {choice.reasons}")
    return "wrong"


def counts(sounds: Iterable[MadeSound]) -> dict[tuple[str, str], Counter[str]]:
    """Answers by class: (subject, its value)."""
    found: dict[tuple[str, str], Counter[str]] = {}
    for made in sounds:
        answer = read(made)
        for one in (("all", ""), ("kind", made.kind), ("codec", made.codec), ("room", made.room),
                    ("level", f"{made.level:.0f} dB"), ("kept", str(made.kept)),
                    ("expected", "no" if made.expected is None else "yes")):
            found.setdefault(one, Counter())[answer] += 1
    return found


def main(words: list[str]) -> None:
    """Read, print, write."""
    sounds = (made_sound(number) for number in range(RECORDINGS))
    found = counts(one for one in sounds if "first" not in words or not one.kept)
    rows = [(subject, value, answers.total(), answers["right"] + answers["wrong"],
             answers["wrong"]) for (subject, value), answers in sorted(found.items())]
    for subject, value, total, decided, wrong in rows:
        print(f"{subject:10}{value:26}{total:5}  decided {100 * decided / total:5.1f} %  "
              f"wrong {wrong}")
    if "final" in words:
        with RESULT.open("w", encoding="utf-8", newline="") as file:
            file.write(f"# seed {SEED}, thrustlapse {__version__}, "
                       "made by python -m tests.bench.sound_trial final\n")
            writer = csv.writer(file, lineterminator="\n")
            writer.writerow(("subject", "class", "recordings", "decided", "wrong"))
            writer.writerows(rows)


if __name__ == "__main__":
    main(sys.argv[1:])
