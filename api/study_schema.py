"""The published JSON Schema of ``study.json``, and the same as parts of the API's description."""

from __future__ import annotations

from typing import Any

from api.compact import compact_schema
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
    return {
        "Study": schema,
        "StudyInShort": compact_schema(schema, parts),
        "StudyWorks": {
            "type": "object",
            "description": "Gauge taps, isolating valves and the plan of works.",
            "properties": {key: schema["properties"][key] for key in WORKS_KEYS},
            "required": list(WORKS_KEYS),
            "additionalProperties": False,
        },
        **{f"Study{name}": part for name, part in parts.items()},
    }


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
