"""The works plan as PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from importlib.resources import files
from typing import Any

from routing.papers.block_picture import block_svg, block_views
from routing.papers.cast import unsized_words
from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_date, sheet_text, status
from routing.papers.set_facts import card_caution
from routing.papers.sheet.ink import JOINED
from routing.papers.spoken import speaking_as
from routing.papers.things import things
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.papers.works.part import Part
from routing.papers.works.parts import works_parts
from routing.units import show
from routing.words import said, said_caution, spoken

__all__ = ["works_page", "works_pdf", "works_told"]

WRITTEN = ("name, time", "read", "pass or fail")
"""Columns that somebody writes into."""
CAST_FACTS = (
    "Holds", "Left open", "Wide × high × long", "Concrete", "Face against the ground", "Floor",
    "Pushed towards", "Thrust", "Soil",
)  # fmt: skip
"""What is told of a block or anchor, beside its picture if it has a size."""


def _figures(cells: Sequence[str]) -> bool:
    """Return whether a column holds figures with one unit, which line up on the right."""
    return bool(cells) and all(
        cell[:1] in "0123456789±-−–" and len(cell.split()) <= 3 for cell in cells if cell
    ) and any(cells)  # fmt: skip


def works_told(doc: Document) -> list[Part]:
    """Return the parts of the plan that hold something, in the language of the study."""
    with speaking_as(doc):
        return list(map(_said, _held(doc)))


def works_pdf(doc: Document) -> bytes:
    """Return the works plan of a study as PDF, in the language of the study."""
    with speaking_as(doc):
        cast = _cast(doc)
        page = works_page(doc) | {
            "views": _views(doc),
            "heading": said("Blocks and anchors"),
            "heed": [
                said_caution(text)
                for kind in ("block", "anchor")
                for _, text in card_caution(doc, kind)
                if cast
            ],
            "cast": [
                {"file": f"{name}.svg" if picture else "", "title": title, "facts": facts}
                for name, (title, facts, picture) in cast.items()
            ],
        }
    data = json.dumps(page, ensure_ascii=False).encode()
    pictures = {
        f"{name}.svg": picture.encode() for name, (_, _, picture) in cast.items() if picture
    }
    template = (files("routing.papers.works") / "data" / "works.typ").read_text(encoding="utf-8")
    return compile_pdf(template, {"works.json": data, **pictures}, date=sheet_date(doc))


def _held(doc: Document) -> list[Part]:
    return [part for part in works_parts(doc) if part.rows or part.facts]


def _said(part: Part) -> Part:
    return Part(
        title=said(part.title),
        cautions=tuple(map(said_caution, part.cautions)),
        facts=tuple((said(label), said(value)) for label, value in part.facts),
        heads=tuple(map(said, part.heads)),
        rows=tuple(tuple(map(said, row)) for row in part.rows),
    )


def works_page(doc: Document) -> dict[str, Any]:
    """Return what the page description sets; ``keys`` are the heads by which it knows columns."""
    code, direction = spoken()
    page = said("page 8888 of 9999").replace("8888", "{page}").replace("9999", "{pages}")
    return {
        "language": code,
        "direction": direction,
        "short": said("Works plan"),
        "long": said("Works plan: filling, flushing, testing, reading and draining"),
        "page": page,
        "family": list(FAMILIES),
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "status": status(doc),
        "parts": [
            {
                **asdict(_said(part)),
                "keys": part.heads,
                "right": [_figures(column) for column in zip(*part.rows, strict=True)],
                "written": any(head in WRITTEN for head in part.heads),
            }
            for part in _held(doc)
        ],
    }


def _views(doc: Document) -> tuple[str, ...]:
    """Return the names of a picture's views where their letters join, which SVG spaces badly."""
    views = block_views(doc)
    return views if any(map(JOINED.search, views)) else ()


def _cast(doc: Document) -> dict[str, tuple[str, list[str], str]]:
    """Return title, what a mason needs and picture of all that is cast, by a name for its file."""
    items = {plain(i["id"]): i for key in ("blocks", "anchors") for i in doc.get(key) or ()}
    found: dict[str, tuple[str, list[str], str]] = {}
    named = not _views(doc)
    for thing in things(doc) if items else ():
        picture = block_svg(doc, items[thing.id], named=named) if thing.id in items else ""
        if picture or (thing.id in items and unsized_words(doc, items[thing.id])):
            facts = [
                f"{said(label)}: {said(text)}"
                for label, text in (*thing.facts, *thing.kit)
                if label in CAST_FACTS or (picture and label.startswith("Level of"))
            ]
            title = said(f"{thing.id} at {show(thing.station_m, 'station', units_of(doc))}")
            found[f"cast{len(found)}"] = (title, facts, picture)
    return found
