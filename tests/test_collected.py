"""Every test file is run: a folder that the runner passes over loses its facts in silence."""

from __future__ import annotations

import fnmatch
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[1]


def test_no_test_file_lies_where_the_runner_does_not_look() -> None:
    """History: pytest passes over folders called build, and three files of tests went unrun."""
    options = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["tool"]["pytest"]
    passed_over = options["ini_options"]["norecursedirs"]
    lost = [path for path in (ROOT / "tests").rglob("test_*.py")
            for part in path.relative_to(ROOT).parts[:-1]
            if any(fnmatch.fnmatch(part, pattern) for pattern in passed_over)]
    assert lost == []
