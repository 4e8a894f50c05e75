"""The set of sheets: key sheet, plan and profile sheets, schedules and notes, as one PDF."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from routing.papers.document import Document, column, plain, units_of
from routing.papers.facts import summary_facts
from routing.papers.given import sheet_date, sheet_revisions, sheet_text, signed, standing, status
from routing.papers.plane import SurveySystem, local_plane, survey_system
from routing.papers.schedule import Schedule, schedules
from routing.papers.sheet.bands import band_count, draw_bands
from routing.papers.sheet.ink import Drawing
from routing.papers.sheet.key import SIDE, draw_key
from routing.papers.sheet.paper import FILING_MARGIN, MARGIN, Paper, paper_of
from routing.papers.sheet.plan import draw_plan
from routing.papers.sheet.profile import draw_profile, plot_height
from routing.papers.sheet.split import Piece, Scales, choose
from routing.papers.sheet.style import STYLE
from routing.papers.typeset import FAMILIES, compile_pdf
from routing.papers.wording import worded
from routing.units import show

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["SheetDrawing", "sheet_drawings", "sheet_pdf"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetDrawing:
    """A drawn sheet: what it shows, and the drawing itself."""

    title: str
    scale: str
    ink: Drawing
    piece: Piece | None
    scales: Scales | None


def sheet_pdf(
    doc: Document, relief: Relief | None = None, contours: Sequence[DrawnContour] = ()
) -> bytes:
    """Return the plan and profile sheets of a study as PDF.

    Without relief or contours the plan shows the line, the grid and what the settings give.
    """
    paper, survey = paper_of(doc), survey_system(doc, sheet_text(doc, "crs") or None)
    drawn = sheet_drawings(doc, paper, survey, relief, contours)
    data = {
        "paper": _paper(paper),
        "title": _title(doc, survey),
        "sheets": [
            {"title": sheet.title, "scale": sheet.scale, "file": f"{number}.svg"}
            for number, sheet in enumerate(drawn)
        ],
        "job": [list(fact) for fact in summary_facts(doc)],
        "schedules": [_schedule(table) for table in schedules(doc)],
        "notes": _notes(doc),
    }
    written = {f"{number}.svg": sheet.ink.svg(STYLE).encode() for number, sheet in enumerate(drawn)}
    written["sheet.json"] = json.dumps(data, ensure_ascii=False).encode()
    return compile_pdf(_template(), written, date=sheet_date(doc))


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
    bands = band_count(doc)
    scales, pieces = choose(doc, x, y, paper, plot_height(paper, bands))
    key, along = draw_key(doc, pieces, paper, plane, relief, contours)
    units = units_of(doc)
    drawn = [
        SheetDrawing(
            title="Key plan and profile of the whole line",
            scale=f"key plan 1:{along}",
            ink=key,
            piece=None,
            scales=None,
        )
    ]
    for piece in pieces:
        ink = Drawing(paper.frame_width, paper.frame_height)
        draw_plan(ink, doc, piece, scales, paper, plane, survey, (relief, contours))
        view = draw_profile(ink, doc, piece, scales, paper, bands)
        draw_bands(ink, doc, view, paper)
        start = show(piece.from_m, "station", units, unit=False)
        reach = f"{start} to {show(piece.to_m, 'station', units)}"
        high = f"1:{scales.up} up; heights {scales.exaggeration:g} times"
        drawn.append(
            SheetDrawing(
                title=f"Plan and profile, station {reach}",
                scale=f"1:{scales.along} along, {high}",
                ink=ink,
                piece=piece,
                scales=scales,
            )
        )
    return drawn


def _paper(paper: Paper) -> dict[str, Any]:
    return {
        "name": paper.name,
        "width": paper.width,
        "height": paper.height,
        "letter": paper.letter,
        "small": paper.small,
        "strip": paper.strip,
        "left": FILING_MARGIN,
        "margin": MARGIN,
        "side": SIDE * paper.frame_width,
        "family": list(FAMILIES),
    }


def _title(doc: Document, survey: SurveySystem) -> dict[str, Any]:
    terrain, summary, units = doc["terrain"], doc["summary"], units_of(doc)
    error = terrain.get("rmse_m")
    source = ", ".join(plain(name) for name in terrain.get("files") or ()) or "raster"
    cell = show(terrain.get("cell_m"), "length", units)
    flow = summary.get("flow_m3_s")
    return {
        "project": sheet_text(doc, "project") or plain(doc.get("name") or "study"),
        "study": plain(doc.get("name") or "study"),
        "owner": sheet_text(doc, "owner"),
        "number": sheet_text(doc, "number"),
        "drawn": sheet_text(doc, "drawn"),
        "checked": sheet_text(doc, "checked"),
        "date": sheet_text(doc, "date"),
        "status": status(doc),
        "signed": signed(doc),
        "revisions": sheet_revisions(doc),
        "facts": [
            ["Coordinates", f"{survey.name}, in {survey.unit}; {survey.chosen}"],
            [
                "Vertical datum",
                plain(terrain.get("vertical_datum") or "not stated: as in the raster"),
            ],
            [
                "Terrain",
                f"{source}; cell {cell}; error (RMSE) "
                + (show(error, "depth", units) if error is not None else "not stated"),
            ],
            ["Intake level", show(summary["intake_level_m"], "elevation", units)],
            ["Design flow", show(flow, "flow", units) if flow is not None else "none given"],
            [
                "Stations",
                "distance in plan from the intake (WGS 84 ellipsoid)",
            ],
        ],
        "maker": " ".join(
            plain((doc.get("generator") or {}).get(key) or "") for key in ("name", "version")
        ),
    }


def _schedule(table: Schedule) -> dict[str, Any]:
    return {
        "title": table.title,
        "heads": table.heads,
        "rows": table.rows,
        "numeric": table.numeric,
        "note": table.note,
    }


def _notes(doc: Document) -> list[dict[str, Any]]:
    """Return what stands beside the schedules: warnings, what was assumed, cautions."""
    units = units_of(doc)
    warnings = []
    for item in doc.get("warnings") or ():
        at = item.get("station_m")
        where = "" if at is None else f" at {show(at, 'station', units)}"
        warnings.append(f"{plain(item['severity']).capitalize()}{where}: {worded(item['message'])}")
    groups = [
        ("Open, and answered for", [standing(doc)] if standing(doc) else []),
        ("Warnings", warnings),
        ("Assumed", [worded(item) for item in doc.get("assumptions") or ()]),
        ("Cautions", [plain(item["text"]) for item in doc.get("cautions") or ()]),
    ]
    return [{"title": title, "items": items} for title, items in groups if items]


@lru_cache(maxsize=1)
def _template() -> str:
    return (files("routing.papers.sheet") / "data" / "sheet.typ").read_text(encoding="utf-8")
