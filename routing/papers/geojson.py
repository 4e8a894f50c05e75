"""The study as GeoJSON (RFC 7946) for any map program."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.crew_facts import record_station
from routing.papers.document import Document, column, near_meridian, plain
from routing.papers.schedule import to_set
from routing.papers.set_facts import item_place
from routing.papers.side_by_side import line_values

__all__ = ["PLACED", "features", "geojson"]

PLACED = (
    "vents",
    "drains",
    "valves",
    "taps",
    "relief_valves",
    "blocks",
    "anchors",
    "supports",
    "bends",
    "crossings",
)
"""Sections whose rows are places on the line, each a layer."""
LON_LAT_DIGITS = 7
"""A centimetre, the finest that lon and lat in a file are good for."""


def geojson(doc: Document) -> dict[str, Any]:
    """Return the study as a GeoJSON feature collection.

    The line (positions with the pipe's elevation), the ends, everything to set, bends, spans, pipes
    and the highs and lows of the ground; ``layer`` in the properties says which. Properties are
    SI with the unit in the name. What the study warns of and the cautions are foreign members.
    """
    return {
        "type": "FeatureCollection",
        "name": plain(doc.get("name") or "study"),
        "summary": dict(doc["summary"]),
        "warnings": [dict(item) for item in doc.get("warnings") or ()],
        "cautions": [dict(item) for item in doc.get("cautions") or ()],
        "features": [
            _feature(layer, geometry, properties) for layer, geometry, properties in features(doc)
        ],
    }


def features(doc: Document) -> list[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Return (layer, geometry, properties) of everything in a study that has a place.

    All but the stations, whose table is its own. Geometries are GeoJSON; z is the elevation of the
    pipe's centreline, and of the ground for its highs and lows [m].
    """
    found = [("line", _part(doc, None, None), _line_properties(doc))]
    for name, index in (("intake", 0), ("powerhouse", -1)):
        found.append(("ends", *_end(doc, name, index)))
    for layer in PLACED:
        for item in to_set(doc, layer):
            lon, lat = item_place(doc, item)
            where = {"lon": lon, "lat": lat}
            found.append((layer, _point(where, item.get("pipe_m")), _scalars(item)))
    found += _records(doc)
    for pipe in doc.get("pipes") or ():
        found.append(("pipes", _part(doc, pipe["from_m"], pipe["to_m"]), _scalars(pipe)))
    for span in (doc.get("trench") or {}).get("spans") or ():
        found.append(("spans", _part(doc, span["from_m"], span["to_m"]), _scalars(span)))
    if (doc.get("catchment") or {}).get("outline"):
        found.append(("catchment", _outline(doc["catchment"]), _scalars(doc["catchment"])))
    for row in doc.get("lines") or ():
        if row["route"] is not None:
            found.append(("lines", _whole(row["route"]), line_values(row)))
    for layer, points in (("ground_highs", "highs"), ("ground_lows", "lows")):
        for item in doc["ground"][points]:
            found.append((layer, _point(item, item["ground_m"]), _scalars(item)))
    return found


def _records(doc: Document) -> list[tuple[str, dict[str, Any], dict[str, Any]]]:
    """Return what crews recorded, where it was taken if that is known, else on the line."""
    listed = [item for layer in PLACED for item in to_set(doc, layer)]
    stations = {str(item["id"]): float(item["station_m"]) for item in listed}
    found = []
    for record in doc.get("records") or ():
        where = {"lon": record.get("lon"), "lat": record.get("lat")}
        lon, lat = item_place(doc, {**where, "station_m": record_station(record, stations)})
        point = _point({"lon": lon, "lat": lat}, record["invert_m"])
        found.append(("records", point, _scalars(record)))
    return found


def _outline(catchment: Mapping[str, Any]) -> dict[str, Any]:
    """Return the outline of the catchment, each ring's holes with it."""
    polygons: list[Any] = []
    for ring in catchment["outline"]:
        places = np.column_stack([ring["lon"], ring["lat"]]).round(LON_LAT_DIGITS).tolist()
        if ring["hole"]:
            polygons[-1].append(places)
        else:
            polygons.append([places])
    return {"type": "MultiPolygon", "coordinates": polygons}


def _feature(layer: str, geometry: dict[str, Any], properties: dict[str, Any]) -> dict[str, Any]:
    return {"type": "Feature", "geometry": geometry, "properties": {"layer": layer, **properties}}


def _line_properties(doc: Document) -> dict[str, Any]:
    return {"name": plain(doc.get("name") or "study"), **_scalars(doc["summary"])}


def _end(doc: Document, name: str, index: int) -> tuple[dict[str, Any], dict[str, Any]]:
    stations, summary = doc["stations"], doc["summary"]
    properties = {
        name: float(stations[name][index])
        for name in ("station_m", "ground_m", "pipe_m", "depth_m")
    }
    level = summary["intake_level_m" if index == 0 else "outlet_level_m"]
    where = {"lon": stations["lon"][index], "lat": stations["lat"][index]}
    return _point(where, stations["pipe_m"][index]), {"id": name, "level_m": level, **properties}


def _point(item: Mapping[str, Any], level: float | None) -> dict[str, Any]:
    place = [round(float(item["lon"]), LON_LAT_DIGITS), round(float(item["lat"]), LON_LAT_DIGITS)]
    if level is not None and np.isfinite(level):
        place.append(round(float(level), 3))
    return {"type": "Point", "coordinates": place}


def _part(doc: Document, from_m: float | None, to_m: float | None) -> dict[str, Any]:
    """Return the line from one station to another, ends put in between stations where needed."""
    station = column(doc, "station_m")
    first = float(station[0]) if from_m is None else max(float(from_m), float(station[0]))
    last = float(station[-1]) if to_m is None else min(float(to_m), float(station[-1]))
    inside = station[(station > first) & (station < last)]
    at = np.concatenate([[first], inside, [last]])
    lon = column(doc, "lon")
    lon = np.interp(at, station, near_meridian(lon, float(lon[0])))
    columns = [
        ((lon + 180.0) % 360.0 - 180.0).round(LON_LAT_DIGITS),
        np.interp(at, station, column(doc, "lat")).round(LON_LAT_DIGITS),
        np.interp(at, station, column(doc, "pipe_m")).round(3),
    ]
    return _cut(np.column_stack(columns))


def _whole(route: Mapping[str, Any]) -> dict[str, Any]:
    """Return a line of several by its vertices, with the pipe's elevation."""
    lon, lat, level = (
        np.asarray(route[key], dtype=np.float64).round(digits)
        for key, digits in (("lon", LON_LAT_DIGITS), ("lat", LON_LAT_DIGITS), ("pipe_m", 3))
    )
    return _cut(np.column_stack([(lon + 180.0) % 360.0 - 180.0, lat, level]))


def _cut(places: FloatArray) -> dict[str, Any]:
    """Return a line, cut where it goes over the 180th meridian as RFC 7946, section 3.1.9, asks."""
    over = np.flatnonzero(np.abs(np.diff(places[:, 0])) > 180.0)
    if len(over) == 0:
        return {"type": "LineString", "coordinates": places.tolist()}
    pieces, first = [], np.empty((0, 3))
    start = 0
    for index in over.tolist():
        here, there = places[index], places[index + 1].copy()
        edge = math.copysign(180.0, here[0])
        there[0] += 2.0 * edge
        share = (edge - here[0]) / (there[0] - here[0]) if there[0] != here[0] else 0.0
        at_edge = here + share * (there - here)
        pieces.append(np.vstack([first, places[start : index + 1], at_edge]))
        first = at_edge[np.newaxis] * [-1.0, 1.0, 1.0]
        start = index + 1
    pieces.append(np.vstack([first, places[start:]]))
    lines = [piece.round(LON_LAT_DIGITS).tolist() for piece in pieces]
    return {"type": "MultiLineString", "coordinates": lines}


def _scalars(item: Mapping[str, Any]) -> dict[str, Any]:
    """Return an object's plain values: what a table of attributes can hold."""
    kept: dict[str, Any] = {}
    for key, value in item.items():
        if isinstance(value, str):
            kept[key] = plain(value)
        elif value is None or isinstance(value, bool | int | float):
            kept[key] = value
        elif isinstance(value, np.generic):
            kept[key] = value.item()
        elif isinstance(value, list | tuple) and all(isinstance(item, str) for item in value):
            kept[key] = ", ".join(plain(item) for item in value)
    return kept
