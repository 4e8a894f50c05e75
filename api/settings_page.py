"""What people read of the settings, made from their rows: the guide's page, the page's fields.

``python -m api.settings_page`` writes both files anew; a test holds them against the rows.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import web
from routing.settings import Row, Settings, rows_of, written
from routing.units import parse_quantity
from routing.us_units import raised

__all__ = ["FILES", "field_rows", "fields_text", "guide_text", "table_rows"]

FOLDER = Path(web.__file__).resolve().parent
HEAD = """# Settings

A settings file is TOML; over HTTP the same tables are a JSON object. Every table and key is
optional. A quantity is text with a unit (`"0.9 m"`, `"3 ft"`, `"18 L/s"`, `"285 gpm"`,
`"10 bar"`) within the range given here; a key that does not exist is an error that names the
nearest one that does.
"""
CELLS = "| key | meaning | takes | example | without it |\n| --- | --- | --- | --- | --- |\n"
FIELDS_HEAD = """// @ts-check
/** What the settings say of the page's fields; written by api/settings_page.py. */

/**
 * @typedef {{label: string, hint: string, meaning: string, example: any, without: string,
 *   needed?: boolean, kind: "quantity" | "number" | "choice" | "flag" | "text" | "file" | "map",
 *   choices?: string[], dimension?: import("./units.js").Dimension | "",
 *   ends?: number[], takes?: string}} Field
 */

"""
_TRUTH = re.compile(r"\b(true|false)\b")
TABLES_HEAD = "/** @type {Record<string, {meaning: string, several: boolean}>} */\n"
FIELDS_TYPE = "/** @type {Record<string, Field>} */\n"
TYPES = {"boolean": "flag", "integer": "number", "number": "number", "string": "text"}
ON_FILE = {"survey.points", "energy.record", "sheet.features"}
"""Keys that a settings file gives by the name of a file; the page brings that file in."""
ELSEWHERE = {"study.name", "study.units", "study.line", "layer", "sheet.logo", "sheet.template"}
"""Keys and tables that have a control of their own on the page, or are of a file only."""


def guide_text() -> str:
    """Return the guide's page of settings."""
    return "\n".join([HEAD, *_parts(Settings, "")])


def _parts(kind: type, above: str) -> Iterator[str]:
    """Yield a part for each table below a class of settings."""
    for told in rows_of(kind).values():
        if told.reader.rows is None:
            continue
        name = f"{above}{told.key}"
        heading = f"[[{name}]]" if told.reader.several else f"[{name}]"
        lines = [_line(row) for row in rows_of(told.reader.rows).values()]
        without = f" Without it: {told.without}." if told.without else ""
        meaning = f"{told.meaning[:1].upper()}{told.meaning[1:]}.{without}\n"
        yield f"## `{heading}`\n\n{meaning}\n{CELLS}{''.join(lines)}"
        yield from _parts(told.reader.rows, f"{name}.")


def _line(told: Row) -> str:
    if told.reader.rows is not None:
        cells = [told.meaning, "tables, below", "", told.without]
    else:
        example = "" if told.example is None else f"`{written(told.example)}`"
        cells = [told.meaning, told.reader.takes, example, told.without]
    if told.needed:
        cells[-1] = "an error"
    return f"| `{told.key}` | {' | '.join(cells)} |\n"


def field_rows() -> dict[str, dict[str, Any]]:
    """Return what the planning page's fields need to know, by table and key."""
    return {
        path: _field(path, told)
        for path, told in _rows(Settings, "")
        if told.reader.rows is None and path not in ELSEWHERE
    }


def table_rows() -> dict[str, dict[str, Any]]:
    """Return the tables that the fields stand in, by their paths."""
    return {
        path: {"meaning": told.meaning, "several": told.reader.several}
        for path, told in _rows(Settings, "")
        if told.reader.rows is not None
    }


def _rows(kind: type, above: str) -> Iterator[tuple[str, Row]]:
    """Yield every table and key with its path, but those that stand elsewhere."""
    for told in rows_of(kind).values():
        path = f"{above}{told.key}"
        if path in ELSEWHERE:
            continue
        yield path, told
        if told.reader.rows is not None:
            yield from _rows(told.reader.rows, f"{path}.")


def _plain(text: str, kind: str) -> str:
    """Return a text of the file's words in those of a form, which asks yes or no.

    >>> _plain("true, the safe side", "flag")
    'yes, the safe side'
    """
    text = text.replace("`", "")
    return (
        _TRUTH.sub(lambda said: {"true": "yes", "false": "no"}[said[0]], text)
        if kind == "flag"
        else text
    )


def _field(path: str, told: Row) -> dict[str, Any]:
    reader, schema = told.reader, told.reader.schema
    kind = _kind(path, told)
    meaning, without = (_plain(text, kind) for text in (told.meaning, told.without))
    found: dict[str, Any] = {
        "label": told.label or told.key.replace("_", " ").capitalize().replace(" m3", " m³"),
        "hint": told.hint,
        "meaning": meaning,
        "example": told.example if path not in ON_FILE else None,
        "without": raised(without),
        "kind": kind,
    }
    if told.needed:
        found["needed"] = True
    if reader.dimension is not None and reader.ends is not None:
        ends = [parse_quantity(end, reader.dimension, name=told.key) for end in reader.ends]
        found |= {"dimension": reader.dimension, "ends": ends, "takes": raised(reader.takes)}
    elif found["kind"] == "number":
        ends = [schema["minimum"], schema["maximum"]]
        found |= {"dimension": "", "ends": ends, "takes": raised(reader.takes)}
    if reader.choices:
        found["choices"] = list(reader.choices)
    return found


def _kind(path: str, told: Row) -> str:
    """Return with which control a key is set on the page."""
    reader = told.reader
    if path in ON_FILE:
        return "file"
    if reader.dimension is not None:
        return "quantity"
    if reader.choices:
        return "choice"
    if reader.schema.get("type") == "object":
        return "map"
    return TYPES.get(str(reader.schema.get("type")), "text")


def fields_text() -> str:
    """Return the module that the page's forms read."""
    return (
        f"{FIELDS_HEAD}{TABLES_HEAD}export const TABLES = {_object(table_rows())};\n\n"
        f"{FIELDS_TYPE}export const FIELDS = {_object(field_rows())};\n"
    )


def _object(rows: dict[str, dict[str, Any]]) -> str:
    """Return rows as an object of the module, a line each."""
    lines = (
        f"  {json.dumps(key)}: {json.dumps(told, ensure_ascii=False)},\n"
        for key, told in rows.items()
    )
    return f"{{\n{''.join(lines)}}}"


FILES = {
    FOLDER / "guide" / "settings.md": guide_text,
    FOLDER / "js" / "setting-rows.js": fields_text,
}
"""Each file that is made from the rows, and what makes it."""

if __name__ == "__main__":
    for path, text in FILES.items():
        path.write_text(text(), encoding="utf-8")
