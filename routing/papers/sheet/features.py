"""What the user gave for the plan: streams, boundaries, no-go areas, roads, reference points."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_features
from routing.papers.plane import LocalPlane
from routing.papers.sheet.ink import Drawing
from routing.units import show

if TYPE_CHECKING:
    from routing.papers.sheet.view import PlanView

__all__ = ["draw_features", "parts"]


def draw_features(
    ink: Drawing, doc: Document, plane: LocalPlane, view: PlanView
) -> list[tuple[float, float, str]]:
    """Draw the user's features and return where their names may stand."""
    names: list[tuple[float, float, str]] = []
    units, box = units_of(doc), view.box
    for feature in sheet_features(doc):
        properties = feature.get("properties") or {}
        kind, name = str(properties.get("kind")), plain(properties.get("name") or "")
        for shape, places in parts(feature["geometry"]):
            x, y = view.at(*plane.forward(places[:, 0], places[:, 1]))
            inside = (x > box.left) & (x < box.right) & (y > box.top) & (y < box.bottom)
            if shape == "Point":
                if inside[0]:
                    at_x, at_y = float(x[0]), float(y[0])
                    ink.circle(at_x, at_y, 1.2, "reference")
                    ink.line(at_x - 1.2, at_y, at_x + 1.2, at_y, "fine")
                    ink.line(at_x, at_y - 1.2, at_x, at_y + 1.2, "fine")
                    level = properties.get("level_m")
                    if isinstance(level, int | float):
                        name = f"{name} {show(float(level), 'elevation', units)}".strip()
                    names.append((at_x, at_y, name or "reference point"))
                continue
            ink.path(x, y, re.sub("[- ]", "", kind), close=shape == "Polygon")
            if name and inside.any():
                middle = np.flatnonzero(inside)[int(inside.sum()) // 2]
                names.append((float(x[middle]), float(y[middle]), name))
    return names


def parts(geometry: Mapping[str, Any]) -> Iterable[tuple[str, FloatArray]]:
    """Return a GeoJSON geometry as points, lines and rings, (n, 2) lon, lat; malformed ones not."""
    kind, places = str(geometry.get("type")), geometry.get("coordinates")
    if kind == "GeometryCollection":
        for item in geometry.get("geometries") or ():
            yield from parts(item)
        return
    deep = {"Point": 0, "LineString": 1, "MultiPoint": 1, "Polygon": 2, "MultiLineString": 2}
    level = deep.get(kind, 3)
    plain_kind = kind.removeprefix("Multi")
    if plain_kind == "Point":
        level += 1
        places = [places]
        if kind == "MultiPoint":
            places = [[item] for item in places[0] or ()]
    stack: list[Any] = [places]
    for _ in range(level - 1):
        stack = [item for group in stack for item in group or ()]
    for item in stack:
        try:
            array = np.array([[float(p[0]), float(p[1])] for p in item], dtype=np.float64)
        except (TypeError, ValueError, IndexError):
            continue
        if array.ndim == 2 and len(array) >= (1 if plain_kind == "Point" else 2):
            yield plain_kind, array
