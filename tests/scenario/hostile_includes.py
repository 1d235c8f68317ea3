"""Included files and fits that wish the reader ill, by number, as ``tests.scenario.hostile``.

A machine in a file of its own, with a fit of a bench, damaged by number; now and then the path of
the include is damaged too. Read, or refused in words that name a file.
"""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from tests.scenario.hostile import STARTER, hostile, try_many
from thrustlapse.scenario.faults import ScenarioError
from thrustlapse.scenario.files.read import read_scenario

MINE = STARTER[STARTER.index("[candidates.blower]"):STARTER.index("[candidates.fan]")].replace(
    "[candidates.blower]", "").replace("[candidates.blower.", "[") + """
[fit]
bench = "an invented afternoon"
unknowns = ["motor.resistance", "map.head_shutoff"]
covariance = [[4e-6, -1e-5], [-1e-5, 1e-4]]
"""

PATHS = ("mine.toml", "./mine.toml", "../mine.toml", "/etc/passwd", "mine.toml/../mine.toml", "",
         "asks.toml", "mine.toml\\u0000", "\\\\share\\x.toml", "none.toml", ".", "CON", "~/x",
         "file:///etc/passwd", "x" * 3000, "mi\u202ene.toml", "link.toml", "loop.toml", "pipe.toml")


def attempt(number: int, folder: Path) -> str:
    """``read`` or ``refused``; raises what a reader must not raise."""
    (folder / "mine.toml").write_text(hostile(number, MINE), encoding="utf-8",
                                      errors="surrogatepass")
    path = PATHS[number // 7 % len(PATHS)] if number % 7 == 0 else "mine.toml"
    head = STARTER[:STARTER.index("[candidates.blower]")]
    (folder / "asks.toml").write_text(
        head + f'[candidates.mine]\ninclude = "{path}"\n', encoding="utf-8")
    for name, target in (("link.toml", "/etc/passwd"), ("loop.toml", "loop.toml")):
        if not (folder / name).is_symlink():
            (folder / name).symlink_to(target)
    if hasattr(os, "mkfifo") and not (folder / "pipe.toml").exists():
        os.mkfifo(folder / "pipe.toml")  # nobody ever writes into it
    try:
        read_scenario(folder / "asks.toml")
    except ScenarioError as error:
        told = str(error)
        assert "asks.toml" in told or "mine.toml" in told
        assert "Traceback" not in told
        assert "root:" not in told  # nothing of a file outside is ever shown
        return "refused"
    return "read"


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as place:
        try_many(lambda number: attempt(number, Path(place)))
