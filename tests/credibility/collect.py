"""Every record of the tests, worked out once, in the order of the parts."""

from __future__ import annotations

import importlib
from functools import cache
from pathlib import Path

from tests.credibility.parts import PARTS
from tests.credibility.records import REGISTER, Group

TESTS = Path(__file__).parents[1]
IMPORTS = "from tests.credibility.records import"


def modules() -> list[str]:
    """Test modules that keep records."""
    return [".".join(("tests", *path.relative_to(TESTS).with_suffix("").parts))
            for path in sorted(TESTS.rglob("test_*.py"))
            if IMPORTS in path.read_text(encoding="utf-8")]


@cache
def groups() -> tuple[Group, ...]:
    """All groups of records, part by part."""
    kept = set(modules())
    for module in sorted(kept):
        importlib.import_module(module)
    found = [group for (module, _), group in sorted(REGISTER.items()) if module in kept]
    return tuple(sorted(found, key=lambda group: (list(PARTS).index(group.part), group.name)))
