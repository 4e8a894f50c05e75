"""The published JSON Schema of ``study.json``, made from the rows."""

from __future__ import annotations

import json
from typing import Any

from routing.document.row import Row, inside, load_rows, members

__all__ = ["study_schema"]

ABOUT = (
    "One study of a gravity pipeline, as study.json holds it. Elevations are metres in the "
    "raster's vertical datum, pressures are gauge, what is missing is null."
)
_TYPES = {"text": "string", "truth": "boolean"}


def study_schema() -> dict[str, Any]:
    """Return the JSON Schema (draft 2020-12) of a study document."""
    parts = [row for row in load_rows().values() if row.path[:1].isupper() and "." not in row.path]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": "urn:uuid:5f0c2b1e-5d3a-4f2b-9a36-0b8f6f0f7c11",
        "title": "Leatline study",
        "description": ABOUT,
        **_object(""),
        "$defs": {row.path: _value(row) for row in parts},
    }


def _object(path: str, *, more: bool = False) -> dict[str, Any]:
    held = members(path)
    if not held:
        return {"type": "object"}
    schema: dict[str, Any] = {
        "type": "object",
        "required": [key for key, row in held.items() if row.required],
        "properties": {key: _value(row) for key, row in held.items()},
    }
    if not more:
        schema["additionalProperties"] = False
    return schema


def _value(row: Row) -> dict[str, Any]:
    one = _one(row)
    if row.several:
        if row.type.removesuffix("?").removesuffix("[]").endswith("?"):
            one = _or_null(one)
        one = {"type": "array", "items": one}
    schema = _or_null(one) if row.nullable else one
    return schema | {"description": row.meaning} if row.meaning else schema


def _one(row: Row) -> dict[str, Any]:
    """Return the schema of the value, or of each value of a list."""
    item = row.item
    if item.startswith("="):
        return {"const": json.loads(item[1:])}
    if "|" in item:
        return {"enum": [int(word) if word.isdigit() else word for word in item.split("|")]}
    if item == "object":
        return _object(inside(row), more=row.type.removesuffix("?").removesuffix("[]")[-1:] == "+")
    if item[:1].isupper():
        return {"$ref": f"#/$defs/{item}"}
    if item == "any":
        return {}
    names = [_TYPES.get(name, name) for name in item.split("/")]
    schema: dict[str, Any] = {"type": names[0] if len(names) == 1 else names}
    if row.least:
        key = "exclusiveMinimum" if row.least.startswith(">") else "minimum"
        schema[key] = float(row.least.removeprefix(">"))
    if row.most:
        schema |= {"maxLength": int(row.most)} if item == "text" else {"maximum": float(row.most)}
    return schema


def _or_null(schema: dict[str, Any]) -> dict[str, Any]:
    if "$ref" in schema:
        return {"anyOf": [schema, {"type": "null"}]}
    kind = schema.get("type")
    if kind is None:
        return {"anyOf": [schema, {"type": "null"}]}
    return schema | {"type": [*kind, "null"] if isinstance(kind, list) else [kind, "null"]}
