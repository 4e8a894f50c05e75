"""The lines of a study side by side as PDF: a map of all and a table of what differs."""

from __future__ import annotations

import base64
import json
from collections.abc import Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.document import rows_of_lines
from routing.line.ground.places import degree_m
from routing.papers.document import Document, near_meridian, plain, units_of
from routing.papers.given import code_words, sheet_date, sheet_text, status
from routing.papers.layout import nice_step
from routing.papers.side_by_side import compared
from routing.papers.spoken import speaking_as
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.units import convert, unit_of
from routing.words import said, spoken

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["alternatives_data", "alternatives_pdf"]

ACROSS = 4
"""Most lines that stand beside one another in a table [-]."""
WIDE, HIGH = 178.0, 110.0
"""Room of the map [mm]."""
MARGIN = 0.12
"""Ground shown about the lines, as a share of their extent [-]."""
INKS = ("#000000", "#0072B2", "#D55E00", "#009E73", "#CC79A7", "#E69F00", "#56B4E9")
"""Okabe and Ito, *Color Universal Design*, 2008; each line has its own dashes as well."""
DASHES = ("", "3 1.2", "1.2 1", "5 1 1 1", "0.6 0.8", "4 2", "2 2")


def alternatives_pdf(
    doc: Document, relief: Relief | None = None, contours: Sequence[DrawnContour] = ()
) -> bytes:
    """Return all lines of a study on one map and in one table, for a permit's alternatives."""
    data = alternatives_data(doc)
    template = (files("routing.papers") / "data" / "alternatives.typ").read_text(encoding="utf-8")
    parts = {
        "alternatives.json": json.dumps(data, ensure_ascii=False).encode(),
        "map.svg": _map(doc, rows_of_lines(doc), relief).encode(),
    }
    return compile_pdf(template, parts, date=sheet_date(doc))


def alternatives_data(doc: Document) -> dict[str, Any]:
    """Return every word and figure of that paper, in the language of the study."""
    with speaking_as(doc):
        return _data(doc)


def _data(doc: Document) -> dict[str, Any]:
    lines = rows_of_lines(doc)
    names = [f"{at}. {plain(line['name'])}" for at, line in enumerate(lines, start=1)]
    figures = compared(doc)
    groups = []
    for first in range(0, len(lines), ACROSS):
        part = slice(first, first + ACROSS)
        rows = [
            {
                "cells": [said(each.label), *(_cell(each.label, *pair) for pair in shown[part])],
                "differs": each.differs,
            }
            for each in figures
            for shown in [list(zip(each.values, lines, strict=True))]
        ]
        groups.append({"heads": ["", *names[part]], "rows": rows})
    words = [
        f"{names[at]} {said('cannot be computed')}: {plain(line['problem'])}"
        for at, line in enumerate(lines)
        if line["problem"]
    ]
    if len(lines) == 1:
        words.append(said("The study holds this one line, and so nothing to compare it with."))
    return {
        "family": list(FAMILIES),
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "language": spoken()[0],
        "direction": spoken()[1],
        "title": said("Alternatives"),
        "subtitle": said("Lines compared by the same checks"),
        "page": said("page &P of &N"),
        "foot": said("Bold where the lines differ. A dash: not known."),
        "status": said(status(doc)),
        "map": said(
            "North is up. Circles: intakes; squares: ends. The first line is the one of the "
            "other papers."
        ),
        "words": words,
        "groups": groups,
    }


def _cell(label: str, value: str, line: Any) -> str:
    """Return a figure in the language of the paper; lists in it word by word."""
    if label == "Open" and line["verdict"] and line["verdict"]["open"]:
        return "; ".join(said(code_words(code)) for code in line["verdict"]["open"])
    if label == "Without a price" and line["cost"]:
        return ", ".join(said(plain(each)) for each in line["cost"]["not_priced"]) or "–"
    return said(value)


def _map(doc: Document, lines: Sequence[Any], relief: Relief | None) -> str:
    """Return the lines in plan at one scale, on relief where it is given."""
    drawn = [(at, line["route"]) for at, line in enumerate(lines) if line["route"]]
    start = float(drawn[0][1]["lon"][0])
    places = [
        np.column_stack([near_meridian(np.asarray(r["lon"], float), start), r["lat"]])
        for _, r in drawn
    ]
    every = np.concatenate(places)
    middle = (every.min(axis=0) + every.max(axis=0)) / 2.0
    scale = degree_m(float(middle[1]))
    span = np.maximum(np.ptp(every, axis=0) * scale * (1.0 + 2.0 * MARGIN), 100.0)
    per_m = min(WIDE / span[0], HIGH / span[1])

    def paper(lonlat: FloatArray) -> FloatArray:
        offset = (lonlat - middle) * scale * per_m
        return np.column_stack([WIDE / 2.0 + offset[:, 0], HIGH / 2.0 - offset[:, 1]])

    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDE:g} {HIGH:g}" '
        f'width="{WIDE:g}mm" height="{HIGH:g}mm"><clipPath id="room"><path d="M0 0H{WIDE:g}'
        f'V{HIGH:g}H0Z"/></clipPath><g clip-path="url(#room)">'
    ]
    if relief is not None:
        turn = near_meridian(relief.west, start) - relief.west
        box = np.array([[relief.west + turn, relief.north], [relief.east + turn, relief.south]])
        (x, y), (x1, y1) = paper(box).tolist()
        picture = base64.b64encode(relief.image).decode("ascii")
        parts.append(
            f'<image x="{x:.3f}" y="{y:.3f}" width="{x1 - x:.3f}" height="{y1 - y:.3f}" '
            f'preserveAspectRatio="none" opacity="0.55" '
            f'href="data:{relief.media_type};base64,{picture}"/>'
        )
    # The first line lies on top.
    for (at, _), place in reversed(list(zip(drawn, map(paper, places), strict=True))):
        parts.append(_line(at, place))
    parts.append(f"</g>{_bar(doc, per_m)}</svg>")
    return "".join(parts)


def _line(at: int, place: FloatArray) -> str:
    ink, dashes = INKS[at % len(INKS)], DASHES[at % len(DASHES)]
    path = "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in place.tolist())
    (x0, y0), (x1, y1) = place[0].tolist(), place[-1].tolist()
    half = place[len(place) // 2] if len(place) > 2 else place.mean(axis=0)
    number = (
        f'<text x="{half[0] + 1.6:.3f}" y="{half[1] - 1.2:.3f}" font-family="{FAMILIES[0]}" '
        f'font-size="4.2" font-weight="600" fill="{ink}" stroke="#fff" stroke-width="0.9" '
        f'paint-order="stroke">{at + 1}</text>'
    )
    dashed = f' stroke-dasharray="{dashes}"' if dashes else ""
    return (
        f'<path d="{path}" fill="none" stroke="#fff" stroke-width="1.7" stroke-linejoin="round"/>'
        f'<path d="{path}" fill="none" stroke="{ink}" stroke-width="0.8"{dashed}/>'
        f'<circle cx="{x0:.3f}" cy="{y0:.3f}" r="1.3" fill="#fff" stroke="{ink}" '
        f'stroke-width="0.6"/><path d="M{x1 - 1.2:.3f} {y1 - 1.2:.3f}h2.4v2.4h-2.4Z" '
        f'fill="#fff" stroke="{ink}" stroke-width="0.6"/>{number}'
    )


def _bar(doc: Document, per_m: float) -> str:
    """Return the frame and a bar of a round length."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "length", units)
    length = nice_step(WIDE / per_m / metres, 5)
    wide = length * metres * per_m
    return (
        f'<path d="M0.2 0.2H{WIDE - 0.2:g}V{HIGH - 0.2:g}H0.2Z" fill="none" stroke="#888" '
        f'stroke-width="0.3"/><path d="M4 {HIGH - 8:g}h{wide + 18:.2f}v6.5H4Z" fill="#fff" '
        f'fill-opacity="0.85"/><path d="M5 {HIGH - 5:g}v1.5h{wide:.3f}v-1.5" fill="none" '
        f'stroke="#000" stroke-width="0.5"/><text x="{7 + wide:.3f}" y="{HIGH - 3.2:g}" '
        f'font-family="{FAMILIES[0]}" font-size="3.2">{length:g} {unit_of("length", units)}'
        "</text>"
    )
