"""A route from KML: one placemark with a line or a recorded track."""

from __future__ import annotations

import re
from array import array
from collections import Counter
from collections.abc import Iterable, Sequence
from typing import Final
from xml.etree.ElementTree import Element

import numpy as np

from routing.arrays import FloatArray
from routing.errors import RouteError
from routing.line.files.drawn import MAX_POINTS, DrawnLine, LineChoice, route_from_drawn
from routing.line.files.markup import children, local_name, parse_markup, text_of
from routing.line.route import Route

__all__ = ["coordinate_tuples", "route_from_kml"]

OTHER_GEOMETRIES: Final = frozenset({"Point", "Polygon", "LinearRing", "Model"})
_WORD: Final = re.compile(r"\S+")


def route_from_kml(data: bytes, *, name: str, source: str, line: LineChoice = None) -> Route:
    """Return the one line of KML text; it must stand in one placemark. Links are never followed."""
    tree = parse_markup(data, source=source, root="kml")
    lines: list[DrawnLine] = []
    others: Counter[str] = Counter()
    for item in tree:
        if local_name(item) == "NetworkLink":
            others["NetworkLink (a link to another file, which is not followed)"] += 1
    for placemark in children(tree, "Placemark"):
        parts: list[FloatArray] = []
        recorded = True
        for item in placemark.iter():
            kind = local_name(item)
            if kind == "LineString":
                parts.append(coordinate_tuples(text_of(item, "coordinates"), source))
                recorded = False
            elif kind == "Track":
                parts.append(_track(item, source))
            elif kind in OTHER_GEOMETRIES:
                others[kind] += 1
        if parts:
            called = text_of(placemark, "name")
            lines.append(DrawnLine(name=called, parts=tuple(parts), recorded=recorded))
    return route_from_drawn(lines, source=source, name=name, others=others, line=line)


def coordinate_tuples(text: str | None, source: str) -> FloatArray:
    """Return the positions of a ``coordinates`` element: lon,lat[,height] parted by spaces."""
    return _array((item.group().split(",") for item in _WORD.finditer(text or "")), source)


def _track(track: Element, source: str) -> FloatArray:
    """Return the positions of a track: one ``coord`` element "lon lat height" each."""
    return _array(((coord.text or "").split() for coord in children(track, "coord")), source)


def _array(positions: Iterable[Sequence[str]], source: str) -> FloatArray:
    """Return positions in text as (n, 2) lon, lat."""
    points = array("d")
    for at, position in enumerate(positions):
        if at >= MAX_POINTS:
            raise RouteError(
                f"The line in {source} has more than {MAX_POINTS} points.", "Simplify it."
            )
        try:
            points.extend((float(position[0]), float(position[1])))
        except (IndexError, ValueError) as error:
            raise RouteError(
                f"Position {at + 1} of the line in {source} is {','.join(position)[:60]!r}.",
                "Every position needs longitude,latitude in decimal degrees and no space inside.",
            ) from error
    return np.array(points, dtype=np.float64).reshape(-1, 2)
