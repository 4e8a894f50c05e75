"""The settings of a line as built: what they say by station stays at its place on the ground."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.papers.document import Document
from routing.record.built_line import BuiltLine, planned_place
from routing.settings import Settings, rows_of, settings_from_mapping
from routing.settings.line import STATION

__all__ = ["moved_settings"]


_KEPT = ("fade", "vertical_datum")
"""What is said of a survey beside its points; units and system are those of the points anew."""


def moved_settings(doc: Document, line: BuiltLine) -> Settings:
    """Return a study's settings for the line as built.

    Valves, taps, relief valves, branches, changes of pipe, limits, spans and stretches of ground
    keep their place: each station becomes that of the same place on the line as built. Levels of a
    survey stay where they were taken. Layers lie by their own places and are what they were.
    """
    given = dict(doc.get("settings") or {})
    settings = settings_from_mapping(given)
    if not line.moved:
        return settings
    moved = _moved(given, Settings, line)
    if any(point.station_m is not None for point in settings.survey.points):
        kept = {key: given["survey"][key] for key in _KEPT if key in given["survey"]}
        moved["survey"] = {**kept, "points": [_point(doc, p) for p in settings.survey.points]}
    return settings_from_mapping(moved)


def _moved(table: Mapping[str, Any], kind: type, line: BuiltLine) -> dict[str, Any]:
    """Return a table with every station in it moved, also in the tables that it holds."""
    rows, found = rows_of(kind), {}
    for key, value in table.items():
        reader = rows[key].reader
        if reader is STATION:
            value = f"{float(line.station(STATION(value, key))):.4f} m"
        elif reader.rows is not None and isinstance(value, list | tuple):
            value = [_moved(each, reader.rows, line) for each in value]
        elif reader.rows is not None:
            value = _moved(value, reader.rows, line)
        found[key] = value
    return found


def _point(doc: Document, point: Any) -> dict[str, Any]:
    """Return a level as a row of a survey, by longitude and latitude."""
    lon, lat = point.lon, point.lat
    if point.station_m is not None:
        lon, lat = planned_place(doc, point.station_m, point.offset_m)
    told = {
        "name": point.name,
        "lon": lon,
        "lat": lat,
        "elevation": f"{point.elevation_m:.4f} m",
        "accuracy": None if point.accuracy_m is None else f"{point.accuracy_m:.4f} m",
    }
    return {key: value for key, value in told.items() if value is not None}
