"""The set of sheets: cover, key sheet, plan and profile, details, schedules, notes; as one PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import asdict
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.papers.document import Document, column, units_of
from routing.papers.given import sheet_date, sheet_text, status
from routing.papers.kept import kept
from routing.papers.plane import SurveySystem, local_plane, survey_system
from routing.papers.sheet.bands import band_count, draw_bands
from routing.papers.sheet.cover import MOST_ALIKE, draw_cover, list_sheets
from routing.papers.sheet.details import draw_details
from routing.papers.sheet.galley import Galley, well_filled
from routing.papers.sheet.georeference import georeferenced
from routing.papers.sheet.ink import Drawing, Table
from routing.papers.sheet.key import draw_key
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, Paper, paper_of
from routing.papers.sheet.plan import draw_plan
from routing.papers.sheet.profile import draw_profile, plot_height
from routing.papers.sheet.split import Piece, choose, scale_text
from routing.papers.sheet.style import STYLE
from routing.papers.sheet.tables import front_blocks, sheet_blocks
from routing.papers.sheet.title import draw_strip, project_name
from routing.papers.spoken import speaking_as
from routing.papers.station import station_text
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.value import dataclass
from routing.words import said, spoken

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["SheetDrawing", "sheet_drawings", "sheet_pdf", "sheet_set"]


COVER = "Cover and location plan"
LARGE = 6
"""Columns of tables from which a sheet's cover has room for schedules [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetDrawing:
    """A drawn sheet: what it shows, and the drawing itself."""

    title: str
    scale: str
    ink: Drawing
    piece: Piece | None = None


def sheet_pdf(
    doc: Document, relief: Relief | None = None, contours: Sequence[DrawnContour] = ()
) -> bytes:
    """Return the plan and profile sheets of a study as PDF.

    Without relief or contours the plan shows the line, the grid and what the settings give.
    """
    with speaking_as(doc):
        return _pdf(doc, relief, contours)


def _pdf(doc: Document, relief: Relief | None, contours: Sequence[DrawnContour]) -> bytes:
    paper = paper_of(doc)
    drawn = sheet_set(doc, paper, relief, contours)
    data = {
        "language": spoken()[0],
        "direction": spoken()[1],
        "family": list(FAMILIES),
        "project": project_name(doc),
        "owner": sheet_text(doc, "owner"),
        "status": status(doc),
        "paper": {"width": paper.width, "height": paper.height},
        "frame": {"left": FILING_MARGIN, "top": MARGIN, "width": paper.frame_width},
        "sheets": [
            {
                "title": said(sheet.title),
                "file": f"{number}.svg",
                "words": [
                    asdict(each) for each in sheet.ink.labels if each.joined and not each.in_table
                ],
                "tables": [_told(table) for table in sheet.ink.tables],
            }
            for number, sheet in enumerate(drawn)
        ],
    }
    written = {f"{number}.svg": sheet.ink.svg(STYLE).encode() for number, sheet in enumerate(drawn)}
    written["sheet.json"] = json.dumps(data, ensure_ascii=False).encode()
    pdf = compile_pdf(_template(), written, date=sheet_date(doc))
    survey = survey_system(doc, sheet_text(doc, "crs") or None)
    placed = [sheet.ink.plans for sheet in drawn]
    return georeferenced(pdf, placed, paper, local_plane(doc), survey)


def _told(table: Table) -> dict[str, Any]:
    """Return a table as the page sets it: for each cell its side, and its lines from its corner."""
    tops = np.cumsum([table.top, *table.heights]).tolist()
    return {
        "at": [table.left, table.top],
        "widths": list(table.widths),
        "heights": list(table.heights),
        "size": table.rows[0][0][0].size,
        "rows": [
            [
                {
                    "end": any(line.anchor == "end" for line in cell),
                    "lines": [[line.at[1] - top, line.text] for line in cell],
                }
                for cell in row
            ]
            for row, top in zip(table.rows, tops, strict=False)
        ],
    }


def sheet_set(
    doc: Document,
    paper: Paper,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
) -> list[SheetDrawing]:
    """Return every sheet of a study with its title strip, the cover first.

    A package draws them once: relief is a picture, which the layouts of the DXF leave out.
    """
    language = spoken()[0]
    return kept(("sheets", language), lambda: _sheet_set(doc, paper, relief, contours))


def _sheet_set(
    doc: Document, paper: Paper, relief: Relief | None, contours: Sequence[DrawnContour]
) -> list[SheetDrawing]:
    survey = survey_system(doc, sheet_text(doc, "crs") or None)
    sheets = sheet_drawings(doc, paper, survey, relief, contours)
    details = draw_details(doc, paper)
    # As many titles as there may be, each as long as it may get; of more alike one row tells.
    known = [COVER, *(sheet.title for sheet in sheets)]
    known += [_numbered("Details", len(details), len(details))] * len(details)
    known += [_numbered("Schedules and notes", 10, 10)] * MOST_ALIKE
    cover = draw_cover(doc, paper, local_plane(doc), relief, Galley(paper).columns(), known)
    blocks, front = sheet_blocks(doc), front_blocks(doc)
    if cover.more.items:
        front = [cover.more, *front]

    def fill(galley: Galley) -> None:
        large = galley.count >= LARGE
        galley.set(*(() if large else blocks))
        galley.begin_with(cover.ink, cover.tops)
        galley.set(*front)
        galley.set(*(blocks if large else ()), starts=cover.starts)

    galley = well_filled(paper, fill)
    for name, scale, inks in (
        ("Details", "as shown", details),
        ("Schedules and notes", "none", galley.sheets[1:]),
    ):
        sheets += [
            SheetDrawing(title=_numbered(name, number, len(inks)), scale=scale, ink=ink)
            for number, ink in enumerate(inks, start=1)
        ]
    list_sheets(cover, paper, [COVER, *(sheet.title for sheet in sheets)])
    drawn = [SheetDrawing(title=COVER, scale="as shown", ink=cover.ink), *sheets]
    for number, sheet in enumerate(drawn, start=1):
        told = (sheet.title, sheet.scale, f"sheet {number} of {len(drawn)}")
        draw_strip(sheet.ink, doc, survey, paper, told)
    return drawn


def _numbered(title: str, number: int, count: int) -> str:
    return title if count == 1 else f"{title}, {number} of {count}"


def sheet_drawings(
    doc: Document,
    paper: Paper,
    survey: SurveySystem,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
) -> list[SheetDrawing]:
    """Return the drawings: the key sheet, then each plan and profile down the line."""
    plane = local_plane(doc)
    x, y = plane.forward(column(doc, "lon"), column(doc, "lat"))
    bands, units = band_count(doc, paper), units_of(doc)
    pieces = choose(doc, x, y, paper, plot_height(paper, bands))
    key, along = draw_key(doc, pieces, paper, plane, relief, contours)
    title = "Key plan and profile of the whole line"
    drawn = [SheetDrawing(title=title, scale=f"key plan {scale_text(units, along)}", ink=key)]
    for number, piece in enumerate(pieces):
        ground = (relief, _of_sheet(contours, number))
        ink = Drawing(paper.frame_width, paper.frame_height + paper.strip)
        draw_plan(ink, doc, piece, paper, plane, survey, ground)
        view = draw_profile(ink, doc, piece, paper, bands)
        draw_bands(ink, doc, view, paper)
        scales = piece.scales
        reach = f"{station_text(doc, piece.from_m)} to {station_text(doc, piece.to_m)}"
        drawn.append(
            SheetDrawing(
                title=f"Plan and profile, station {reach}",
                scale=f"{scale_text(units, scales.along)}, {scale_text(units, scales.up)} up",
                ink=ink,
                piece=piece,
            )
        )
    return drawn


def _of_sheet(contours: Sequence[DrawnContour], number: int) -> Sequence[DrawnContour]:
    """Return the contours of one plan, or those of the whole where it has none of its own."""
    own = [line for line in contours if line.sheet == number]
    return own or [line for line in contours if line.sheet is None]


@lru_cache(maxsize=1)
def _template() -> str:
    return (files("routing.papers.sheet") / "data" / "sheet.typ").read_text(encoding="utf-8")
