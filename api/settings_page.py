"""What people read of the settings, made from their rows: the guide's page, the page's fields.

``python -m api.settings_page`` writes both files anew; a test holds them against the rows.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import web
from routing.settings import Row, Settings, rows_of, written
from routing.units import parse_quantity

__all__ = ["FILES", "field_rows", "fields_text", "guide_text"]

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
 * @typedef {{label: string, hint: string, example: string, without: string, choices?: string[],
 *   dimension?: import("./units.js").Dimension | "", ends?: number[], takes?: string}} Field
 */

/** @type {Record<string, Field>} */
"""


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
        f"{table.key}.{told.key}": _field(told)
        for table in rows_of(Settings).values()
        if table.reader.rows is not None
        for told in rows_of(table.reader.rows).values()
        if told.label
    }


def _field(told: Row) -> dict[str, Any]:
    found: dict[str, Any] = {
        "label": told.label,
        "hint": told.hint,
        "example": str(told.example),
        "without": told.without,
    }
    reader = told.reader
    if reader.dimension is not None and reader.ends is not None:
        ends = [parse_quantity(end, reader.dimension, name=told.key) for end in reader.ends]
        found |= {"dimension": reader.dimension, "ends": ends, "takes": reader.takes}
    elif reader.schema.get("type") == "number":
        ends = [reader.schema["minimum"], reader.schema["maximum"]]
        found |= {"dimension": "", "ends": ends, "takes": reader.takes}
    if reader.choices:
        found["choices"] = list(reader.choices)
    return found


def fields_text() -> str:
    """Return the module that the page's forms read."""
    rows = "".join(
        f"  {json.dumps(key)}: {json.dumps(told, ensure_ascii=False)},\n"
        for key, told in field_rows().items()
    )
    return f"{FIELDS_HEAD}export const FIELDS = {{\n{rows}}};\n"


FILES = {
    FOLDER / "guide" / "settings.md": guide_text,
    FOLDER / "js" / "setting-rows.js": fields_text,
}
"""Each file that is made from the rows, and what makes it."""

if __name__ == "__main__":
    for path, text in FILES.items():
        path.write_text(text(), encoding="utf-8")
