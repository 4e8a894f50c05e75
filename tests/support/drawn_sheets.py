"""Drawn sheets as tests look at them: what lies over what, lines of any length."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any

import numpy as np

from routing.papers.plane import survey_system
from routing.papers.sheet.ink import Label
from routing.papers.sheet.issue import SheetDrawing, sheet_drawings
from routing.papers.sheet.paper import paper_of

__all__ = ["bare", "drawings", "longer", "overlaps", "page_texts"]

SEEN_MM = 0.01
"""A hundredth of a millimetre is beyond what any printer shows [mm]."""


def drawings(doc: dict[str, Any], relief: Any = None, contours: Any = ()) -> list[SheetDrawing]:
    """Return the key sheet and the plan and profile sheets of a study."""
    return sheet_drawings(doc, paper_of(doc), survey_system(doc), relief, contours)


def overlaps(labels: Sequence[Label]) -> Iterator[tuple[Label, Label]]:
    """Return every pair of labels that cover each other."""
    boxes = np.array([[b.left, b.top, b.right, b.bottom] for b in (x.box for x in labels)])
    if not len(boxes):
        return
    left, top, right, bottom = boxes.T
    across = np.minimum(right[:, None], right) - np.maximum(left[:, None], left)
    down = np.minimum(bottom[:, None], bottom) - np.maximum(top[:, None], top)
    for i, j in np.argwhere(np.triu((across > SEEN_MM) & (down > SEEN_MM), 1)).tolist():
        yield labels[i], labels[j]


def bare(words: str) -> str:
    """Return words without blanks, which readers of PDF put where they guess them to be."""
    return "".join(words.split())


def page_texts(pdf: bytes) -> list[str]:
    """Return what each page says by the reader of pypdfium2, without blanks."""
    import pypdfium2

    return [bare(page.get_textpage().get_text_range()) for page in pypdfium2.PdfDocument(pdf)]


def longer(doc: dict[str, Any], length_m: float) -> dict[str, Any]:
    """Return a document whose line is stretched to another length, fittings and all."""
    share = length_m / float(doc["stations"]["station_m"][-1])
    lon, lat = doc["stations"]["lon"], doc["stations"]["lat"]
    middle = (float(lon[0]), float(lat[0]))

    def stretched(item: dict[str, Any]) -> None:
        for key in ("station_m", "from_m", "to_m", "length_m"):
            if key in item:
                item[key] = item[key] * share
        for key, value in zip(("lon", "lat"), middle, strict=True):
            if key in item:
                item[key] = value + (item[key] - value) * share

    places = [doc["stations"], doc["route"], *doc["vents"], *doc["drains"], *doc["bends"]]
    for item in [*places, *doc["pipes"], *doc["trench"]["spans"], *doc["grades"]]:
        stretched(item)
    doc["summary"]["plan_length_m"] = length_m
    return doc
