"""The land in the model space of a DXF: what the user gave beside the line, a layer a kind."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_features
from routing.papers.plane import SurveySystem
from routing.papers.sheet.features import parts
from routing.units import show

__all__ = ["LAND_LAYERS", "add_land", "land_layer"]

LAND_LAYERS: dict[str, tuple[int, str]] = {
    # name: colour of the format's own palette, line type
    "LAND-STREAM": (5, "CONTINUOUS"),
    "LAND-ROAD": (8, "CONTINUOUS"),
    "LAND-SERVICE": (30, "DASHDOT"),
    "LAND-PARCEL": (7, "DASHDOT"),
    "LAND-BOUNDARY": (7, "DIVIDE"),
    "LAND-PROTECTED": (3, "CONTINUOUS"),
    "LAND-NO-GO": (1, "DASHED"),
    "LAND-RIGHT-OF-WAY": (4, "DASHED"),
    "LAND-GROUND": (33, "DOT"),
    "LAND-REFERENCE": (2, "CONTINUOUS"),
}
"""Layers of the land, by kind."""


def land_layer(kind: str) -> str:
    """Return the layer of a kind of feature.

    >>> land_layer("right of way")
    'LAND-RIGHT-OF-WAY'
    """
    return f"LAND-{kind.upper().replace(' ', '-')}"


def add_land(space: Any, doc: Document, survey: SurveySystem, size: float) -> None:
    """Draw streams, roads, parcels and the like where they lie, each with its name."""
    for feature in sheet_features(doc):
        told = feature.get("properties") or {}
        given = {"layer": land_layer(str(told.get("kind")))}
        if given["layer"] not in LAND_LAYERS:
            continue
        name, given_m = plain(told.get("name") or ""), told.get("level_m")
        level = float(given_m) if isinstance(given_m, int | float) else None
        for shape, places in parts(feature["geometry"]):
            east, north = survey.forward(places[:, 0], places[:, 1])
            points = np.column_stack([east, north]).round(4).tolist()
            if shape == "Point":
                z = 0.0 if level is None else round(level / survey.metres_per_unit, 4)
                space.add_point((*points[0], z), dxfattribs=given)
                said = "" if level is None else show(level, "elevation", units_of(doc))
                name = f"{name} {said}".strip()
            else:
                space.add_lwpolyline(points, close=shape == "Polygon", dxfattribs=given)
            if name:
                at = tuple(points[len(points) // 2])
                space.add_text(name, height=size, dxfattribs={**given, "insert": at})
