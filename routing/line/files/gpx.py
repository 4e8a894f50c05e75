"""A route from GPX: one route, or one track with its segments joined in order."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from xml.etree.ElementTree import Element

import numpy as np

from routing.arrays import FloatArray
from routing.errors import RouteError
from routing.line.files.drawn import DrawnLine, LineChoice, route_from_drawn
from routing.line.files.markup import children, parse_markup, text_of
from routing.line.route import Route

__all__ = ["route_from_gpx"]


def route_from_gpx(data: bytes, *, name: str, source: str, line: LineChoice = None) -> Route:
    """Return the one route or track of GPX text; waypoints are left aside."""
    tree = parse_markup(data, source=source, root="gpx")
    lines = [
        DrawnLine(name=text_of(route, "name"), parts=(_points(children(route, "rtept"), source),))
        for route in children(tree, "rte")
    ]
    for track in children(tree, "trk"):
        segments = children(track, "trkseg")
        parts = tuple(_points(children(segment, "trkpt"), source) for segment in segments)
        lines.append(DrawnLine(name=text_of(track, "name"), parts=parts, recorded=True))
    waypoints = sum(1 for _ in children(tree, "wpt"))
    return route_from_drawn(
        lines,
        source=source,
        name=name,
        others=Counter({"waypoints": waypoints} if waypoints else {}),
        line=line,
    )


def _points(elements: Iterable[Element], source: str) -> FloatArray:
    """Return the positions of points as (n, 2) lon, lat."""
    points = []
    for at, element in enumerate(elements):
        lon, lat = element.get("lon"), element.get("lat")
        try:
            points.append((float(lon or ""), float(lat or "")))
        except ValueError as error:
            raise RouteError(
                f"Point {at + 1} of the line in {source} has lon={lon!r} and lat={lat!r}.",
                "Every point needs both as decimal degrees.",
            ) from error
    return np.array(points, dtype=np.float64).reshape(-1, 2)
