"""A hillside that falls evenly to the east: its levels are known everywhere."""

from __future__ import annotations

from pyproj import Transformer

__all__ = ["FALL", "ORIGIN", "ground_at", "place"]

ORIGIN = (500_000.0, 5_200_000.0)
FALL = 0.1
"""Fall towards the east [-]."""

TO_DEGREES = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)


def ground_at(x: float) -> float:
    """Level of the plane at x metres from the raster's western edge [m]."""
    return 400.0 - FALL * x


def place(x: float, y: float) -> tuple[float, float]:
    """Return longitude and latitude of a place counted from the raster's north-western corner."""
    lon, lat = TO_DEGREES.transform(ORIGIN[0] + x, ORIGIN[1] - y)
    return float(lon), float(lat)
