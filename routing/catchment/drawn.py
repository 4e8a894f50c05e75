"""Streams as lines of a map file."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.catchment.streams import StreamLine, StreamNetwork, stream_lines
from routing.errors import ProfileError

__all__ = ["streams_geojson"]

DIGITS = 7
"""Decimals of a degree: a centimetre [-]."""

EDGE = 9
"""Places along each side of a box that is asked for [-]."""


def streams_geojson(
    network: StreamNetwork,
    *,
    threshold_m2: float | None = None,
    box_deg: tuple[float, float, float, float] | None = None,
    most_points: int | None = None,
) -> dict[str, Any]:
    """Return the streams as a GeoJSON feature collection (RFC 7946), downstream.

    Parameters
    ----------
    network : StreamNetwork
        Cells of the streams
    threshold_m2 : float, optional
        Only streams of this area or more [m2]
    box_deg : tuple of 4 float, optional
        West, south, east, north: only streams that come about there [deg]
    most_points : int, optional
        The greatest streams are kept up to so many points, with ``truncated`` set [-]

    Returns
    -------
    dict
        Lines through the cells' centres, each with ``area_m2`` at its lower end, ``at_least`` and
        ``order``; members ``threshold_m2`` and ``truncated``
    """
    box = None if box_deg is None else _cells_of(network, box_deg)
    lines = stream_lines(network, threshold_m2=threshold_m2, box=box)
    kept, truncated = lines, False
    if most_points is not None and sum(line.index.size for line in lines) > most_points:
        kept, truncated = _greatest(lines, most_points), True
    return {
        "type": "FeatureCollection",
        "threshold_m2": max(threshold_m2 or 0.0, network.threshold_m2),
        "truncated": truncated,
        "features": _features(network, kept),
    }


def _greatest(lines: list[StreamLine], most_points: int) -> list[StreamLine]:
    order = sorted(range(len(lines)), key=lambda i: -lines[i].area_m2)
    points = np.cumsum([lines[i].index.size for i in order])
    return [lines[i] for i in sorted(order[: int(np.searchsorted(points, most_points, "right"))])]


def _features(network: StreamNetwork, lines: list[StreamLine]) -> list[dict[str, Any]]:
    if not lines:
        return []
    index = np.concatenate([line.index for line in lines])
    lon, lat = network.drainage.terrain.reference.to_lonlat(*network.places(index))
    places = np.round(np.stack((lon, lat), axis=1), DIGITS)
    cuts = np.cumsum([line.index.size for line in lines])[:-1]
    return [
        {
            "type": "Feature",
            "geometry": {"type": "LineString", "coordinates": part.tolist()},
            "properties": {
                "area_m2": round(line.area_m2, 1),
                "at_least": line.at_least,
                "order": line.order,
            },
        }
        for line, part in zip(lines, np.split(places, cuts), strict=True)
    ]


def _cells_of(
    network: StreamNetwork, box_deg: tuple[float, float, float, float]
) -> tuple[int, int, int, int] | None:
    """Return the rows and columns about a box, None where the raster's system cannot place it."""
    west, south, east, north = box_deg
    lon, lat = np.meshgrid(np.linspace(west, east, EDGE), np.linspace(south, north, EDGE))
    try:
        row, col = network.drainage.terrain.reference.to_nodes(lon.ravel(), lat.ravel())
    except ProfileError:
        return None
    rows, cols = network.drainage.shape
    pad = 2.0 + 0.05 * max(float(np.ptp(row)), float(np.ptp(col)))
    low = np.clip([row.min() - pad, col.min() - pad], 0, [rows, cols])
    high = np.clip([row.max() + pad, col.max() + pad], 0, [rows, cols])
    return int(low[0]), int(high[0]), int(low[1]), int(high[1])
