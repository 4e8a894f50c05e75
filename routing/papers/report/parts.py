"""What a report is made of: chapters of sections, each one kind of content, as plain values."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from routing.fittings import sold_inches
from routing.papers.document import Document, plain, units_of
from routing.papers.fit import broken, size_for
from routing.papers.report.basis import Formula
from routing.papers.schedule_form import Schedule
from routing.papers.subject import quantity
from routing.papers.wording import true_minus, typeset
from routing.units import show, unit_of

__all__ = [
    "MOST_ROWS",
    "ROOM_MM",
    "Section",
    "cell",
    "facts",
    "formula_list",
    "holds",
    "items",
    "listed",
    "pairs",
    "schedule",
    "table",
    "text",
]

Section = dict[str, Any]
"""One piece of a chapter: a title, which may be empty, and its content by its kind."""

MOST_ROWS = 60
"""Rows of a table that are printed; longer ones stand whole in the workbook [-]."""
ALIKE_ROWS = 12
"""Rows from which a column that always says the same is said once, below the table [-]."""
FEW_ROWS, MANY_COLUMNS = 3, 9
"""A table of so few rows and so many columns is printed on its side [-]."""
ROOM_MM = {"metric": 170.0, "us": 175.0}
"""Width between the margins of A4 and of US letter [mm]."""

ROUNDED = "Worked with all their digits and printed rounded: the last digit may differ by one."


def text(words: str, title: str = "") -> Section:
    """Return a paragraph."""
    return {"title": title, "text": words}


def items(title: str, words: Iterable[str]) -> Section:
    """Return a list of sentences."""
    return {"title": title, "items": [each for each in words if each]}


def facts(title: str, rows: Iterable[tuple[str, str]]) -> Section:
    """Return words with their values."""
    return {"title": title, "facts": [list(row) for row in rows]}


def pairs(title: str, rows: Iterable[Sequence[str]]) -> Section:
    """Return names with a sentence each."""
    return {"title": title, "rows": [list(row) for row in rows]}


def formula_list(title: str, formulas: Iterable[Formula]) -> Section:
    """Return formulas with the values that they were worked with."""
    rows = [_formula(each) for each in formulas]
    return {"title": title, "formulas": rows} | ({"text": ROUNDED} if rows else {})


def table(
    title: str,
    heads: Sequence[str],
    rows: Sequence[Sequence[str]],
    numeric: Sequence[bool],
    note: str = "",
    *,
    units: str = "metric",
    sheet: str = "",
    most: int = MOST_ROWS,
) -> Section:
    """Return a table that fits the page; ``sheet`` is the workbook's that holds the rest of it."""
    shown = [[true_minus(plain(value)) for value in row] for row in rows]
    notes = [note] if note else []
    if len(shown) > most:
        where = f", sheet {sheet!r}" if sheet else ""
        notes.append(f"{most} of {len(shown)} rows; all stand in the workbook{where}.")
        shown = shown[:most]
    heads, numeric = list(heads), list(numeric)
    same = [
        number
        for number in range(1, len(heads))
        if heads[number] and len(shown) >= ALIKE_ROWS and len({row[number] for row in shown}) == 1
    ]
    # A column to write in by hand says nothing in a report.
    same += [at for at in range(1, len(heads)) if shown and not any(row[at] for row in shown)]
    notes += [
        f"{heads[number][:1].upper()}{heads[number][1:]}: {shown[0][number]} in each row."
        for number in same
        if shown[0][number] not in ("", "–")
    ]
    kept = [number for number in range(len(heads)) if number not in same]
    heads, numeric = [heads[number] for number in kept], [numeric[number] for number in kept]
    shown = [[row[number] for number in kept] for row in shown]
    if 0 < len(shown) <= FEW_ROWS and len(heads) > MANY_COLUMNS:
        shown = [[head, *cells] for head, *cells in zip(heads, *shown, strict=True)]
        heads, *shown = shown
        numeric = [False] + [True] * (len(heads) - 1)
    size, widths = size_for(heads, shown, ROOM_MM[units])
    shown = [
        [broken(value, size, width, len(heads)) for value, width in zip(row, widths, strict=True)]
        for row in shown
    ]
    return {
        "title": title,
        "table": {
            "heads": heads,
            "rows": shown,
            "numeric": numeric,
            "note": " ".join(notes),
            "size": size,
            "widths": widths,
        },
    }


def schedule(doc: Document, made: Schedule, title: str | None = None, sheet: str = "") -> Section:
    """Return a schedule as a table of the report."""
    return table(
        made.title if title is None else title,
        made.heads,
        made.rows,
        made.numeric,
        made.note,
        units=units_of(doc),
        sheet=sheet,
    )


def listed(
    doc: Document,
    title: str,
    rows: Iterable[Mapping[str, Any]],
    columns: Sequence[tuple[str, str, int | None]],
    note: str = "",
    sheet: str = "",
) -> Section:
    """Return rows of the document as a table: (key, words, decimals) for each column.

    Columns that no row has a value for are left out.
    """
    rows, units = list(rows), units_of(doc)
    kept = [column for column in columns if any(row.get(column[0]) is not None for row in rows)]
    heads, numeric = [], []
    for key, words, digits in kept:
        unit = quantity(key, units)[1]
        heads.append(f"{words}, {unit}" if unit and digits is not None else words)
        numeric.append(digits is not None)
    body = [[cell(doc, key, row.get(key), digits) for key, _, digits in kept] for row in rows]
    return table(title, heads, body, numeric, note, units=units, sheet=sheet)


def cell(doc: Document, key: str, value: Any, digits: int | None) -> str:
    """Return a value of the document in the study's units, as a table shows it."""
    if value is None or value == "":
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list | tuple):
        return ", ".join(cell(doc, key, each, digits) for each in value)
    if digits is None or isinstance(value, str):
        return plain(value)
    if key.endswith("station_m") or key in ("from_m", "to_m"):
        return show(float(value), "station", units_of(doc), unit=False)
    if key.endswith("_mm") and units_of(doc) == "us":
        return f"{sold_inches(float(value) / 1e3):.{digits + 2}f}".rstrip("0").rstrip(".")
    _, unit, factor, offset, _ = quantity(key, units_of(doc))
    digits = max(digits, 1) if unit == "psi" else digits  # as everywhere else
    return f"{round(float(value) * factor + offset, digits) + 0.0:.{digits}f}".replace("-", "−")


def holds(section: Section) -> bool:
    """Return whether a section has anything to print."""
    made = section.get("table")
    if made is not None:
        return bool(made["rows"])
    return any(value for key, value in section.items() if key != "title")


def head(words: str, kind: Any, doc: Document) -> str:
    """Return the head of a column with its unit."""
    return f"{words}, {unit_of(kind, units_of(doc))}"


def _formula(item: Formula) -> dict[str, Any]:
    return {
        "title": item.title,
        "math": item.math,
        "holds": typeset(item.holds),
        "source": f"{item.source} ({item.status})" if item.status != "definition" else item.source,
        "terms": [
            [term.symbol, term.meaning, term.value, term.unit, term.result] for term in item.terms
        ],
    }
