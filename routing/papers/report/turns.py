"""Turns that need nothing: kept out of the report's tables, but not out of its words."""

from __future__ import annotations

from typing import Any

from routing.papers.document import Document

__all__ = ["left_to_pipe", "needing"]

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
    ['1 of 2 turns are made by a joint or a curve of the pipe; they stand in study.json.']
    """
    said = []
    for section, (column, words, text) in LEFT.items():
        rows = doc.get(section) or []
        left = sum(1 for row in rows if row.get(column) in words)
        if left:
            said.append(f"{left} of {len(rows)} {text}; they stand in study.json.")
    return said
