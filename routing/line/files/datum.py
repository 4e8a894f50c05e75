"""Coordinates of any system to WGS 84 longitude and latitude."""

from __future__ import annotations

import re
from typing import Final

import numpy as np
from pyproj import CRS, Transformer
from pyproj.exceptions import CRSError, ProjError

from routing.arrays import FloatArray
from routing.errors import RouteError

__all__ = ["to_wgs84"]

MAX_TEXT: Final = 20_000
"""Longest definition of a coordinate system that is looked at [letters]."""

_NAMES_A_FILE: Final = re.compile(
    r"grids\s*=(?!\s*@?null\b)|\binit\s*=|parameterfile", re.IGNORECASE
)
"""What makes the projection library open a file that the definition names."""


def to_wgs84(points: FloatArray, crs: str, *, source: str) -> FloatArray:
    """Return (n, 2) points of the coordinate system ``crs``, x before y, as lon, lat [deg].

    ``source`` names the file in messages. Heights play no part.
    """
    if len(crs) > MAX_TEXT or _NAMES_A_FILE.search(crs):
        raise RouteError(
            f"The coordinate system stated in {source} names files, or is far too long: "
            f"{crs[:80]!r}.",
            "Save the line in WGS 84 (EPSG:4326) and use that file.",
        )
    try:
        system = CRS.from_user_input(crs)
    except CRSError as error:
        raise RouteError(
            f"The coordinate system stated in {source} is not understood: {crs[:80]!r}.",
            "Save the line in WGS 84 (EPSG:4326) and use that file.",
        ) from error
    if system.is_geocentric or not (system.is_geographic or system.is_projected):
        raise RouteError(
            f"The coordinate system stated in {source}, {system.name}, is no map system.",
            "Save the line in WGS 84 (EPSG:4326) and use that file.",
        )
    if not np.isfinite(points).all():
        return points  # Route names the point that is not a place
    try:
        transformer = Transformer.from_crs(system.to_2d(), CRS.from_epsg(4326), always_xy=True)
        lon, lat = transformer.transform(points[:, 0], points[:, 1], errcheck=True)
        converted = np.column_stack([lon, lat])
        if not np.isfinite(converted).all():
            raise ProjError("some points have no longitude and latitude")
    except ProjError as error:
        raise RouteError(
            f"The points in {source} cannot be converted from {system.name} to WGS 84: {error}.",
            "Check that the file states the system its numbers are in.",
        ) from error
    return converted
