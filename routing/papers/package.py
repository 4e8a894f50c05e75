"""The permit package: every paper of a study in one zip, with a manifest to check it against."""

from __future__ import annotations

import hashlib
import json
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from routing.papers.document import Document, plain
from routing.papers.dxf import dxf_text
from routing.papers.geopackage import write_gpkg
from routing.papers.gps import gpx_text, kml_text
from routing.papers.profile import profile_svg
from routing.papers.report import report_pdf
from routing.papers.shapefile import zipped
from routing.papers.sheet import sheet_pdf
from routing.papers.stakes import stakes_csv
from routing.papers.table import csv_text
from routing.papers.text import geojson_text, json_text
from routing.papers.workbook import workbook

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["PACKAGE_FILES", "package_zip"]

PACKAGE_FILES: Mapping[str, str] = {
    "sheets.pdf": "plan and profile sheets, schedules and notes: for print and for the permit",
    "report.pdf": "calculation report with every formula, value and source: to check and to sign",
    "study.xlsx": "every table of the study: for buying and for office work",
    "stake-out.csv": "coordinates, levels and cuts of every stake: for the surveyor",
    "stations.csv": "every station of the profile: for scripts",
    "study.dxf": "plan, 3-D lines and profile: for drawing programs",
    "study.gpkg": "all layers: for geographic information systems",
    "study.geojson": "the same as one text file",
    "study.kml": "line and fittings: for a globe viewer",
    "fittings.gpx": "line, vents and drains: for a hand-held receiver",
    "profile.svg": "profile drawing of the whole line",
    "study.json": "the whole study: every other file can be made again from it",
}
"""What a package holds, with what each file is for."""


def package_zip(
    doc: Document,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    progress: Callable[[float], None] | None = None,
) -> bytes:
    """Return the package; the same study and version give the same bytes.

    ``progress`` hears the share done after each file. The manifest lists each file's purpose, size
    and SHA-256 checksum.
    """
    makers: dict[str, Callable[[], bytes]] = {
        "sheets.pdf": lambda: sheet_pdf(doc, relief, contours),
        "report.pdf": lambda: report_pdf(doc),
        "study.xlsx": lambda: workbook(doc),
        "stake-out.csv": lambda: stakes_csv(doc).encode(),
        "stations.csv": lambda: csv_text(doc).encode(),
        "study.dxf": lambda: dxf_text(doc).encode(),
        "study.gpkg": lambda: _gpkg(doc),
        "study.geojson": lambda: geojson_text(doc).encode(),
        "study.kml": lambda: kml_text(doc).encode(),
        "fittings.gpx": lambda: gpx_text(doc).encode(),
        "profile.svg": lambda: profile_svg(doc).encode(),
        "study.json": lambda: json_text(doc).encode(),
    }
    contents: dict[str, bytes] = {}
    for number, name in enumerate(PACKAGE_FILES, start=1):
        contents[name] = makers[name]()
        if progress is not None:
            progress(number / len(PACKAGE_FILES))
    contents = {"manifest.json": _manifest(doc, contents), **contents}
    return zipped(contents)


def _manifest(doc: Document, contents: Mapping[str, bytes]) -> bytes:
    files: list[dict[str, Any]] = [
        {
            "file": name,
            "purpose": PACKAGE_FILES[name],
            "bytes": len(data),
            "sha256": hashlib.sha256(data).hexdigest(),
        }
        for name, data in contents.items()
    ]
    manifest = {
        "study": plain(doc.get("name") or "study"),
        "generator": dict(doc.get("generator") or {}),
        "files": files,
    }
    return (json.dumps(manifest, ensure_ascii=False, indent=2) + "\n").encode()


def _gpkg(doc: Document) -> bytes:
    with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
        path = Path(folder) / "study.gpkg"
        write_gpkg(doc, path)
        return path.read_bytes()
