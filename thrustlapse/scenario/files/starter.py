"""The commented starter file, and the JSON Schema that lets an editor complete and check it."""

from __future__ import annotations

from importlib import resources
from typing import Any

from thrustlapse.scenario.files import json_schema


def starter_text() -> str:
    """A commented, invented scenario that passes every check."""
    folder = resources.files("thrustlapse.scenario")
    return folder.joinpath("starter.toml").read_text(encoding="utf-8")


def schema_json() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of scenario files."""
    return json_schema.schema_json()
