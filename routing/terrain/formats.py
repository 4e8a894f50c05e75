"""Which raster formats are read, told from the first bytes of a file and never from its name.

GDAL would otherwise choose a driver by content, and some drivers follow references to other files;
a driver fixed in advance reads the one file it was given and nothing else. One format has no first
bytes to tell it by: SRTM tiles are bare numbers, known by their exact size and the corner in their
name.
"""

from __future__ import annotations

import re
from pathlib import Path

from routing.errors import NotElevation, UnreadableRaster
from routing.terrain.containers import check_geopackage, check_imagine
from routing.terrain.sources import head_of, shown, size_of

__all__ = ["FORMAT_NAMES", "GDAL_OPTIONS", "OPEN_OPTIONS", "SAYS_UNIT", "sniff_driver"]

GDAL_OPTIONS: dict[str, str | int] = {
    "GDAL_DISABLE_READDIR_ON_OPEN": "EMPTY_DIR",
    "GDAL_PAM_ENABLED": "NO",
    "GDAL_CACHEMAX": 8,
    "GDAL_NUM_THREADS": 1,
    "GTIFF_REPORT_COMPD_CS": "YES",
    "CPL_VSIL_CURL_ALLOWED_EXTENSIONS": ".none",
    "OGR_SQLITE_LOAD_EXTENSIONS": "",
    "OGR_SQLITE_ALLOW_EXTERNAL_ACCESS": "NO",
}
"""No sidecars but those named here, a small block cache [MB], vertical systems as written."""

OPEN_OPTIONS: dict[str, dict[str, str]] = {
    "GTiff": {},
    "AAIGrid": {"DATATYPE": "Float64"},
    "USGSDEM": {},
    "SRTMHGT": {},
    "HFA": {},
    "GPKG": {"IMMUTABLE": "YES", "LIST_ALL_TABLES": "NO"},
}
"""Open options by driver; text is read as the numbers it states, not rounded to float32, and a
database without its journals."""

FORMAT_NAMES = {
    "GTiff": "GeoTIFF",
    "AAIGrid": "Esri ASCII grid",
    "USGSDEM": "USGS DEM",
    "SRTMHGT": "SRTM tile",
    "HFA": "ERDAS Imagine",
    "GPKG": "GeoPackage raster",
}

SAYS_UNIT = frozenset({"USGSDEM", "SRTMHGT"})
"""Drivers whose format itself states the unit of elevations."""

KNOWN = "GeoTIFF, Esri ASCII grid, USGS DEM, SRTM tile, ERDAS Imagine or GeoPackage raster"

_TIFF = (b"II*\0", b"MM\0*", b"II+\0", b"MM\0+")
_PICTURES = {
    b"\x89PNG": "PNG",
    b"\xff\xd8\xff": "JPEG",
    b"GIF8": "GIF",
    b"BM": "BMP",
    b"%PDF": "PDF",
}
_PACKED = {
    b"PK\x03\x04": "ZIP",
    b"\x1f\x8b": "gzip",
    b"7z\xbc\xaf": "7z",
    b"Rar!": "RAR",
    b"BZh": "bzip2",
}
_ASCII_GRID = re.compile(
    rb"\s*(ncols|nrows|xll(corner|center)|yll(corner|center)|cellsize)\s", re.I
)
_USGS_CODES = (b"     0", b"     1", b"     2", b"     3", b" -9999")
_SRTM_NAME = re.compile(r"[NS]\d\d[EW]\d\d\d.*\.hgt", re.I)
_SRTM_SIZES = frozenset(2 * rows * cols for rows, cols in ((1201, 1201), (3601, 3601)))


def sniff_driver(path: Path) -> str:
    """Return the GDAL driver that reads ``path``, one of ``FORMAT_NAMES``."""
    head = head_of(path)
    if head.startswith(_TIFF):
        return "GTiff"
    if _ASCII_GRID.match(head.removeprefix(b"\xef\xbb\xbf")):
        return "AAIGrid"
    if head[156:162] in _USGS_CODES and head[150:156] in (b"     1", b"     4"):
        return "USGSDEM"
    if head.startswith(b"EHFA_HEADER_TAG"):
        check_imagine(path)
        return "HFA"
    if head.startswith(b"SQLite format 3\0"):
        check_geopackage(path, head)
        return "GPKG"
    if _SRTM_NAME.fullmatch(path.name) and size_of(path) in _SRTM_SIZES:
        return "SRTMHGT"
    raise _refusal(path, head)


def _refusal(path: Path, head: bytes) -> NotElevation | UnreadableRaster:
    """Return the error that says what ``path`` is instead and what to give."""
    name = shown(path)
    start = head.lstrip(b"\xef\xbb\xbf \r\n\t").lower()
    for magic, what in _PICTURES.items():
        if head.startswith(magic):
            return NotElevation(
                f"The file {name} is a picture or a paper ({what}), not a grid of elevations.",
                f"Give the elevation raster itself, as {KNOWN}.",
            )
    for magic, what in _PACKED.items():
        if head.startswith(magic):
            return UnreadableRaster(
                f"The raster {name} is packed ({what}).", "Unpack it and give the raster inside."
            )
    if b"<VRTDataset" in head:
        problem = "is a VRT, a list of other files, which is never followed"
        remedy = "Give the tiles themselves, one --terrain for each."
    elif start.startswith((b"<!doctype html", b"<html", b"<head", b"<body")):
        problem = "is a web page, as portals send when a download needs a login or has moved"
        remedy = "Open it in a browser to read what the portal says, and download again."
    elif start.startswith(b"version https://git-lfs"):
        problem = "is a pointer of Git LFS, which stands for a large file that was not fetched"
        remedy = "Fetch the file itself, with git lfs pull."
    elif start.startswith((b"<?xml", b"{", b"<")):
        problem = "is text for a program (XML or JSON), not a grid of elevations"
        remedy = "Open it in an editor: it may be a portal's message, or only describe the raster."
    elif not head:
        problem, remedy = f"is empty, no {KNOWN}", "Copy or download it again."
    elif not head.strip(b"\0"):
        problem = f"begins with zeros only, no {KNOWN}: its download was cut off or set aside"
        remedy = "Copy or download it again."
    else:
        problem = f"is no {KNOWN}"
        remedy = "Convert it to GeoTIFF, for example with gdal_translate."
    return UnreadableRaster(f"The raster {name} {problem}.", remedy)
