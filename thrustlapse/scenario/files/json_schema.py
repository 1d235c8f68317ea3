"""The JSON Schema of scenario files, as editors read it: what each key means and accepts.

It is made from the sections that read the file, so it cannot say anything else; what only the
whole of a table shows (a nozzle wider than its duct) stays with ``thrustlapse check``.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import combinations
from typing import Any

from thrustlapse.scenario.schema.scenario import NAME, ScenarioSection
from thrustlapse.scenario.section import Section, rule_of

Json = dict[str, Any]


def schema_json() -> Json:
    """JSON Schema (draft 2020-12) of scenario files."""
    made = ScenarioSection.model_json_schema()
    classes = {cls.__name__: cls for cls in _subclasses(Section)}
    tables = {name: _table(table, classes[name]) for name, table in made.pop("$defs").items()}
    whole = _table(made, ScenarioSection)
    candidates = whole["properties"]["candidates"]
    candidates["propertyNames"] = {"pattern": f"^{NAME.pattern}$"}
    # beside an include any table may stand, and none need: check knows them all
    candidates["additionalProperties"] = {
        "if": {"required": ["include"]},
        "then": {"properties": {"include": {
            "type": "string", "minLength": 1, "description": "A candidate's file, in this folder "
            "or below it; what stands beside it overrides it"}}},
        "else": candidates["additionalProperties"]}
    return {"$schema": "https://json-schema.org/draft/2020-12/schema",
            **whole, "title": "thrustlapse scenario", "$defs": tables}


def _subclasses(cls: type[Section]) -> Iterator[type[Section]]:
    for inner in cls.__subclasses__():
        yield inner
        yield from _subclasses(inner)


def _table(made: Json, cls: type[Section]) -> Json:
    """A table's schema without what only programs need, and with its exclusive keys."""
    table = {key: value for key, value in made.items() if key != "title"}
    table["properties"] = {name: _key(value, cls, name)
                           for name, value in made["properties"].items()}
    table["required"] = [key for key in table.get("required", ()) if key not in cls.FILLED]
    if not table["required"]:
        del table["required"]
    apart = [{"not": {"required": list(pair)}}
             for group in (*cls.ONE_OF, *cls.AT_MOST_ONE) for pair in combinations(group, 2)]
    wanted = [{"anyOf": [{"required": [key]} for key in group]} for group in cls.ONE_OF
              if not set(group) & set(cls.FILLED)]
    if apart or wanted:
        table["allOf"] = [*wanted, *apart]
    return table


def _key(made: Json, cls: type[Section], name: str) -> Json:
    key: Json = _plain(made)
    key.pop("title", None)
    if isinstance(key.get("default", ""), dict | None):
        key.pop("default")
    rule = rule_of(cls.model_fields[name])
    if rule is not None:
        accepted = rule.accepted()
        said = f"{key.get('description', '')}. ".removeprefix(". ")
        key["description"] = f"{said}{accepted[0].upper()}{accepted[1:]}."
    return key


def _plain(part: Any) -> Any:
    """A schema without nulls, which TOML does not have, and without hints for code generators."""
    if isinstance(part, list):
        return [_plain(inner) for inner in part if inner != {"type": "null"}]
    if not isinstance(part, dict):
        return part
    kept = {key: _plain(value) for key, value in part.items() if key != "discriminator"}
    if len(kept.get("anyOf", ())) == 1:
        kept |= kept.pop("anyOf")[0]
    return kept
