"""Thrusts and turns: those that need nothing are kept out of the tables, not out of the words."""

from __future__ import annotations

from typing import Any

from routing.papers.document import Document, plain, units_of
from routing.papers.report.parts import Section, table
from routing.units import show, unit_of
from routing.us_units import in_system

__all__ = ["left_to_pipe", "needing", "thrusts_table"]

LEFT = {
    "blocks": ("hold", ("pipe", "joint"), "thrusts are carried by the pipe itself or its joints"),
    "curves": (
        "verdict",
        ("one joint", "curve"),
        "turns are made by a joint or a curve of the pipe",
    ),
}
"""Section, its column, the words of a row that needs nothing, and what is said of such rows."""


def needing(doc: Document) -> dict[str, Any]:
    """Return the document with only those thrusts and turns that need a block or a fitting."""
    kept = {
        section: [row for row in doc[section] if row.get(column) not in words]
        for section, (column, words, _) in LEFT.items()
        if doc.get(section)
    }
    return {**doc, **kept}


def left_to_pipe(doc: Document) -> list[str]:
    """Return in words how many thrusts and turns were left out of the tables.

    >>> left_to_pipe({"curves": [{"verdict": "curve"}, {"verdict": "fittings"}]})
    ['1 of 2 turns are made by a joint or a curve of the pipe; they stand in the workbook.']
    """
    said = []
    for section, (column, words, text) in LEFT.items():
        rows = doc.get(section) or []
        left = sum(1 for row in rows if row.get(column) in words)
        if left:
            said.append(f"{left} of {len(rows)} {text}; they stand in the workbook.")
    return said


def thrusts_table(doc: Document) -> Section:
    """Return the thrust on every block with what it was sized from, for whoever checks it."""
    units = units_of(doc)
    force, kilo = in_system("kN", units)
    area, square = in_system("m²", units)
    digits = 2 if kilo == 1.0 else 0
    kept = list(needing(doc).get("blocks") or ())
    remedies = list(dict.fromkeys(plain(item["remedy"]) for item in kept if item.get("remedy")))
    letters = {words: chr(ord("a") + at) for at, words in enumerate(remedies)}
    rows = [
        [
            plain(item["id"]),
            show(item["station_m"], "station", units, unit=False),
            _number(item.get("deflection_deg"), 1.0, 1),
            show(item["pressure_kpa"] * 1e3, "pressure", units, unit=False),
            *(
                _number(item[key], kilo, digits)
                for key in ("thrust_kn", "east_kn", "north_kn", "up_kn")
            ),
            show(item["bearing_kpa"] * 1e3, "pressure", units, unit=False),
            _number(item.get("least_face_m2"), square, 3),
            show(item.get("restrained_m"), "length", units, unit=False),
            letters.get(plain(item.get("remedy") or ""), ""),
        ]
        for item in kept
    ]
    heads = [
        *("no.", f"station, {unit_of('station', units)}", "turn, °"),
        f"pressure, {unit_of('pressure', units)}",
        *(f"{words}, {force}" for words in ("thrust", "east", "north", "up")),
        f"ground bears, {unit_of('pressure', units)}",
        *(f"least face, {area}", f"or joints held over, {unit_of('length', units)}", "instead"),
    ]
    sources = sorted({plain(item.get("bearing_source") or "") for item in doc.get("blocks") or ()})
    note = f"What the ground bears: {'; '.join(filter(None, sources)) or 'common practice'}."
    note += "".join(f" {letter}: {words}." for words, letter in letters.items())
    return table(
        "Thrusts", heads, rows, [False, *[True] * 10, False], note, units=units, sheet="blocks"
    )


def _number(value: float | None, factor: float, digits: int) -> str:
    if value is None:
        return "–"
    return f"{round(float(value) * factor, digits) + 0.0:.{digits}f}".replace("-", "−")
