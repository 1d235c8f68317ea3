"""Make the committed sizing study anew: ``python -m tests.make_when_study [PROCESSES]``.

Four processor minutes of work, so it is no part of ``tests.refresh_reports``. What is committed
follows from the scenario and the seeds of :class:`.Plan`, whatever the number of processes;
``tests/study/sizing/test_committed.py`` builds some of its machines again.
"""

from __future__ import annotations

import os
import sys
from pathlib import Path

import thrustlapse as tl
from thrustlapse.report.sizing.words import read_aloud
from thrustlapse.report.sizing.write_up import write_when
from thrustlapse.sizing import when

SCENARIO = Path(__file__).parents[1] / "scenarios" / "when_would_the_blower_win.toml"
FOLDER = Path(__file__).parents[1] / "reports" / SCENARIO.stem / "when"


def main() -> None:
    """Work it out and write it."""
    scenario = tl.read_scenario(SCENARIO)
    processes = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    result = when(scenario, processes=processes)
    spent = os.times()
    print(write_when(result, FOLDER, scenario_text=scenario.text))
    print(f"{spent.user + spent.children_user:.0f} processor seconds", read_aloud(result), sep="\n")


if __name__ == "__main__":
    main()
