"""The calculation report, from the study document and the tool's own data files alone."""

from __future__ import annotations

import json
from collections.abc import Sequence
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from routing.papers.document import Document, plain, units_of
from routing.papers.fit import LEAST_PT
from routing.papers.given import sheet_date, sheet_revisions, sheet_text, signed, standing, status
from routing.papers.report.chapters import Extras, chapters_of
from routing.papers.report.pictures import map_svg, profile_svg
from routing.papers.typeset import FAMILIES, compile_pdf, shortened

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["report_data", "report_pdf"]


def report_pdf(
    doc: Document,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    extras: Extras | None = None,
) -> bytes:
    """Return the calculation report of a study as PDF.

    Relief and contours lie under the map of the summary; ``extras`` brings the settings in words
    and the cases of the sensitivity.
    """
    units = units_of(doc)
    data = json.dumps(report_data(doc, extras), ensure_ascii=False).encode()
    template = (files("routing.papers.report") / "data" / "report.typ").read_text(encoding="utf-8")
    given = {
        "report.json": data,
        "map.svg": map_svg(doc, units, relief, contours),
        "profile.svg": profile_svg(doc, units),
    }
    return compile_pdf(template, given, date=sheet_date(doc))


def report_data(doc: Document, extras: Extras | None = None) -> dict[str, Any]:
    """Return all that the report prints, as plain values in reading order."""
    generator = doc.get("generator") or {}
    name = sheet_text(doc, "project") or plain(doc.get("name") or "study")
    return {
        "family": list(FAMILIES),
        "paper": "us-letter" if units_of(doc) == "us" else "a4",
        "name": name,
        "short": shortened(name, LEAST_PT, 340.0),
        "study": plain(doc.get("name") or "study"),
        "owner": sheet_text(doc, "owner"),
        "drawn": sheet_text(doc, "drawn"),
        "checked": sheet_text(doc, "checked"),
        "date": sheet_text(doc, "date"),
        "signed": sheet_text(doc, "signed") if signed(doc) else "",
        "status": status(doc),
        "standing": standing(doc),
        "revisions": [
            [row[key] for key in ("mark", "date", "text", "by")] for row in sheet_revisions(doc)
        ],
        "maker": f"{plain(generator.get('name') or '')} {plain(generator.get('version') or '')}",
        "chapters": [
            {"title": each.title, "page": each.page, "sections": list(each.sections)}
            for each in chapters_of(doc, extras or Extras())
        ],
    }
