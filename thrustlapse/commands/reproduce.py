"""The reproduce command: a report made again, and held against what it was."""

from __future__ import annotations

from pathlib import Path

import click

from thrustlapse import __version__
from thrustlapse.commands.console import Place, compared, faults_told, read, say, stop, written

DIFFERS = 1
"""Exit code where a report cannot be reproduced."""


@click.command()
@click.argument("report", type=Place())
@click.argument("file", type=Place())
@click.option("--out", "folder", type=Place(), default=None, metavar="DIR",
              help="Write the report made anew there")
def reproduce(report: Path, file: Path, folder: Path | None) -> None:
    """Make a comparison's REPORT again from its scenario FILE, and say whether it is the same.

    REPORT is the folder, or its results.json. FILE must be the scenario that the report names by
    its SHA-256, what it includes among it. Every number is held against the report's; 1 is the exit
    code where any differs.
    """
    from thrustlapse.report.comparison import reproduced

    scenario = read(file)
    with faults_told():
        kept, before = reproduced.kept_results(report)
        if scenario.digest != before.scenario_digest:
            stop(f"{file}: SHA-256 {scenario.digest}, but {kept} was made from "
                 f"{before.scenario_digest}: this is another scenario, or one that was changed; "
                 "give the file as it was")
        say(f"{file}: the scenario of the report, SHA-256 {scenario.digest}")
        if before.version != __version__:
            say(f"the report was made by thrustlapse {before.version}, this is {__version__}")
        answer = compared(scenario)
        found = reproduced.held_against(kept, answer)
        if folder is not None:
            say(f"written: {written(answer, scenario, folder)}")
    for line in reproduced.lines(found):
        say(line)
    if found.differences:
        raise SystemExit(DIFFERS)
