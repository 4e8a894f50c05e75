"""The published JSON Schema of ``study.json``, and the same as parts of the API's description."""

from __future__ import annotations

from typing import Any

from api.compact import compact_schema, line_schema
from routing.document import study_schema

__all__ = ["WORKS_KEYS", "study_components", "study_schema"]

WORKS_KEYS = ("taps", "valves", "works")
"""Members of a study that make its plan of works."""


def study_components() -> dict[str, Any]:
    """Return the schema as OpenAPI components: ``Study``, its short form, its parts."""
    schema: dict[str, Any] = _moved(study_schema())
    parts = schema.pop("$defs")
    for key in ("$schema", "$id"):
        schema.pop(key)
    short = compact_schema(schema, parts)
    return {
        "Study": schema,
        "StudyInShort": short,
        "LineInShort": line_schema(short),
        "StudyWorks": {
            "type": "object",
            "description": "Gauge taps, isolating valves and the plan of works.",
            "properties": {key: schema["properties"][key] for key in WORKS_KEYS},
            "required": list(WORKS_KEYS),
            "additionalProperties": False,
        },
        **_records(parts["Record"]),
        **{f"Study{name}": part for name, part in parts.items()},
    }


def _records(record: dict[str, Any]) -> dict[str, Any]:
    """Return records as they come in, where all but the kind may be left out, and as they go."""
    some = {
        key: value if key == "kind" else _or_null(value)
        for key, value in record["properties"].items()
    }
    listed = {"type": "array", "items": {"$ref": "#/components/schemas/StudyRecord"}}
    conflict = {
        "type": "object",
        "description": "What two devices say differently of one thing; the newest counts.",
        "properties": {
            "kind": {"enum": ["tick", "asbuilt"]},
            "of": {"type": "string", "description": "The thing, or the place on the line."},
            "says": {**listed, "description": "The last word of each device, the newest last."},
        },
        "required": ["kind", "of", "says"],
        "additionalProperties": False,
    }
    return {
        "RecordIn": {**record, "properties": some, "required": ["kind"]},
        "RecordsOut": {
            "type": "object",
            "properties": {
                "records": {**listed, "description": "By time."},
                "conflicts": {"type": "array", "items": conflict},
            },
            "required": ["records", "conflicts"],
            "additionalProperties": False,
        },
    }


def _or_null(part: dict[str, Any]) -> dict[str, Any]:
    """Return a part of a schema that may be null as well."""
    if "enum" in part:
        return part | {"enum": [*part["enum"], None]}
    return part if "null" in part["type"] else part | {"type": [part["type"], "null"]}


def _moved(node: Any) -> Any:
    """Return a copy whose references point into OpenAPI's components."""
    if isinstance(node, dict):
        return {
            key: value.replace("#/$defs/", "#/components/schemas/Study")
            if key == "$ref"
            else _moved(value)
            for key, value in node.items()
        }
    if isinstance(node, list):
        return [_moved(item) for item in node]
    return node
