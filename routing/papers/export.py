"""Papers and files from a saved study, by the name of their format."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from routing.errors import InputError
from routing.papers.document import Document
from routing.papers.files import write_bytes, write_text
from routing.papers.geopackage import write_gpkg
from routing.papers.gps import gpx_text, kml_text
from routing.papers.table import csv_text
from routing.papers.text import geojson_text

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["EXPORT_FORMATS", "FILE_ENDINGS", "SHOWS_TERRAIN", "export", "geojson_text"]

FILE_ENDINGS: Mapping[str, str] = {
    "gpkg": "gpkg",
    "geojson": "geojson",
    "kml": "kml",
    "gpx": "gpx",
    "dxf": "dxf",
    "xlsx": "xlsx",
    "csv": "csv",
    "pdf": "pdf",
    "report": "pdf",
    "stakes": "csv",
    "shp": "zip",
    "package": "zip",
}
"""How a file's name ends, by format: pdf are the sheets, shp is a zip of shapefiles."""
EXPORT_FORMATS = tuple(FILE_ENDINGS)
"""Formats that a saved study can be exported to."""
SHOWS_TERRAIN = frozenset({"pdf", "package"})
"""Formats that show relief and contours where they are given."""


def export(
    doc: Document,
    format: str,
    path: Path,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a study to ``path`` in one of :data:`EXPORT_FORMATS`, whole or not at all.

    ``relief`` and ``contours`` are for the formats of :data:`SHOWS_TERRAIN`, which do without them
    too; ``progress`` hears the share done of a package.
    """
    texts: dict[str, Callable[[Document], str]] = {
        "geojson": geojson_text,
        "kml": kml_text,
        "gpx": gpx_text,
        "csv": csv_text,
    }
    if format == "gpkg":
        write_gpkg(doc, path)
    elif format in texts:
        write_text(path, texts[format](doc))
    elif format in FILE_ENDINGS:
        write_bytes(path, _made(doc, format, relief, contours, progress))
    else:
        near = difflib.get_close_matches(format, EXPORT_FORMATS, 1)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        raise InputError(
            f"Studies cannot be exported as {format!r}.",
            f"{hint}The formats are {', '.join(EXPORT_FORMATS)}.",
        )


def _made(
    doc: Document,
    format: str,
    relief: Relief | None,
    contours: Sequence[DrawnContour],
    progress: Callable[[float], None] | None,
) -> bytes:
    """Return a paper's bytes; its maker is imported only here, as a plain study needs none."""
    match format:
        case "pdf":
            from routing.papers.sheet import sheet_pdf

            return sheet_pdf(doc, relief, contours)
        case "report":
            from routing.papers.report import report_pdf

            return report_pdf(doc)
        case "xlsx":
            from routing.papers.workbook import workbook

            return workbook(doc)
        case "dxf":
            from routing.papers.dxf import dxf_text

            return dxf_text(doc).encode()
        case "stakes":
            from routing.papers.stakes import stakes_csv

            return stakes_csv(doc).encode()
        case "shp":
            from routing.papers.shapefile import shapefile_zip

            return shapefile_zip(doc)
        case _:
            from routing.papers.package import package_zip

            return package_zip(doc, relief, contours, progress)
