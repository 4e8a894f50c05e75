"""A route from a GeoPackage or a shapefile, in whatever coordinate system it states."""

from __future__ import annotations

import tempfile
from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any, Final

from routing.errors import RouteError
from routing.line.files.datum import to_wgs84
from routing.line.files.drawn import DrawnLine, LineChoice, route_from_drawn
from routing.line.files.geopackage import package_rows
from routing.line.files.unpack import MAX_BYTES
from routing.line.files.wkb import BrokenGeometry, geometry_of
from routing.line.route import Route

__all__ = [
    "members_of_shapefile",
    "route_from_geopackage",
    "route_from_shapefile",
    "shapefile_parts",
    "shapefile_rows",
]

PARTS: Final = (".shp", ".shx", ".dbf", ".prj", ".cpg")
LINE_KINDS: Final = frozenset({"LineString", "MultiLineString", "GeometryCollection"})


def route_from_geopackage(path: Path, *, name: str, source: str, line: LineChoice = None) -> Route:
    """Return the one line among all layers of a GeoPackage."""
    collected = _Collected(source=source)
    for row in package_rows(path, source=source):
        collected.add(row.wkb, row.crs, _name(row.properties))
    return collected.route(name, line)


def shapefile_parts(path: Path) -> Mapping[str, bytes]:
    """Return the bytes of a shapefile's parts by their ending; ``path`` is the .shp."""
    parts = {}
    for ending in PARTS:
        for spelling in (ending, ending.upper()):
            part = path.with_suffix(spelling)
            if part.is_file() and part.stat().st_size <= MAX_BYTES:
                parts[ending] = part.read_bytes()
                break
    return parts


def route_from_shapefile(
    parts: Mapping[str, bytes], *, name: str, source: str, line: LineChoice = None
) -> Route:
    """Return the one line of a shapefile, given its parts by their ending."""
    collected = _Collected(source=source)
    for wkb, crs, properties in shapefile_rows(parts, source=source):
        collected.add(wkb, crs, _name(properties))
    return collected.route(name, line)


def shapefile_rows(
    parts: Mapping[str, bytes], *, source: str
) -> list[tuple[bytes, str | None, dict[str, Any]]]:
    """Return geometry, system and other columns of each row of a shapefile, given its parts.

    They are laid under names of our own in a folder of their own, so that nothing else is found
    beside them whatever they say.
    """
    import pyogrio.raw
    from pyogrio.errors import DataLayerError, DataSourceError

    with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
        for ending, content in parts.items():
            (Path(folder) / f"line{ending}").write_bytes(content)
        try:
            meta, _, geometries, columns = pyogrio.raw.read(
                Path(folder) / "line.shp", force_2d=True
            )
        except (DataSourceError, DataLayerError, UnicodeDecodeError, MemoryError) as error:
            why = str(error).replace(folder + "/", "").replace("line.", f"{Path(source).stem}.")
            raise _broken(source, f"{why}; a shapefile needs its .shx beside it") from error
    fields = [str(field) for field in meta["fields"]]
    return [
        (wkb or b"", meta["crs"], dict(zip(fields, (c[at] for c in columns), strict=True)))
        for at, wkb in enumerate(geometries)
    ]


def members_of_shapefile(members: Mapping[str, bytes]) -> dict[str, dict[str, bytes]]:
    """Return the shapefiles among members of a packed file: their parts, by name without ending."""
    found: dict[str, dict[str, bytes]] = {}
    for member in members:
        path = PurePosixPath(member)
        if path.suffix.lower() == ".shp":
            found[str(path.with_suffix(""))] = {}
    for member, content in members.items():
        path = PurePosixPath(member)
        stem = str(path.with_suffix(""))
        if stem in found and path.suffix.lower() in PARTS:
            found[stem][path.suffix.lower()] = content
    return found


@dataclass(slots=True, kw_only=True)
class _Collected:
    """The lines of a vector file so far, in WGS 84, and a count of all else."""

    source: str
    lines: list[DrawnLine] = field(default_factory=list)
    others: Counter[str] = field(default_factory=Counter)

    def add(self, wkb: bytes, crs: str | None, name: str | None) -> None:
        """Take one geometry in; WGS 84 is assumed where no system is stated."""
        try:
            kind, pieces = geometry_of(wkb)
        except BrokenGeometry as error:
            raise _broken(self.source, f"a geometry is not sound: {error}") from error
        pieces = [piece[:, :2] for piece in pieces if len(piece)]
        if kind in LINE_KINDS and pieces:
            if crs is not None:
                pieces = [to_wgs84(piece, crs, source=self.source) for piece in pieces]
            self.lines.append(DrawnLine(name=name, parts=tuple(pieces)))
        elif kind != "empty" and kind not in LINE_KINDS:
            self.others[kind] += 1

    def route(self, name: str, line: LineChoice) -> Route:
        """Return the one line, or the one chosen."""
        return route_from_drawn(
            self.lines, source=self.source, name=name, others=self.others, line=line
        )


def _broken(source: str, why: str) -> RouteError:
    """Return the error for a file that cannot be read."""
    return RouteError(
        f"{source} cannot be read: {why}.", "Save the line again, as a GeoPackage or as GeoJSON."
    )


def _name(properties: Mapping[str, Any]) -> str | None:
    """Return the value of a property called name, in any case, if it is text."""
    for key, value in properties.items():
        if key.lower() == "name":
            return value if isinstance(value, str) else None
    return None
