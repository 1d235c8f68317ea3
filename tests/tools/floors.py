"""Declared minimum versions as pip constraints: ``python -m tests.tools.floors > floors.txt``."""

from __future__ import annotations

import re
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
FLOOR = re.compile(r"([A-Za-z0-9_.-]+)>=([0-9.]+)")


def floors() -> list[str]:
    """One line for each dependency of the package."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    found = [FLOOR.fullmatch(text) for text in project["dependencies"]]
    assert all(found), "every dependency has a minimum"
    return [f"{one[1]}=={one[2]}" for one in found if one]


if __name__ == "__main__":
    print("\n".join(floors()))
