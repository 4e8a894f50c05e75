"""The cover: what the set is of, where the line lies, which sheets there are."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from routing.papers.document import Document, column, units_of
from routing.papers.facts import place_text
from routing.papers.given import sheet_text, standing, status
from routing.papers.kit_facts import grid_text
from routing.papers.plane import LocalPlane, survey_system
from routing.papers.sheet.furniture import draw_furniture
from routing.papers.sheet.galley import Notes
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.plan import draw_relief
from routing.papers.sheet.split import fit_scale, scale_text
from routing.papers.sheet.title import project_name
from routing.papers.sheet.view import Placed, PlanView, letter
from routing.papers.study_facts import summary_facts
from routing.papers.typeset import cap_height, shortened, text_width, wrapped
from routing.words import Said, said, spoken

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = ["MOST_ALIKE", "Cover", "draw_cover", "list_sheets"]

MOST_ALIKE = 3
"""Sheets of details or tables that stand in the drawing list one by one [-]."""
FRAME_MM = 5.0
"""Room between the line and the frame around it on the location plan [mm]."""
LEAST_PLAN = 45.0
"""Least width of the location plan, for what is written above it, in sizes of lettering [-]."""
LEAST_BESIDE = 96.0
"""Room beside the location plan that is left to tables, a column at least [mm]."""
WORDS = 66.0
"""Width that the cover's words want, in sizes of lettering; more of a large sheet is plan [-]."""


class Cover(NamedTuple):
    """The cover, the boxes its drawing list goes through, and how far its columns are used [mm].

    ``starts`` are the columns where schedules have the most room: beside the plan, then below it.
    ``more`` is what there was no room for of the job.
    """

    ink: Drawing
    listed: Sequence[Box]
    tops: Sequence[float]
    starts: Sequence[int]
    more: Notes


def draw_cover(
    doc: Document,
    paper: Paper,
    plane: LocalPlane,
    relief: Relief | None,
    columns: Sequence[float],
    sheets: Sequence[str],
) -> Cover:
    """Return the cover without its drawing list; ``sheets`` are titles for which it leaves room.

    ``columns`` is where the columns of the sheets' tables begin [mm]: words stand in the first of
    them, at most in half, the location plan in as many as it fills, and what is below and beside
    them stays free.
    """
    ink = Drawing(paper.frame_width, paper.frame_height + paper.strip)
    whole = Box(0.0, 0.0, paper.frame_width, paper.frame_height)
    half = max(len(columns) // 2, 1)
    first = next((at for at in range(1, half) if columns[at] >= WORDS * paper.letter), half)
    edge = columns[first] if first < len(columns) else 0.54 * paper.frame_width
    words = Box(columns[0] + 2.0, 6.0, edge - 6.0, paper.frame_height - 4.0)
    with ink.reading(whole):
        top = _words(ink, doc, paper, words)
    middle = (words.left + words.right) / 2.0
    job = Box(middle, top, words.right, words.bottom)
    told = [*_end_places(doc), *summary_facts(doc)]
    with ink.reading(whole):
        facts, left = _list(ink, paper, job, "The job", told)
    title = Said(f"{said('The job')}, {said('continued')}")
    more = [Said(f"{said(words)}: {said(value)}") for words, value in told[len(told) - left :]]
    below_job = Box(middle, facts + 4.0 * paper.small, words.right, words.bottom)
    listed = (Box(words.left, top, middle - 3.0, words.bottom), below_job)
    used = max(facts, _listed(Drawing(0.0, 0.0), paper, listed, sheets))
    room = Box(edge, 6.0, paper.frame_width - 6.0, paper.frame_height - 6.0)
    if spoken()[1] == "rtl":
        plan = _location(ink, doc, paper, plane, relief, room.turned(whole)).turned(whole)
    else:
        plan = _location(ink, doc, paper, plane, relief, room)
    below, beside = used + 2.0 * paper.small, room.top - 3.0
    tops = [
        below if left < edge else plan.bottom + 4.0 if left < plan.right else beside
        for left in columns
    ]
    starts = sorted({0, first, sum(left < plan.right for left in columns)}, reverse=True)
    return Cover(ink, listed, tops, starts, Notes(title=title, items=more))


def _end_places(doc: Document) -> list[tuple[str, str]]:
    """Return where intake and powerhouse are, in the coordinates of the sheets and in degrees."""
    survey = survey_system(doc, sheet_text(doc, "crs") or None)
    lon, lat = column(doc, "lon"), column(doc, "lat")
    ends = (
        ("Intake", float(lon[0]), float(lat[0])),
        ("Powerhouse", float(lon[-1]), float(lat[-1])),
    )
    return [(name, f"{grid_text(survey, x, y)}; {place_text(x, y)}") for name, x, y in ends]


def list_sheets(cover: Cover, paper: Paper, sheets: Sequence[str]) -> None:
    """Write the drawing list onto the cover; ``sheets`` are all titles in order, its own first."""
    whole = Box(0.0, 0.0, paper.frame_width, paper.frame_height)
    with cover.ink.reading(whole):
        _listed(cover.ink, paper, cover.listed, sheets)


def _listed(ink: Drawing, paper: Paper, boxes: Sequence[Box], sheets: Sequence[str]) -> float:
    """Write the drawing list through boxes in turn; return the lowest place used.

    No sheet is left out: where there is no room for a row each, two or more plans share one.
    """
    for together in range(1, len(sheets) + 1):
        rows = _numbered(sheets, together)
        if not _through(Drawing(0.0, 0.0), paper, boxes, rows)[1]:
            break
    return _through(ink, paper, boxes, rows)[0]


def _through(
    ink: Drawing, paper: Paper, boxes: Sequence[Box], rows: Sequence[tuple[str, str]]
) -> tuple[float, int]:
    """Draw the rows of the drawing list; return the lowest place, and how many are left over."""
    low, left = 0.0, len(rows)
    for number, box in enumerate(boxes):
        title = Said(f"{said('Drawing list')}, {said('continued')}") if number else "Drawing list"
        y, left = _list(ink, paper, box, title, rows[len(rows) - left :])
        low = max(low, y)
        if not left:
            break
    return low, left


def _numbered(sheets: Sequence[str], together: int = 1) -> list[tuple[str, str]]:
    """Return numbers and titles; details and tables on many sheets share one row.

    So do as many consecutive plans as ``together``.

    >>> plans = [f"Plan, station {at} to {at + 300}" for at in (0, 300, 600)]
    >>> _numbered(["Cover", *plans], together=2)[1:]
    [('2 to 3', 'Plan, station 0 to 600'), ('4', 'Plan, station 600 to 900')]
    """
    rows: list[tuple[str, str]] = []
    numbered = enumerate(sheets, start=1)
    for stem, group in groupby(numbered, key=lambda pair: pair[1].partition(", ")[0]):
        each = list(group)
        if stem.startswith("Plan"):
            for at in range(0, len(each), together):
                (first, begin), (last, end) = each[at], each[min(at + together, len(each)) - 1]
                if first == last:
                    rows.append((str(first), begin))
                else:
                    reach = f"{begin.rpartition(' to ')[0]} to {end.rpartition(' to ')[2]}"
                    rows.append((f"{first} to {last}", reach))
        elif len(each) > MOST_ALIKE:
            rows.append((f"{each[0][0]} to {each[-1][0]}", stem))
        else:
            rows += [(str(number), title) for number, title in each]
    return rows


def _words(ink: Drawing, doc: Document, paper: Paper, box: Box) -> float:
    """Write what the set is of and how it stands; return the place below."""
    size, small, y = 2.4 * paper.letter, paper.letter, box.top
    name = wrapped(project_name(doc), size, box.right - box.left, bold=True)
    for line in name[:3]:
        y += 1.25 * size
        ink.text(box.left, y, line, size, bold=True, layer="cover")
    y += 0.6 * size
    for words in (sheet_text(doc, "owner"), "Plan and profile sheets, schedules and details"):
        for line in wrapped(words, small, box.right - box.left) if words else ():
            y += 1.5 * small
            ink.text(box.left, y, line, small, layer="cover")
    y += 2.4 * small
    for bold, words in ((True, status(doc)), (False, standing(doc))):
        for line in wrapped(words, small, box.right - box.left, bold=bold) if words else ():
            y += 1.4 * small
            ink.text(box.left, y, line, small, bold=bold, layer="cover")
    return y + 3.0 * small


def _list(
    ink: Drawing, paper: Paper, box: Box, title: str, rows: Sequence[tuple[str, str]]
) -> tuple[float, int]:
    """Draw pairs of words while there is room; return the place of the last, and how many are left.

    The value of a pair goes on below itself where it is long.
    """
    size, y = paper.small, box.top
    left = box.left + min(
        max(text_width(words, size) for words, _ in rows) + 2.5, 0.55 * (box.right - box.left)
    )
    for number, (words, value) in enumerate(rows):
        lines = wrapped(value, size, box.right - left)[:3]
        if y + (0.25 + 1.25 * len(lines)) * size > box.bottom:
            return y, len(rows) - number
        if number == 0:
            ink.text(box.left, y, title, 1.15 * paper.letter, bold=True, layer="cover")
        y += 1.5 * size
        short = shortened(words, size, left - box.left - 1.0)
        ink.text(box.left, y, short, size, layer="cover")
        for index, line in enumerate(lines):
            y += 1.25 * size if index else 0.0
            ink.text(left, y, line, size, layer="cover")
    return y, 0


def _location(
    ink: Drawing, doc: Document, paper: Paper, plane: LocalPlane, relief: Relief | None, room: Box
) -> Box:
    """Draw the whole relief with the line framed, as large as a round scale allows.

    Return the box that it takes.
    """
    x, y = plane.forward(column(doc, "lon"), column(doc, "lat"))
    west, east, south, north = x.min(), x.max(), y.min(), y.max()
    if relief is not None:
        lon, lat = np.array([relief.west, relief.east]), np.array([relief.south, relief.north])
        (west, east), (south, north) = plane.forward(lon, lat)
    units = units_of(doc)
    # The frame of the key plan stands within; a relief reaches beyond it.
    edge = 2.0 * FRAME_MM + 1.0 if relief is None else 0.0
    wide, high = room.right - room.left - edge, room.bottom - room.top - edge
    along = max(
        fit_scale(units, float(east - west), wide), fit_scale(units, float(north - south), high)
    )
    across, tall = (
        max(float(reach) * 1000.0 / along + edge, least * paper.letter)
        for reach, least in ((east - west, LEAST_PLAN), (north - south, 12.0))
    )
    # A plan that leaves little beside it may as well have it all.
    right = room.left + across if room.right - room.left - across > LEAST_BESIDE else room.right
    box = Box(room.left, room.top, right, min(room.top + tall, room.bottom))
    if spoken()[1] == "rtl":
        box = box.turned(room)
    middle = (float(west + east) / 2.0, float(south + north) / 2.0)
    view = PlanView(box=box, mm_per_m=1000.0 / along, turn_rad=0.0, middle=middle)
    ink.plans.append(Placed("Location plan", view))
    ink.clip("location", box)
    if relief is not None:
        draw_relief(ink, relief, plane, view)
    px, py = view.at(x, y)
    ink.path(px, py, "pipe")
    ink.unclip()
    frame = Box(float(px.min()), float(py.min()), float(px.max()), float(py.max())).grown(FRAME_MM)
    ink.rect(frame, "sheetbox")
    free = Free(box.grown(-1.0))
    free.keep_clear(np.column_stack([px, py]))
    draw_furniture(ink, free, paper, view, along, units)
    for words, index in (("Intake", 0), ("Powerhouse", -1)):
        spot = (float(px[index]), float(py[index]))
        letter(ink, free, spot, words, paper.letter, layer="cover", bold=True)
    ink.rect(box, "frame")
    base = box.top - 1.0 - 0.1 * cap_height(paper.small)
    title = f"Location plan, {scale_text(units, along)}; the frame is the key plan"
    with ink.reading(box):
        ink.text(box.left, base, title, paper.small, layer="cover")
    return box
