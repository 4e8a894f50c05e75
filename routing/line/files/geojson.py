"""A route from GeoJSON: a bare geometry, a feature, or a collection that holds one line."""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any, Final

import numpy as np

from routing.arrays import FloatArray
from routing.errors import RouteError
from routing.line.files.drawn import DrawnLine, LineChoice, route_from_drawn
from routing.line.route import Route

__all__ = ["load_geojson", "route_from_geojson", "route_from_geojson_bytes", "stated_crs"]

MAX_BRACKETS: Final = 1_100_000
MAX_COMMAS: Final = 3_300_000
"""Most lists and objects, and most entries, of a JSON document [-]: a line of a million points."""

OTHER_GEOMETRIES: Final = frozenset({"Point", "MultiPoint", "Polygon", "MultiPolygon"})
WGS84_NAMES: Final = frozenset({"urn:ogc:def:crs:OGC:1.3:CRS84", "OGC:CRS84", "EPSG:4326"})


def route_from_geojson(
    document: Mapping[str, Any],
    *,
    name: str = "route",
    source: str = "The GeoJSON",
    line: LineChoice = None,
) -> Route:
    """Return the one line of a GeoJSON object as a route.

    Coordinates are WGS 84 longitude, latitude (RFC 7946), or of the system that a ``crs`` member of
    the format's older edition names. Heights in the positions are left aside. A line with a
    ``name`` property keeps that name.

    Parameters
    ----------
    document : Mapping
        A LineString, MultiLineString, GeometryCollection, Feature or FeatureCollection [-]
    name : str
        What to call a line that has no name [-]
    source : str
        How messages call the document [-]
    line : str or int, optional
        Which line to take where there are several: its name, or its number from 1 [-]

    Returns
    -------
    route : Route
        The line, checked [deg]

    Raises
    ------
    RouteError
        If it is not GeoJSON, holds no line, several lines or parts that do not join, or a position
        is not a place.

    References
    ----------
    .. [1] H. Butler and others. *The GeoJSON Format*, RFC 7946, IETF, 2016.

    Examples
    --------
    >>> route = route_from_geojson({"type": "LineString", "coordinates": [[7, 46], [7.01, 46.02]]})
    >>> route.lon.tolist()
    [7.0, 7.01]
    """
    lines: list[DrawnLine] = []
    others: Counter[str] = Counter()
    for own_name, geometry in _geometries(document, source):
        kind = geometry.get("type")
        if kind == "LineString":
            lines.append(_line(own_name, [geometry.get("coordinates")], source))
        elif kind == "MultiLineString":
            parts = geometry.get("coordinates")
            if not isinstance(parts, list | tuple):
                raise _broken(source, "a MultiLineString has no list of coordinates")
            lines.append(_line(own_name, list(parts), source))
        elif isinstance(kind, str) and kind in OTHER_GEOMETRIES:
            others[str(kind)] += 1
        else:
            raise _broken(source, f"it holds an object of type {str(kind)[:60]!r}")
    crs = stated_crs(document, source)
    if crs is not None:
        from routing.line.files.datum import to_wgs84

        lines = [
            DrawnLine(
                name=line.name,
                parts=tuple(to_wgs84(p, crs, source=source) for p in line.parts if len(p)),
            )
            for line in lines
        ]
    return route_from_drawn(lines, source=source, name=name, others=others, line=line)


def route_from_geojson_bytes(
    data: bytes, *, name: str, source: str, line: LineChoice = None
) -> Route:
    """Return the one line of GeoJSON text as a route."""
    return route_from_geojson(
        load_geojson(data, source=source), name=name, source=source, line=line
    )


def load_geojson(data: bytes, *, source: str) -> dict[str, Any]:
    """Return the object in JSON text, whose size as a tree is bounded before it is built."""
    if data.count(b"[") + data.count(b"{") > MAX_BRACKETS or data.count(b",") > MAX_COMMAS:
        raise _broken(source, f"it holds more than {MAX_BRACKETS} lists and objects")
    try:
        document = json.loads(data)
    except (ValueError, RecursionError) as error:
        raise _broken(source, str(error) or "it is nested too deeply") from error
    if not isinstance(document, dict):
        raise _broken(source, f"it holds a bare {type(document).__name__}")
    return document


def _broken(source: str, why: str) -> RouteError:
    """Return the error for a document that is not sound GeoJSON."""
    return RouteError(
        f"{source} is not sound GeoJSON: {why}.", "Save the line again as GeoJSON (RFC 7946)."
    )


def _geometries(document: object, source: str) -> Iterator[tuple[str | None, Mapping[str, Any]]]:
    """Yield every plain geometry with the name of its feature, in the order of the document."""
    waiting: list[tuple[str | None, object]] = [(None, document)]
    while waiting:
        name, item = waiting.pop()
        if not isinstance(item, Mapping):
            raise _broken(source, f"an object was expected where {type(item).__name__} stands")
        kind = item.get("type")
        if kind == "Feature":
            properties = item.get("properties")
            own = properties.get("name") if isinstance(properties, Mapping) else None
            if item.get("geometry") is not None:
                waiting.append((own if isinstance(own, str) else name, item["geometry"]))
        elif kind in ("FeatureCollection", "GeometryCollection"):
            members = item.get("features" if kind == "FeatureCollection" else "geometries")
            if not isinstance(members, list | tuple):
                raise _broken(source, f"a {kind} has no list of members")
            waiting.extend((name, member) for member in reversed(members))
        else:
            yield name, item


def _line(name: str | None, parts: list[object], source: str) -> DrawnLine:
    """Return a line from the coordinates of its parts."""
    return DrawnLine(name=name, parts=tuple(_positions(part, name, source) for part in parts))


def _positions(coordinates: object, name: str | None, source: str) -> FloatArray:
    """Return GeoJSON positions as (n, 2); each must be a list of two numbers or more."""
    if not isinstance(coordinates, list | tuple):
        raise _broken(source, "a line has no list of coordinates")
    points = np.empty((len(coordinates), 2))
    for at, position in enumerate(coordinates):
        if (
            not isinstance(position, list | tuple)
            or len(position) < 2
            or not _is_number(position[0])
            or not _is_number(position[1])
        ):
            called = f" of {name!r}" if name else ""
            shown = f"{repr(position)[:60]}, not [longitude, latitude]"
            raise _broken(source, f"position {at + 1}{called} is {shown}")
        try:
            points[at] = position[0], position[1]
        except OverflowError:
            points[at] = np.inf  # Route names the point
    return points


def _is_number(value: object) -> bool:
    """Say whether a JSON value is a number; true and false are not."""
    return isinstance(value, int | float) and not isinstance(value, bool)


def stated_crs(document: Mapping[str, Any], source: str) -> str | None:
    """Return the coordinate system the document states, or None where that is WGS 84."""
    crs = document.get("crs")
    if crs is None:
        return None
    properties = crs.get("properties") if isinstance(crs, Mapping) else None
    stated = properties.get("name") if isinstance(properties, Mapping) else None
    if not isinstance(stated, str):
        raise RouteError(
            f"{source} has a `crs` member that names no coordinate system.",
            "Remove it if the line is in WGS 84 degrees; otherwise save the line in WGS 84.",
        )
    return None if stated in WGS84_NAMES else stated
