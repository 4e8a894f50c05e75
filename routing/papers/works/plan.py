"""The works plan as PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_date, sheet_text, status
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.papers.works.parts import works_parts

__all__ = ["works_pdf"]

WRITTEN = ("name, time", "read", "pass or fail")
"""Columns that somebody writes into."""


def _figures(cells: Sequence[str]) -> bool:
    """Return whether a column holds figures with one unit, which line up on the right."""
    return bool(cells) and all(
        cell[:1] in "0123456789±−–" and len(cell.split()) <= 3 for cell in cells if cell
    ) and any(cells)  # fmt: skip


def works_pdf(doc: Document) -> bytes:
    """Return the works plan of a study as PDF."""
    date = sheet_date(doc)
    data = {
        "family": list(FAMILIES),
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "status": status(doc),
        "parts": [
            {
                "title": part.title,
                "cautions": list(part.cautions),
                "facts": [list(fact) for fact in part.facts],
                "heads": list(part.heads),
                "rows": [list(row) for row in part.rows],
                "right": [_figures(column) for column in zip(*part.rows, strict=True)],
                "written": any(head in WRITTEN for head in part.heads),
            }
            for part in works_parts(doc)
            if part.rows or part.facts
        ],
    }
    template = (files("routing.papers.works") / "data" / "works.typ").read_text(encoding="utf-8")
    text = json.dumps(data, ensure_ascii=False).encode()
    return compile_pdf(template, {"works.json": text}, date=date)
