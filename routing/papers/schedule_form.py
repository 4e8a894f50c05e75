"""What a schedule of sheets and report is, and how its heads and figures are written."""

from __future__ import annotations

from typing import Any, NamedTuple

from routing.papers.document import Document, units_of
from routing.units import Kind, show, unit_of

__all__ = ["Schedule", "head", "shown"]


class Schedule(NamedTuple):
    """A table for people: title, heads, rows of text, and which columns are numbers."""

    title: str
    heads: list[str]
    rows: list[list[str]]
    numeric: list[bool]
    note: str = ""


def head(words: str, kind: Kind, doc: Document) -> str:
    """Return the head of a column with the unit of the paper."""
    return f"{words}, {unit_of(kind, units_of(doc))}"


def shown(value: Any, kind: Kind, doc: Document) -> str:
    """Return a figure in the unit of the paper, without it; a dash for None."""
    return show(None if value is None else float(value), kind, units_of(doc), unit=False)
