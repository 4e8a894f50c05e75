"""What changed since the revision before: clouds and triangles on the drawings, rows in tables."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterable, Mapping, Sequence

import numpy as np

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_revisions, sheet_text
from routing.papers.schedule import to_set
from routing.papers.schedule_form import Schedule
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.units import show, unit_of

__all__ = [
    "SIGN",
    "changed",
    "changes",
    "draw_cloud",
    "draw_clouds",
    "draw_triangle",
    "revision_rows",
]

SCALLOP_MM = 3.0
"""Length of one scallop of a cloud [mm]."""
ARC_POINTS = 7
"""Points of a scallop [-]."""
ROUND_MM = 1.6
"""Room between what changed and its cloud [mm]."""
_SET = ("vents", "drains", "bends", "blocks", "anchors", "supports", "valves", "taps",
        "relief_valves")  # fmt: skip
SIGN = "∆"
"""Stands beside the name of what changed in the schedules."""


def changed(doc: Document) -> Mapping[str, str]:
    """Return what is new or moved since the revision before, each with the word for it."""
    told = doc.get("changes") or {}
    rows = {plain(each["id"]): "moved" for each in told.get("moved") or ()}
    return rows | {plain(name): "new" for name in told.get("new") or ()}


def changes(doc: Document) -> Schedule:
    """Return what is new, moved and gone since the revision before."""
    told, units = doc.get("changes") or {}, units_of(doc)
    unit = unit_of("station", units)

    def at(value: float) -> str:
        return show(value, "station", units, unit=False)

    # What the pipe or its joints hold is set by nobody, so that no paper names it.
    stations = {
        plain(item["id"]): float(item["station_m"]) for key in _SET for item in to_set(doc, key)
    }
    rows = [
        [plain(each["id"]), "moved", at(each["was_m"]), at(each["now_m"])]
        for each in told.get("moved") or ()
        if plain(each["id"]) in stations
    ]
    fresh = [plain(name) for name in told.get("new") or () if plain(name) in stations]
    rows += [[name, "new", "–", at(stations[name])] for name in fresh]
    note = "Found by comparing the two studies; what moved by half a metre or less is not told."
    if gone := told.get("gone"):
        rows = rows or [["–", "no other", "–", "–"]]
        note += f" Gone: {', '.join(map(plain, gone))}."
    return Schedule(
        "Changed since the revision before",
        ["no.", "what", f"was at, {unit}", f"is at, {unit}"],
        rows,
        [False, False, True, True],
        note,
    )


def revision_rows(doc: Document) -> list[dict[str, str]]:
    """Return the rows of the revision block; without any, what the tool itself found changed."""
    rows = sheet_revisions(doc)
    told = doc.get("changes") or {}
    counts = [f"{len(told[key])} {key}" for key in ("new", "moved", "gone") if told.get(key)]
    if not counts or rows:
        return rows
    text = f"against the one before: {', '.join(counts)}"
    return [{"mark": "1", "date": sheet_text(doc, "date"), "text": text, "by": ""}]


def draw_clouds(
    ink: Drawing, doc: Document, paper: Paper, boxes: Iterable[Box], free: Free
) -> None:
    """Draw clouds round what changed, one round what lies together, each with its triangle."""
    mark = (revision_rows(doc) or [{"mark": "1"}])[-1]["mark"][:2]
    for box in _together([each.grown(ROUND_MM) for each in boxes]):
        draw_cloud(ink, box)
        side = 2.6 * paper.small
        corners = [(box.right, box.top - side), (box.left - side, box.top - side),
                   (box.right, box.bottom), (box.left - side, box.bottom)]  # fmt: skip
        for left, top in corners:
            place = Box(left, top, left + side, top + side)
            if free.is_free(place):
                free.take(place)
                draw_triangle(ink, place, mark, paper.small)
                break


def draw_cloud(ink: Drawing, box: Box) -> None:
    """Draw a line of scallops round a box, bulging outwards."""
    corners = [(box.left, box.top), (box.right, box.top), (box.right, box.bottom),
               (box.left, box.bottom), (box.left, box.top)]  # fmt: skip
    points: list[np.ndarray] = []
    turn = np.linspace(0.0, math.pi, ARC_POINTS)
    for (x0, y0), (x1, y1) in itertools.pairwise(corners):
        long = math.hypot(x1 - x0, y1 - y0)
        count = max(round(long / SCALLOP_MM), 1)
        dx, dy = (x1 - x0) / count, (y1 - y0) / count
        share, bulge = (1.0 - np.cos(turn)) / 2.0, 0.38 * np.sin(turn)
        for number in range(count):
            x, y = x0 + (number + share) * dx, y0 + (number + share) * dy
            points.append(np.column_stack([x + bulge * dy, y - bulge * dx]))
    x, y = np.vstack(points).T
    ink.path(x, y, "cloud", close=True)


def draw_triangle(ink: Drawing, box: Box, mark: str, size: float) -> None:
    """Draw a triangle with a revision's mark in it."""
    middle = (box.left + box.right) / 2.0
    ink.poly([(box.left, box.bottom), (box.right, box.bottom), (middle, box.top)], "revision")
    base = box.bottom - 0.14 * (box.bottom - box.top)
    ink.text(middle, base, mark, size, anchor="middle", layer="revision")


def _together(boxes: Sequence[Box]) -> list[Box]:
    """Return boxes with those that overlap joined to one."""
    found: list[Box] = []
    for each in boxes:
        box = each
        while near := [b for b in found if _meet(b, box)]:
            for other in near:
                found.remove(other)
                box = Box(min(box.left, other.left), min(box.top, other.top),
                          max(box.right, other.right), max(box.bottom, other.bottom))  # fmt: skip
        found.append(box)
    return found


def _meet(a: Box, b: Box) -> bool:
    gap = SCALLOP_MM
    return (
        a.left - gap < b.right
        and b.left - gap < a.right
        and a.top - gap < b.bottom
        and b.top - gap < a.bottom
    )
