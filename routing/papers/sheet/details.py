"""Detail sheets: the study's own dimensions to scale, packed row by row, the diagram first."""

from __future__ import annotations

from collections.abc import Sequence

from routing.papers.document import Document, units_of
from routing.papers.sheet.detail import Detail
from routing.papers.sheet.detail_ground import ground_details
from routing.papers.sheet.detail_water import water_details
from routing.papers.sheet.diagram import Stretch, draw_stretch, stretches
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.sketch import NOTE_LINE, Sketch, caption, fitted
from routing.papers.typeset import wrapped
from routing.value import dataclass

__all__ = ["draw_details"]

EDGE, BETWEEN, PAD = 3.0, 3.0, 4.0
"""Room at the edge of the sheet, between details, and between a detail and its frame [mm]."""
LARGEST = (0.36, 0.31, 0.27)
"""Largest width of a detail that is tried, as a share of the sheet's width [-]."""
LEAST_WIDE = 26.0
"""Least width of a detail's frame, for its notes, in sizes of lettering [-]."""
MOST_STRETCH = 1.4
"""How much wider or higher a frame may get to fill its row or sheet [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Cell:
    """A detail with its scale, the box it takes [mm], and its notes in lines."""

    detail: Detail
    scale: int
    box: Box
    lines: Sequence[str]
    wide: float
    high: float


def draw_details(doc: Document, paper: Paper) -> list[Drawing]:
    """Return the detail sheets of a study; the diagram of the water way comes first.

    Of the sizes tried the fewest sheets count, then the largest details.
    """
    details = [*ground_details(doc), *water_details(doc)]
    diagram = _strips(stretches(doc, paper, paper.frame_width - 2.0 * EDGE), paper)
    top = EDGE + sum(row.high + BETWEEN for row in diagram[-1])
    tried: list[dict[int, Box]] = [{} for _ in details]
    packed = [
        _pages(
            [_cell(doc, paper, *each, share) for each in zip(details, tried, strict=True)],
            paper,
            top,
        )
        for share in LARGEST
    ]
    pages = [*([] for _ in diagram[1:]), *min(packed, key=len)]
    sheets = []
    for number, rows in enumerate(pages):
        sheets.append(Drawing(paper.frame_width, paper.frame_height + paper.strip))
        top = EDGE
        for strip in diagram[number] if number < len(diagram) else ():
            box = Box(EDGE, top, paper.frame_width - EDGE, top + strip.high)
            draw_stretch(sheets[-1], doc, paper, box, strip)
            top = box.bottom + BETWEEN
        used = sum(_high(row) + BETWEEN for row in rows) - BETWEEN
        free = min((paper.frame_height - EDGE - top) / used, MOST_STRETCH) if rows else 1.0
        for row in rows:
            high = _high(row) * free - BETWEEN * (free - 1.0)
            _draw_row(sheets[-1], doc, paper, row, (top, top + high))
            top += high + BETWEEN
    return sheets


def _strips(rows: Sequence[Stretch], paper: Paper) -> list[list[Stretch]]:
    """Return the rows of the diagram on as many sheets as they take."""
    most = max(int((paper.frame_height - 2.0 * EDGE) / (rows[0].high + BETWEEN)), 1)
    return [list(rows[at : at + most]) for at in range(0, len(rows), most)]


def _pages(cells: Sequence[_Cell], paper: Paper, top: float) -> list[list[list[_Cell]]]:
    """Return details in rows and rows on sheets, in order; the first sheet is used to ``top``."""
    rows: list[list[_Cell]] = []
    for cell in cells:
        if not rows or _wide([*rows[-1], cell]) > paper.frame_width - 2.0 * EDGE:
            rows.append([])
        rows[-1].append(cell)
    pages: list[list[list[_Cell]]] = [[]]
    left = paper.frame_height - EDGE - top
    for row in rows:
        if _high(row) > left:
            pages.append([])
            left = paper.frame_height - 2.0 * EDGE
        pages[-1].append(row)
        left -= _high(row) + BETWEEN
    return pages


def _wide(row: Sequence[_Cell]) -> float:
    return sum(cell.wide for cell in row) + BETWEEN * (len(row) - 1)


def _high(row: Sequence[_Cell]) -> float:
    return max(cell.high for cell in row)


def _draw_row(
    ink: Drawing, doc: Document, paper: Paper, row: Sequence[_Cell], reach: tuple[float, float]
) -> None:
    between = BETWEEN * (len(row) - 1)
    room = paper.frame_width - 2.0 * EDGE - between
    stretch = min(room / (_wide(row) - between), MOST_STRETCH)
    left = EDGE
    for cell in row:
        box = Box(left, reach[0], left + cell.wide * stretch, reach[1])
        _draw(ink, doc, paper, box, cell)
        left = box.right + BETWEEN


def _cell(
    doc: Document, paper: Paper, detail: Detail, tried: dict[int, Box], share: float
) -> _Cell:
    """Return a detail at the finest scale at which it is not too large for a sheet."""
    room = (share * paper.frame_width, 1.15 * share * paper.frame_height)
    scale, box = fitted(detail.draw, paper, units_of(doc), room, tried)
    wide = max(box.right - box.left + 2.0 * PAD, LEAST_WIDE * paper.small)
    lines = [line for each in detail.notes for line in wrapped(each, paper.small, wide - 3.0)]
    foot = len(lines) * NOTE_LINE * paper.small + 1.4
    high = 2.0 * paper.letter + box.bottom - box.top + 2.0 * PAD + foot
    return _Cell(detail=detail, scale=scale, box=box, lines=lines, wide=wide, high=high)


def _draw(ink: Drawing, doc: Document, paper: Paper, frame: Box, cell: _Cell) -> None:
    caption(
        ink,
        paper,
        frame,
        f"{cell.detail.title}, 1:{cell.scale}",
        cell.lines,
    )
    foot = len(cell.lines) * NOTE_LINE * paper.small + 1.4
    middle = (frame.top + 2.0 * paper.letter + frame.bottom - foot) / 2.0
    origin = (
        (frame.left + frame.right) / 2.0 - (cell.box.left + cell.box.right) / 2.0,
        middle - (cell.box.top + cell.box.bottom) / 2.0,
    )
    cell.detail.draw(Sketch(ink, paper, units_of(doc), cell.scale, origin))
