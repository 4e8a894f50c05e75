"""Well-known binary: the parts of lines and the kinds of all else, without recursion.

A geometry library reads nested collections by calling itself, and a hostile file can nest them
deep enough to break the process; here a collection in a collection is refused.
"""

from __future__ import annotations

import struct
from typing import Final

import numpy as np

from routing.arrays import FloatArray

__all__ = ["BrokenGeometry", "areas_of", "geometry_of", "geopackage_geometry"]

KINDS: Final = {
    1: "Point",
    2: "LineString",
    3: "Polygon",
    4: "MultiPoint",
    5: "MultiLineString",
    6: "MultiPolygon",
    7: "GeometryCollection",
}
LINE: Final = 2
HOLDERS: Final = frozenset({5, 7})
ENVELOPE_BYTES: Final = (0, 32, 48, 48, 64)


class BrokenGeometry(ValueError):
    """The bytes are no sound geometry."""


def geopackage_geometry(blob: bytes) -> bytes:
    """Return the well-known binary inside a GeoPackage's geometry; empty where it says so.

    Source: OGC 12-128r19, GeoPackage 1.3.1, clause 2.1.3 (from memory of the publication).
    """
    if len(blob) < 8 or blob[:2] != b"GP":
        raise BrokenGeometry("it does not begin as one")
    flags = blob[3]
    envelope = (flags >> 1) & 0b111
    if envelope >= len(ENVELOPE_BYTES) or flags & 0b100000:
        raise BrokenGeometry("its header is of an unknown form")
    if flags & 0b10000:
        return b""
    return blob[8 + ENVELOPE_BYTES[envelope] :]


def geometry_of(wkb: bytes) -> tuple[str, list[FloatArray]]:
    """Return a geometry's kind and the (n, 2) positions of its points or lines.

    Point, LineString, MultiPoint, MultiLineString and a flat GeometryCollection give positions;
    polygons give their kind only. Heights follow as a third column where there are any.
    """
    if not wkb:
        return "empty", []
    reader = _Reader(wkb)
    kind, dimensions = reader.head()
    if kind == 1:
        return "Point", [reader.positions(1, dimensions)]
    if kind == LINE:
        return "LineString", [reader.positions(reader.count(), dimensions)]
    if kind not in HOLDERS and kind != 4:
        return KINDS[kind], []
    parts = []
    for _ in range(reader.count()):
        inner, dimensions = reader.head()
        if inner == LINE:
            parts.append(reader.positions(reader.count(), dimensions))
        elif inner == 1:
            point = reader.positions(1, dimensions)
            if kind == 4:
                parts.append(point)
        else:
            raise BrokenGeometry(f"a {KINDS[kind]} holds a {KINDS[inner]}")
    return KINDS[kind], parts


def areas_of(wkb: bytes) -> list[list[FloatArray]]:
    """Return the polygons of a Polygon or MultiPolygon, each as its rings, (n, 2) or (n, 3)."""
    reader = _Reader(wkb)
    kind, dimensions = reader.head()
    if kind == 3:
        return [reader.rings(dimensions)]
    if kind != 6:
        raise BrokenGeometry(f"a {KINDS[kind]} is no area")
    polygons = []
    for _ in range(reader.count()):
        inner, dimensions = reader.head()
        if inner != 3:
            raise BrokenGeometry(f"a MultiPolygon holds a {KINDS[inner]}")
        polygons.append(reader.rings(dimensions))
    return polygons


class _Reader:
    """Where a reading of well-known binary stands."""

    def __init__(self, data: bytes) -> None:
        self.data = data
        self.at = 0
        self.order = "<"

    def head(self) -> tuple[int, int]:
        """Read byte order and kind; return the kind and how many numbers a position has."""
        if self.at >= len(self.data):
            raise BrokenGeometry("it is cut short")
        self.order = "<" if self.data[self.at] == 1 else ">"
        self.at += 1
        code = self.count()
        # Heights and measures: 1000 and 2000 more (OGC), or the highest bits (PostGIS).
        flags = code >> 28
        has_z, has_m = bool(flags & 0b1000), bool(flags & 0b0100)
        if flags & 0b0010:
            self.count()  # the number of its coordinate system
        code &= 0x0FFFFFFF
        hundreds, kind = divmod(code, 1000)
        if kind not in KINDS or hundreds > 3:
            raise BrokenGeometry(f"it is of the unknown kind {code}")
        return kind, 2 + (has_z or hundreds in (1, 3)) + (has_m or hundreds in (2, 3))

    def count(self) -> int:
        """Read a whole number."""
        try:
            (number,) = struct.unpack_from(f"{self.order}I", self.data, self.at)
        except struct.error as error:
            raise BrokenGeometry("it is cut short") from error
        self.at += 4
        return int(number)

    def rings(self, dimensions: int) -> list[FloatArray]:
        """Read the rings of a polygon; each takes at least the bytes of its own number."""
        count = self.count()
        if 4 * count > len(self.data) - self.at:
            raise BrokenGeometry("it is cut short")
        return [self.positions(self.count(), dimensions) for _ in range(count)]

    def positions(self, count: int, dimensions: int) -> FloatArray:
        """Read ``count`` positions; the claim is held against the bytes that are there."""
        end = self.at + 8 * dimensions * count
        if end > len(self.data):
            raise BrokenGeometry("it is cut short")
        numbers = np.frombuffer(self.data[self.at : end], dtype=f"{self.order}f8")
        self.at = end
        table = numbers.astype(np.float64).reshape(count, dimensions)
        return table[:, :3]
