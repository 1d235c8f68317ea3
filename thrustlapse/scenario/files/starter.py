"""The commented starter file, and the JSON Schema that lets an editor complete and check it."""

from __future__ import annotations

from importlib import resources


def starter_text() -> str:
    """A commented, invented scenario that passes every check."""
    folder = resources.files("thrustlapse.scenario")
    return folder.joinpath("starter.toml").read_text(encoding="utf-8")
