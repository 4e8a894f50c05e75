"""Where a line crosses itself: allowed, but worth a note."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from routing.arrays import FloatArray
from routing.finding import Finding
from routing.line.ground.profile import GroundProfile

__all__ = ["crossing_findings"]

FEW: Final = 400
"""Points up to which all pairs of legs are compared at once [-]."""

NAMED_AT_MOST: Final = 5

LEGS_AT_ONCE: Final = 64
MOST_PAIRS: Final = 2000
"""Pairs of crossing legs after which the search stops [-]: a tangle is a tangle."""


def crossing_findings(profile: GroundProfile) -> tuple[Finding, ...]:
    """Return a note that names where the drawn line crosses or touches itself, if it does."""
    lon, lat, station = profile.vertex_lon, profile.vertex_lat, profile.vertex_station_m
    turns = np.concatenate([[0.0], np.cumsum(np.round(np.diff(lon) / 360.0))])
    x = (lon - 360.0 * turns - lon[0]) * np.cos(np.radians(lat.mean()))
    y = lat - lat[0]
    pairs = _all_pairs(x.size - 1) if x.size <= FEW else _near_pairs(x, y)
    places = _crossings(x, y, station, *pairs)
    if not places:
        return ()
    named = " and ".join(
        ", ".join(f"{value:.1f} m" for value in place) for place in places[:NAMED_AT_MOST]
    )
    more = f" and {len(places) - NAMED_AT_MOST} more" if len(places) > NAMED_AT_MOST else ""
    times = "once" if len(places) == 1 else f"{len(places)} times"
    if x.size > FEW and len(places) >= MOST_PAIRS:
        times = f"more than {MOST_PAIRS} times"
    return (
        Finding(
            code="line_crosses_itself",
            severity="note",
            message=f"The line crosses itself {times}, at stations {named}{more}. That may be "
            "meant; if not, redraw it there.",
            station_m=places[0][0],
        ),
    )


def _all_pairs(legs: int) -> tuple[Any, Any]:
    """Return every pair of legs that are not neighbours."""
    return np.triu_indices(legs, k=2)


def _near_pairs(x: FloatArray, y: FloatArray) -> tuple[Any, Any]:
    """Return the pairs of legs whose boxes meet, without neighbours; empty for a simple line."""
    import shapely

    points = np.column_stack([x, y])
    if shapely.is_simple(shapely.linestrings(points)):
        return np.empty(0, dtype=np.int64), np.empty(0, dtype=np.int64)
    legs = shapely.linestrings(np.stack([points[:-1], points[1:]], axis=1))
    tree = shapely.STRtree(legs)
    found: list[Any] = []
    pairs = 0
    for begin in range(0, legs.size, LEGS_AT_ONCE):
        first, second = tree.query(legs[begin : begin + LEGS_AT_ONCE], predicate="intersects")
        first = first + begin
        apart = second - first >= 2
        found.append(np.stack([first[apart], second[apart]]))
        pairs += int(apart.sum())
        if pairs >= MOST_PAIRS:
            break
    first, second = np.concatenate(found, axis=1)
    return first, second


def _crossings(
    x: FloatArray, y: FloatArray, station: FloatArray, first: Any, second: Any
) -> list[tuple[float, float]]:
    """Return the two stations of every crossing of the given legs, by the earlier one."""
    dx, dy = np.diff(x), np.diff(y)
    cross = dx[first] * dy[second] - dy[first] * dx[second]
    apart_x, apart_y = x[second] - x[first], y[second] - y[first]
    with np.errstate(divide="ignore", invalid="ignore"):
        on_first = (apart_x * dy[second] - apart_y * dx[second]) / cross
        on_second = (apart_x * dy[first] - apart_y * dx[first]) / cross
        inside = (on_first >= 0) & (on_first < 1) & (on_second >= 0) & (on_second < 1)
    hit = np.flatnonzero(inside & (cross != 0.0))
    length = np.diff(station)
    a, b = first[hit], second[hit]
    earlier = station[a] + on_first[hit] * length[a]
    later = station[b] + on_second[hit] * length[b]
    order = np.argsort(earlier, kind="stable")
    return [(float(earlier[at]), float(later[at])) for at in order]
