"""Formats that can point to other files: looked through before the raster library opens them."""

from __future__ import annotations

import re
import struct
from pathlib import Path
from typing import IO
from urllib.parse import quote

from routing.errors import UnreadableRaster
from routing.terrain.sources import in_short, open_bytes, shown

__all__ = ["check_geopackage", "check_imagine"]

MOST_NODES = 100_000
"""Most entries of an Imagine file's tree that are followed [-]."""

MOST_NAMES_BYTES = 2**20

_WAL = 2
"""File format number of a database that keeps its newest pages in a second file."""

_RTREE = re.compile(r"create virtual table \"?\w+\"? using rtree ?\(")

_OUTSIDE = frozenset({"ExternalRasterDMS", "DependentFile"})
"""Entries that hold the cells, or more of them, in a second file."""


def check_imagine(path: Path) -> None:
    """Refuse an Imagine file that keeps cells or overviews in other files."""
    with open_bytes(path) as file:
        try:
            reason = _elsewhere(file, path.name)
        except (struct.error, OSError, ValueError) as exc:
            raise UnreadableRaster(
                f"The raster {shown(path)} is a damaged ERDAS Imagine file.",
                "Copy or download it again.",
            ) from exc
    if reason is not None:
        raise UnreadableRaster(
            f"The raster {shown(path)} keeps {reason}, which is never followed.",
            "Convert it to one GeoTIFF, for example with gdal_translate.",
        )


def _elsewhere(file: IO[bytes], own: str) -> str | None:
    """Return what an Imagine file keeps in other files, None when it is whole."""
    file.seek(16)
    (header,) = struct.unpack("<I", file.read(4))
    file.seek(header + 8)
    (root,) = struct.unpack("<I", file.read(4))
    waiting, seen = [root], set()
    while waiting:
        at = waiting.pop()
        if at == 0 or at in seen:
            continue
        seen.add(at)
        if len(seen) > MOST_NODES:
            raise ValueError("too many entries")
        file.seek(at)
        entry = file.read(88)
        following, _, _, child, data, size = struct.unpack("<6I", entry[:24])
        name = entry[24:88].split(b"\0")[0].decode("latin-1")
        if name in _OUTSIDE:
            return "its cells in a second file"
        if name == "RRDNamesList":
            file.seek(data)
            text = file.read(min(size, MOST_NAMES_BYTES)).decode("latin-1")
            for other in re.findall(r"([\x20-\x7e\x80-\xff]+)\(:", text):
                if other != own:
                    return f"its overviews in {other!r}"
        waiting += [following, child]
    return None


def check_geopackage(path: Path, head: bytes) -> None:
    """Refuse a database that is no GeoPackage of plain tables, whole in its one file."""
    if str(path).startswith("/vsizip/"):
        raise UnreadableRaster(
            f"The raster {shown(path)} is a GeoPackage inside an archive.", "Unpack it."
        )
    remedy = "Convert it to GeoTIFF, for example with gdal_translate."
    if head[68:72] not in (b"GPKG", b"GP10", b"GP11") or len(head) < 100:
        raise UnreadableRaster(f"The raster {path} is a database, but no GeoPackage.", remedy)
    if _WAL in (head[18], head[19]):
        raise UnreadableRaster(
            f"The GeoPackage {path} may keep its newest pages in a second file.",
            "Open and save it once in your GIS, or convert it to GeoTIFF.",
        )
    import sqlite3  # few rasters are databases

    address = f"file:{quote(str(path.absolute()))}?mode=ro&immutable=1"
    try:
        connection = sqlite3.connect(address, uri=True)
        try:
            made = connection.execute("SELECT name, type, sql FROM sqlite_master").fetchall()
            tables = connection.execute(
                "SELECT table_name FROM gpkg_contents WHERE data_type LIKE '%gridded-coverage'"
            ).fetchall()
        finally:
            connection.close()
    except (sqlite3.Error, UnicodeDecodeError) as exc:
        raise UnreadableRaster(
            f"The GeoPackage {path} cannot be read: {in_short(exc)}.",
            "The file may be cut short or damaged; copy or download it again.",
        ) from exc
    for name, kind, text in made:
        spoken = " ".join(str(text).lower().split())
        if kind == "view" or ("virtual" in spoken and not _RTREE.match(spoken)):
            raise UnreadableRaster(
                f"The GeoPackage {path} computes its table {str(name)[:60]!r} instead of "
                "holding it, which is not followed.",
                remedy,
            )
    if len(tables) != 1:
        raise UnreadableRaster(
            f"The GeoPackage {path} holds {len(tables)} rasters of elevations.",
            "Give one that holds exactly one, or convert it to GeoTIFF.",
        )
