"""Papers and files from a saved study: one row for each, from which every face offers them."""

from __future__ import annotations

import difflib
from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Literal

from routing.document import damage_named
from routing.errors import InputError
from routing.papers.document import Document
from routing.papers.files import write_bytes
from routing.value import dataclass
from routing.words import language, languages

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["EXPORTS", "Export", "export", "export_bytes", "in_language", "need_ending"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Export:
    """One file: the name of its format, its name in a folder, and what it is for.

    ``made_by`` names module and function within ``routing`` that return its text or bytes;
    they are imported when asked, as a plain study needs few of them. ``takes`` says what the
    function is given beside the document. ``folder`` is "always" or "papers" where the folder of a
    study holds the file, "package" where only the package does, "lines" where it and the package
    hold it for a study of several lines, "" where neither. ``spoken`` files are in the language of
    the study, the others in English.
    """

    format: str
    name: str
    media: str
    title: str
    made_by: str
    takes: Literal["", "ground", "progress"] = ""
    folder: Literal["always", "papers", "package", "lines", ""] = "always"
    spoken: bool = False

    @property
    def ending(self) -> str:
        """How the file's name ends, without the dot."""
        return self.name.rpartition(".")[2]

    @property
    def shows_terrain(self) -> bool:
        """Whether relief and contours are drawn where they are given."""
        return bool(self.takes)


_CSV = "text/csv; charset=utf-8"
_ROWS = (
    Export(
        format="pdf",
        name="sheets.pdf",
        media="application/pdf",
        title="plan and profile sheets, schedules and notes: for print and for the permit",
        made_by="papers.sheet:sheet_pdf",
        takes="ground",
        folder="papers",
        spoken=True,
    ),
    Export(
        format="report",
        name="report.pdf",
        media="application/pdf",
        title="calculation report with every formula, value and source: to check and to sign",
        made_by="report_study:full_report_pdf",
        takes="ground",
        folder="papers",
    ),
    Export(
        format="alternatives",
        name="alternatives.pdf",
        media="application/pdf",
        title="all lines of the study side by side, on a map and in a table: for the permit",
        made_by="papers.alternatives:alternatives_pdf",
        takes="ground",
        folder="lines",
        spoken=True,
    ),
    Export(
        format="works",
        name="works.pdf",
        media="application/pdf",
        title="works plan: filling, flushing, testing, gauges and draining, for the crew",
        made_by="papers.works:works_pdf",
        folder="papers",
        spoken=True,
    ),
    Export(
        format="xlsx",
        name="study.xlsx",
        media="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        title="every table of the study as a workbook: for buying and for office work",
        made_by="papers.workbook:workbook",
        folder="papers",
        spoken=True,
    ),
    Export(
        format="quantities",
        name="quantities.xlsx",
        media="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
        title="bill of quantities to put prices in: amounts and sums follow",
        made_by="papers.quantities:quantities_xlsx",
        folder="papers",
        spoken=True,
    ),
    Export(
        format="bill",
        name="quantities.pdf",
        media="application/pdf",
        title="bill of quantities with the prices given: to hand over",
        made_by="papers.quantities:quantities_pdf",
        folder="papers",
        spoken=True,
    ),
    Export(
        format="stakes",
        name="stake-out.csv",
        media=_CSV,
        title="coordinates, levels and cuts of every stake: for the surveyor",
        made_by="papers.stakes:stakes_csv",
        folder="papers",
    ),
    Export(
        format="dxf",
        name="study.dxf",
        media="image/vnd.dxf",
        title="plan, 3-D lines and profile: for drawing programs",
        made_by="papers.dxf:dxf_drawing",
        takes="ground",
        folder="papers",
    ),
    Export(
        format="landxml",
        name="alignment.xml",
        media="application/xml",
        title="alignment with ground and pipe in profile, LandXML 1.2: for machine control",
        made_by="papers.landxml:landxml_text",
        folder="papers",
    ),
    Export(
        format="ifc",
        name="alignment.ifc",
        media="application/x-step",
        title="alignment and pipe in IFC 4.3, with the extra leatline[ifc]: for models",
        made_by="papers.ifc:ifc_text",
        folder="",
    ),
    Export(
        format="csv",
        name="stations.csv",
        media=_CSV,
        title="every station: ground, pipe, depth, heads, pressures; for scripts",
        made_by="papers.table:csv_text",
    ),
    Export(
        format="gpkg",
        name="study.gpkg",
        media="application/geopackage+sqlite3",
        title="one layer a subject: for geographic information systems",
        made_by="papers.geopackage:gpkg_bytes",
    ),
    Export(
        format="geojson",
        name="study.geojson",
        media="application/geo+json",
        title="line, vents, drains and bends as one text file: for the same",
        made_by="papers.text:geojson_text",
    ),
    Export(
        format="kml",
        name="study.kml",
        media="application/vnd.google-earth.kml+xml",
        title="line and fittings: for a globe viewer",
        made_by="papers.gps:kml_text",
    ),
    Export(
        format="gpx",
        name="fittings.gpx",
        media="application/gpx+xml",
        title="line, vents and drains as waypoints: for a hand-held receiver",
        made_by="papers.gps:gpx_text",
    ),
    Export(
        format="svg",
        name="profile.svg",
        media="image/svg+xml",
        title="profile drawing of the whole line: ground, pipe and heads",
        made_by="papers.profile:profile_svg",
    ),
    Export(
        format="json",
        name="study.json",
        media="application/json",
        title="the whole study: every other file can be made again from it",
        made_by="document.files:to_json",
    ),
    Export(
        format="shp",
        name="study.zip",
        media="application/zip",
        title="shapefiles, with the full names of their fields",
        made_by="papers.shapefile:shapefile_zip",
        folder="",
    ),
    Export(
        format="package",
        name="package.zip",
        media="application/zip",
        title="all of these in one file with a manifest: for the permit",
        made_by="papers.package:package_zip",
        takes="progress",
        folder="",
    ),
)
EXPORTS: Mapping[str, Export] = MappingProxyType({row.format: row for row in _ROWS})
"""Every file that a saved study can be exported to, by the name of its format."""
_AS_GOOD: Mapping[str, tuple[str, ...]] = MappingProxyType({"geojson": ("json",)})
"""Endings that the standard of a format names beside its own (RFC 7946, 12)."""


def in_language(doc: Document, format: str, code: str | None) -> Document:
    """Return a study whose file of a format is in another language than the study; None: as it is.

    Raises
    ------
    InputError
        If nobody speaks that language here, or the format is in English only.
    """
    if code is None:
        return doc
    row, told = EXPORTS.get(format), language(code).code
    if row is not None and not row.spoken:
        spoken = ", ".join(each.format for each in _ROWS if each.spoken)
        raise InputError(
            f"{format} is written in English only, not in {languages()[told].name}.",
            f"Leave the language out; the formats with one are {spoken}.",
        )
    return {**doc, "language": told}


def export(
    doc: Document,
    format: str,
    path: Path,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    progress: Callable[[float], None] | None = None,
) -> None:
    """Write a study to ``path`` in one of :data:`EXPORTS`, whole or not at all.

    ``relief`` and ``contours`` are for the formats that show terrain, which do without them too;
    ``progress`` hears the share done of a package.

    Raises
    ------
    InputError
        If there is no such format, or the file's name ends as that of another.
    """
    need_ending(format, path)
    write_bytes(path, export_bytes(doc, format, relief, contours, progress))


def export_bytes(
    doc: Document,
    format: str,
    relief: Relief | None = None,
    contours: Sequence[DrawnContour] = (),
    progress: Callable[[float], None] | None = None,
) -> bytes:
    """Return what :func:`export` writes.

    Raises
    ------
    InputError
        If there is no such format; the message names the nearest.
    """
    row = _row(format)
    module, _, function = row.made_by.partition(":")
    make: Callable[..., Any] = getattr(import_module(f"routing.{module}"), function)
    given = {"": (), "ground": (relief, contours), "progress": (relief, contours, progress)}
    with damage_named(doc):
        made = make(doc, *given[row.takes])
    return made if isinstance(made, bytes) else str(made).encode()


def need_ending(format: str, path: Path) -> None:
    """Refuse a file whose name says another kind than a format is; large letters are as good.

    Raises
    ------
    InputError
        If there is no such format, or the name ends otherwise.
    """
    row, given = _row(format), path.suffix[1:].lower()
    if given in (row.ending, *_AS_GOOD.get(row.ending, ())):
        return
    others = [each.format for each in _ROWS if given and each.ending == given]
    also = f", or choose a format that does end in .{given}: {', '.join(others)}" if others else ""
    raise InputError(
        f"{path.name} does not end in .{row.ending}, as a file of the format {format} does.",
        f"Let its name end in .{row.ending}{also}.",
    )


def _row(format: str) -> Export:
    row = EXPORTS.get(format)
    if row is None:
        near = difflib.get_close_matches(format, EXPORTS, 1)
        hint = f"Did you mean {near[0]!r}? " if near else ""
        raise InputError(
            f"Studies cannot be exported as {format!r}.",
            f"{hint}The formats are {', '.join(EXPORTS)}.",
        )
    return row
