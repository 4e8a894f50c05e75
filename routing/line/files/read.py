"""Open a route file: which format it is shows in its first bytes, whatever its name says."""

from __future__ import annotations

import tempfile
from collections.abc import Mapping
from pathlib import Path, PurePosixPath
from typing import Final, Literal

from routing.errors import RouteError
from routing.line.files.drawn import LineChoice
from routing.line.files.geojson import route_from_geojson_bytes
from routing.line.files.unpack import MAX_BYTES, unpacked
from routing.line.route import Route

__all__ = ["file_format", "read_head", "read_route", "read_routes"]

MOST_LINES: Final = 50
"""Most lines of a file that are studied side by side [-]."""

HEAD_BYTES: Final = 4096
REMEDY: Final = (
    "Give a GeoJSON, GPX, KML, KMZ, GeoPackage, shapefile (zipped too), a CSV of points or "
    "well-known text that holds the line."
)

Format = Literal["geojson", "gpx", "kml", "geopackage", "shapefile", "packed", "text"]


def read_route(path: Path, *, line: LineChoice = None) -> Route:
    """Return the one line that a file holds.

    GeoJSON, GPX, KML and columns lon and lat are WGS 84; a GeoPackage, a shapefile with a .prj, a
    GeoJSON file with a ``crs`` member, a table with a column ``crs`` and text with ``SRID=`` are
    converted from the system they state. A line without a name takes the file's. Nothing but the
    file, and the parts of a shapefile beside it, is opened, whatever it points to.

    Parameters
    ----------
    path : Path
        GeoJSON, GPX, KML, KMZ, GeoPackage (.gpkg), shapefile (.shp, or zipped), table of points
        (CSV) or well-known text [-]
    line : str or int, optional
        Which line to take where there are several: its name, or its number from 1 [-]

    Returns
    -------
    route : Route
        The line, intake first, checked [deg]

    Raises
    ------
    RouteError
        If the file cannot be read, is of another format, holds no line, or several and ``line``
        names none of them, or a point of the line is not a place.
    """
    path = Path(path)
    head = read_head(path, remedy=REMEDY)
    kind = file_format(head, path.name)
    if kind == "geopackage":
        from routing.line.files.vector import route_from_geopackage

        return route_from_geopackage(path, name=path.stem, source=path.name, line=line)
    if kind == "shapefile":
        from routing.line.files.vector import route_from_shapefile, shapefile_parts

        parts = shapefile_parts(path)
        return route_from_shapefile(parts, name=path.stem, source=path.name, line=line)
    try:
        data = path.read_bytes()
    except OSError as error:
        raise _closed(path, error) from error
    if kind == "packed":
        return _from_packed(data, path.stem, path.name, line)
    return _from_bytes(kind, data, path.stem, path.name, line)


def read_routes(path: Path) -> tuple[Route, ...]:
    """Return every line that a file holds, in its order; as :func:`read_route` otherwise."""
    try:
        return (read_route(path),)
    except RouteError as error:
        if not error.lines:
            raise
        count = len(error.lines)
    if count > MOST_LINES:
        raise RouteError(
            f"{Path(path).name} holds {count} lines; {MOST_LINES} are studied side by side.",
            "Keep those to compare in a file of their own.",
        )
    return tuple(read_route(path, line=number) for number in range(1, count + 1))


def read_head(path: Path, *, remedy: str) -> bytes:
    """Return the first bytes of a file of a sound size."""
    try:
        if path.is_dir():
            raise RouteError(f"{path} is a folder, not a file.", remedy)
        if path.exists() and not path.is_file():
            raise RouteError(f"{path} is no ordinary file.", remedy)
        size = path.stat().st_size
        if size > MAX_BYTES:
            raise RouteError(
                f"{path.name} has {size / 1e6:.0f} MB, more than {MAX_BYTES / 1e6:.0f}.",
                "Keep the one line to study, in a file of its own.",
            )
        with path.open("rb") as file:
            return file.read(HEAD_BYTES)
    except OSError as error:
        raise _closed(path, error) from error


def _closed(path: Path, error: OSError) -> RouteError:
    """Return the error for a file that the system does not let us read."""
    return RouteError(
        f"The file {path} cannot be opened: {error.strerror or error}.",
        "Check the path and that the file may be read.",
    )


def _from_bytes(kind: Format, data: bytes, name: str, source: str, line: LineChoice) -> Route:
    """Return the one line of a file in memory that is neither packed nor a database."""
    if kind == "gpx":
        from routing.line.files.gpx import route_from_gpx

        return route_from_gpx(data, name=name, source=source, line=line)
    if kind == "kml":
        from routing.line.files.kml import route_from_kml

        return route_from_kml(data, name=name, source=source, line=line)
    if kind == "text":
        from routing.line.files.points import route_from_table
        from routing.line.files.table import decode_text
        from routing.line.files.wkt import looks_like_wkt, route_from_wkt

        text = decode_text(data, source=source)
        reader = route_from_wkt if looks_like_wkt(text) else route_from_table
        return reader(text, name=name, source=source, line=line)
    return route_from_geojson_bytes(data, name=name, source=source, line=line)


def _from_packed(data: bytes, name: str, source: str, line: LineChoice) -> Route:
    """Return the one line of the one route file in a zip or KMZ."""
    from routing.line.files.vector import (
        members_of_shapefile,
        route_from_geopackage,
        route_from_shapefile,
    )

    members = unpacked(data, source=source)
    shapefiles = members_of_shapefile(members)
    plain = [
        member
        for member in members
        if PurePosixPath(member).suffix.lower() not in (".shp", ".shx", ".dbf", ".prj", ".cpg")
    ]
    # A KMZ may hold further KML files; the main one comes first (or is called doc.kml).
    documents = [member for member in plain if member.lower().endswith(".kml")]
    if documents and len(documents) == len(plain):
        plain = [next((m for m in documents if m.lower() == "doc.kml"), documents[0])]
    else:
        plain = [member for member in plain if not member.lower().endswith((".txt", ".cpg"))]
    found = sorted([*shapefiles, *plain])
    if len(found) != 1:
        raise RouteError(_several(found, source), "Unpack it and give the file with the line.")
    if shapefiles:
        return route_from_shapefile(shapefiles[found[0]], name=name, source=source, line=line)
    content = members[found[0]]
    kind = file_format(content[:HEAD_BYTES], found[0])
    if kind in ("packed", "shapefile"):
        raise RouteError(f"{source} holds a packed file once more.", "Unpack it first.")
    if kind == "geopackage":
        with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
            inside = Path(folder) / "line.gpkg"
            inside.write_bytes(content)
            return route_from_geopackage(inside, name=name, source=source, line=line)
    return _from_bytes(kind, content, name, source, line)


def _several(found: list[str], source: str) -> str:
    """Return what is wrong with a packed file that holds not exactly one route file."""
    if not found:
        return f"{source} is a packed (zip) file and holds no route file."
    shown = ", ".join(member[:60] for member in found[:6])
    return f"{source} is a packed (zip) file and holds {len(found)} route files: {shown}."


MAGIC: Final[Mapping[bytes, Format]] = {
    b"SQLite format 3\x00": "geopackage",
    b"\x00\x00\x27\x0a": "shapefile",
    b"PK\x03\x04": "packed",
    b"PK\x05\x06": "packed",
}
NO_TEXT: Final = (b"\x89PNG", b"II*\x00", b"MM\x00*", b"%PDF", b"\xff\xd8\xff", b"\x1f\x8b")


def file_format(head: bytes, name: str, *, remedy: str = REMEDY) -> Format:
    """Tell the format from the first bytes; refuse any other, saying what it seems to be."""
    ending = PurePosixPath(name).suffix.lower()
    kind = next((kind for magic, kind in MAGIC.items() if head.startswith(magic)), None)
    # Application ids of the GeoPackage standard, 1.0 to 1.3; some writers leave it at zero.
    marked = head[68:72] in (b"GPKG", b"GP10", b"GP11")
    if kind == "geopackage" and not marked and ending != ".gpkg":
        raise RouteError(f"{name} is a database but no GeoPackage.", remedy)
    if kind == "shapefile" and ending != ".shp":
        raise RouteError(
            f"{name} is one file of a shapefile, but not the .shp.",
            "Give the .shp, with the .shx and .prj beside it.",
        )
    if kind is not None:
        return kind
    if not head.startswith(NO_TEXT):
        kind = _text_format(head, name, ending)
    if kind is None:
        raise RouteError(f"{name} is of no format that is known here.", remedy)
    return kind


def _text_format(head: bytes, name: str, ending: str) -> Format | None:
    """Tell the format of text, perhaps with a byte order mark, perhaps in two bytes per letter."""
    text = head.replace(b"\x00", b"").lstrip(b"\xef\xbb\xbf\xff\xfe \t\r\n").lower()
    if not text:
        raise RouteError(f"{name} is empty.", REMEDY)
    if text.startswith((b"{", b"[")):
        return "geojson"
    if text.startswith(b"<"):
        if b"<!doctype html" in text or b"<html" in text:
            raise RouteError(
                f"{name} is a web page, not a route file.",
                "Download the route itself; a page came instead, perhaps one that asks to log in.",
            )
        if b"<gpx" in text or (b"<kml" not in text and ending == ".gpx"):
            return "gpx"
        return "kml" if b"kml" in text or ending == ".kml" else None
    if text.startswith(b"version https://git-lfs"):
        raise RouteError(
            f"{name} is a pointer to a file that was not fetched.", "Fetch the file itself first."
        )
    marked = head.startswith((b"\xff\xfe", b"\xfe\xff"))
    return "text" if marked or b"\x00" not in head else None
