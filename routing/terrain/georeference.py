"""From longitude and latitude to places on a terrain's grid, and back.

Grid places are in *node coordinates*: (row, column) counted in cells from the centre of the first
cell, so that whole numbers are cell centres and the raster reaches half a cell beyond the outer
ones.
"""

from __future__ import annotations

import math
import re
import threading
from functools import lru_cache

import numpy as np
from numpy.typing import ArrayLike
from pyproj import CRS, Transformer
from pyproj.crs import CompoundCRS
from pyproj.exceptions import CRSError, ProjError

from routing.arrays import FloatArray
from routing.errors import MissingCrs, ProfileError
from routing.terrain.raster import Affine6
from routing.value import dataclass

__all__ = ["GridReference", "HorizontalSystem", "reference", "split_crs"]

WGS84 = "EPSG:4326"

MAX_TEXT = 100_000
"""Longest text of a coordinate system [-]."""

MOST_NAME = 120
"""Characters kept of a system's or a datum's name [-]."""

_POINTS_ELSEWHERE = re.compile(r"\binit\s*=|PROJ-based", re.I)
"""What a text of a system must not hold: an order to read a file."""

_SHORT_ORDERS = re.compile(r"grids\s*=|file\s*=|pipeline", re.I)
"""What a text that is not WKT must not hold either."""

MAX_KEPT = 16
"""Most coordinate operations one thread keeps; building one takes up to 40 ms."""

_kept = threading.local()  # PROJ objects must not be shared between threads


@dataclass(frozen=True, slots=True, kw_only=True)
class HorizontalSystem:
    """A raster's coordinate system, taken apart into what lies flat and what stands up.

    ``map_unit_m`` is the length of a unit of the map, None where coordinates are angles [m];
    ``turn`` a full turn in the unit of those angles, None on a map.
    """

    wkt: str
    name: str
    map_unit_m: float | None
    turn: float | None
    vertical_name: str | None
    vertical_datum: str | None
    vertical_metres: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class GridReference:
    """Both directions between WGS 84 and the node coordinates of one grid; for one thread.

    ``turn`` is a full turn in the raster's own angle unit, None on a projected one; ``accuracy_m``
    is what is stated of the tie between its datum and WGS 84, None if nothing is.
    """

    transformer: Transformer
    affine: Affine6
    turn: float | None
    x_middle: float
    accuracy_m: float | None

    def to_nodes(self, lon: ArrayLike, lat: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns of points of a line; longitudes may run past 180 degrees.

        On a raster in degrees the columns run on across the antimeridian, from the copy of the
        first point that lies nearest to the raster's middle.
        """
        lon, lat = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
        try:
            # A longitude in range keeps its value to the last bit.
            wrapped = np.where(np.abs(lon) <= 180.0, lon, (lon + 180.0) % 360.0 - 180.0)
            x, y = self.transformer.transform(wrapped, lat, errcheck=True)
        except ProjError as exc:
            raise _unplaceable(lon, lat, np.zeros(lon.shape, dtype=bool)) from exc
        x, y = np.atleast_1d(x), np.atleast_1d(y)
        good = np.isfinite(x) & np.isfinite(y)
        if not good.all():
            raise _unplaceable(lon, lat, good)
        if self.turn is not None and x.size:
            x = x - self.turn * np.round((x[0] - self.x_middle) / self.turn)
            x = x - self.turn * np.cumsum(np.round(np.diff(x, prepend=x[:1]) / self.turn))
        return self._from_map(x, y)

    def to_lonlat(self, row: ArrayLike, col: ArrayLike) -> tuple[FloatArray, FloatArray]:
        """Return longitudes (-180 to 180) and latitudes of node coordinates, inf where none [deg].

        Points of no place on Earth come back as infinity, so that callers can name them.
        """
        a, b, c, d, e, f = self.affine
        pixel_col, pixel_row = np.asarray(col) + 0.5, np.asarray(row) + 0.5
        x = c + a * pixel_col + b * pixel_row
        y = f + d * pixel_col + e * pixel_row
        if self.turn is not None:
            x = np.where(np.abs(x) <= 0.5 * self.turn, x, x - self.turn * np.round(x / self.turn))
        lon, lat = self.transformer.transform(x, y, direction="INVERSE")
        return np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)

    def _from_map(self, x: FloatArray, y: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns of map coordinates."""
        a, b, c, d, e, f = self.affine
        det = a * e - b * d
        dx, dy = x - c, y - f
        return (a * dy - d * dx) / det - 0.5, (e * dx - b * dy) / det - 0.5


def reference(crs_wkt: str, affine: Affine6, shape: tuple[int, int]) -> GridReference:
    """Return the reference of a grid, from this thread's store where it was built before."""
    store: dict[object, GridReference] = _kept.__dict__.setdefault("references", {})
    key = (crs_wkt, affine, shape)
    found = store.get(key)
    if found is None:
        found = _build(crs_wkt, affine, shape)
        if len(store) >= MAX_KEPT:
            store.clear()
        store[key] = found
    return found


@lru_cache(maxsize=64)
def split_crs(text: str, *, named: str) -> HorizontalSystem:
    """Return the horizontal part of a coordinate system and what its vertical part states.

    ``named`` says where the text came from, for the error when it is no system of the Earth.
    """
    remedy = 'Set crs under [terrain], for example crs = "EPSG:32633".'
    orders = _POINTS_ELSEWHERE.search(text) or ("[" not in text and _SHORT_ORDERS.search(text))
    if orders or len(text) > MAX_TEXT:
        raise MissingCrs(
            f"The coordinate system of {named}, {text[:80]!r}, points to a file or is endless.",
            remedy,
        )
    try:
        crs = CRS.from_user_input(text)
    except (CRSError, UnicodeError) as exc:
        raise MissingCrs(
            f"The coordinate system of {named}, {text[:80]!r}, is not understood.", remedy
        ) from exc
    crs = _without_grids(crs)
    flat, upright = crs, None
    if crs.is_compound:
        flat = _without_grids(crs.sub_crs_list[0])
        upright = next((part for part in crs.sub_crs_list[1:] if part.is_vertical), None)
    vertical_name = vertical_datum = upright.name[:MOST_NAME] if upright is not None else None
    if upright is not None and upright.datum is not None:
        vertical_datum = upright.datum.name[:MOST_NAME]
    axes = upright.axis_info if upright is not None else flat.axis_info[2:]
    if upright is None and axes:
        vertical_name = vertical_datum = f"height above the ellipsoid of {flat.name[:MOST_NAME]}"
        flat = flat.to_2d()
    wkt = flat.to_wkt()
    if not (flat.is_geographic or flat.is_projected) or "PARAMETERFILE" in wkt:
        raise MissingCrs(
            f"The coordinate system of {named}, {flat.name[:MOST_NAME]!r}, is not tied to "
            "the Earth.",
            remedy,
        )
    authority = flat.to_authority(min_confidence=70)
    return HorizontalSystem(
        wkt=wkt,
        name=":".join(authority) if authority else flat.name[:MOST_NAME],
        map_unit_m=flat.axis_info[0].unit_conversion_factor if flat.is_projected else None,
        turn=None if flat.is_projected else _turn(flat),
        vertical_name=vertical_name,
        vertical_datum=vertical_datum,
        vertical_metres=axes[0].unit_conversion_factor if axes else None,
    )


def _turn(crs: CRS) -> float:
    """Return a full turn in the angle unit of a geographic system."""
    return 2.0 * math.pi / float(crs.axis_info[0].unit_conversion_factor)


def _without_grids(crs: CRS) -> CRS:
    """Return a system without a tie to WGS 84 that names a file of shifts.

    Such a name comes with the raster and could be any file. A tie by numbers stays.
    """
    parts = crs.sub_crs_list if crs.is_compound else []
    if crs.is_bound:
        operation = crs.coordinate_operation
        if operation is None or operation.grids or "grid" in operation.method_name.lower():
            return _without_grids(CRS(crs.source_crs))
    elif any(part.is_bound for part in parts[1:]):
        return _joined(parts)
    return crs


def _joined(parts: list[CRS]) -> CRS:
    """Return the compound of systems, the upright ones without their ties."""
    upright = [part.source_crs if part.is_bound else part for part in parts[1:]]
    return CompoundCRS(name=parts[0].name, components=[_without_grids(parts[0]), *upright])


def _build(crs_wkt: str, affine: Affine6, shape: tuple[int, int]) -> GridReference:
    """Return a grid's reference.

    PROJ may know several operations between two datums. The one it prefers at the grid's middle
    serves the whole grid and both directions, so that no seam runs through a line.
    """
    crs = CRS.from_wkt(crs_wkt)
    transformer = Transformer.from_crs(WGS84, crs, always_xy=True)
    a, b, c, d, e, f = affine
    rows, cols = shape
    x = c + a * cols / 2 + b * rows / 2
    y = f + d * cols / 2 + e * rows / 2
    turn = _turn(crs) if crs.is_geographic else None
    reduced = x - turn * round(x / turn) if turn is not None else x
    lon, lat = transformer.transform(reduced, y, direction="INVERSE")
    if not (np.isfinite(lon) and np.isfinite(lat)):
        raise MissingCrs(
            f"The middle of the raster, x = {x:.10g}, y = {y:.10g}, is no place in "
            f"{crs.name[:MOST_NAME]}.",
            "The raster's coordinate system or its georeference is wrong; set crs under [terrain].",
        )
    accuracy: float | None = transformer.accuracy
    transformer.transform(lon, lat)
    try:
        operation = transformer.get_last_used_operation()
    except ProjError:  # one datum: nothing to choose from
        accuracy = 0.0
    else:
        transformer, accuracy = operation, operation.accuracy
    return GridReference(
        transformer=transformer,
        affine=affine,
        turn=turn,
        x_middle=x,
        accuracy_m=accuracy if accuracy is not None and accuracy >= 0.0 else None,
    )


def _unplaceable(lon: FloatArray, lat: FloatArray, good: np.ndarray) -> ProfileError:
    """Return the error for a point of the line that the raster's coordinate system cannot hold."""
    at = int(np.argmin(good)) if good.size else 0
    at_lon, at_lat = float(np.ravel(lon)[at]), float(np.ravel(lat)[at])
    return ProfileError(
        f"Point {at + 1} of the line, longitude {at_lon:.7f}, latitude {at_lat:.7f}, has no place "
        "in the raster's coordinate system.",
        "Check that the line and the raster belong together.",
        lon=at_lon,
        lat=at_lat,
    )
