"""The sizing study of the general question: ``python -m tests.make_when_study [PROCESSES]``.

Minutes of work, so it is no part of ``tests.refresh_reports``; it follows from the scenario and the
seeds of :class:`.Plan`.
"""

from __future__ import annotations

import sys
from pathlib import Path

import thrustlapse as tl
from thrustlapse.report.sizing.write_up import write_when
from thrustlapse.sizing import when

SCENARIO = Path(__file__).parents[1] / "scenarios" / "when_would_the_blower_win.toml"
FOLDER = Path(__file__).parents[1] / "reports" / SCENARIO.stem / "when"


def main() -> None:
    """Work it out and write it."""
    scenario = tl.read_scenario(SCENARIO)
    processes = int(sys.argv[1]) if len(sys.argv) > 1 else 2
    print(write_when(when(scenario, processes=processes), FOLDER, scenario_text=scenario.text))


if __name__ == "__main__":
    main()
