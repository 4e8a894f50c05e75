"""The layers of the land on the map: areas and lines of the settings, a group for each kind."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

import numpy as np
from folium.map import FeatureGroup
from folium.vector_layers import Polygon, PolyLine

from routing.arrays import FloatArray
from routing.land import GROUND, KINDS
from routing.papers.document import Document, column, near_meridian, plain
from routing.papers.given import sheet_features

__all__ = ["land_layers"]

LOOKS: Mapping[str, Mapping[str, Any]] = {
    "no-go": {"color": "#CC79A7", "weight": 2, "dash_array": "8 4", "fill_opacity": 0.28},
    "road": {"color": "#333333", "weight": 3, "fill_opacity": 0.2},
    "stream": {"color": "#0072B2", "weight": 2.5, "fill_opacity": 0.25},
    "parcel": {"color": "#8A6D3B", "weight": 1.5, "dash_array": "6 3", "fill_opacity": 0.0},
    "protected": {"color": "#009E73", "weight": 2, "dash_array": "2 4", "fill_opacity": 0.15},
    "service": {"color": "#D55E00", "weight": 2, "dash_array": "10 3 2 3", "fill_opacity": 0.1},
    "right of way": {"color": "#E69F00", "weight": 2, "dash_array": "4 4", "fill_opacity": 0.1},
    GROUND: {"color": "#5A5A5A", "weight": 1.5, "dash_array": "1 5", "fill_opacity": 0.12},
}
"""Okabe and Ito, *Color Universal Design*, 2008; each kind has its own dashes as well."""
REACH, LEAST_REACH_DEG = 1.0, 0.005
"""Land shown beyond the line: as a share of its extent [-], and at least [deg]."""
_DEEP = {"LineString": 0, "MultiLineString": 1, "Polygon": 1, "MultiPolygon": 2}


def land_layers(doc: Document) -> list[FeatureGroup]:
    """Return a group for each kind of land that the study's layers hold."""
    start = float(column(doc, "lon")[0])
    box = _box(doc, start)
    groups: dict[str, FeatureGroup] = {}
    for feature in sheet_features(doc):
        told, geometry = feature.get("properties") or {}, feature["geometry"]
        kind = str(told.get("kind"))
        if kind not in LOOKS or geometry.get("type") not in _DEEP:
            continue
        words, plural = land_words(kind)
        group = groups.setdefault(kind, FeatureGroup(name=plural.capitalize()))
        name = " ".join([words, plain(told.get("name") or "")]).strip()
        tooltip = escape(name).replace("{", "&#123;").replace("}", "&#125;")
        deep = _DEEP[geometry["type"]]
        for part in _parts(geometry["coordinates"], deep):
            places = [[lat, near_meridian(lon, start)] for lon, lat, *_ in part]
            if not _meets(places, box):
                continue
            look = dict(LOOKS[kind])
            if "Polygon" in geometry["type"]:
                group.add_child(Polygon(places, fill=True, tooltip=tooltip, **look))
            else:
                look.pop("fill_opacity")
                group.add_child(PolyLine(places, tooltip=tooltip, **look))
    return list(groups.values())


def land_words(kind: str) -> tuple[str, str]:
    """Return what a kind of land is called, one and several.

    >>> land_words("ground")
    ('class of ground', 'classes of ground')
    """
    if kind == GROUND:
        return "class of ground", "classes of ground"
    return KINDS[kind].words, KINDS[kind].plural


def _box(doc: Document, start: float) -> tuple[FloatArray, FloatArray]:
    """Return the corners of the ground about the line that the map shows, (lat, lon) [deg]."""
    places = np.column_stack([column(doc, "lat"), near_meridian(column(doc, "lon"), start)])
    low, high = places.min(axis=0), places.max(axis=0)
    reach = np.maximum(REACH * float(np.max(high - low)), LEAST_REACH_DEG)
    return low - reach, high + reach


def _meets(places: Sequence[Sequence[float]], box: tuple[FloatArray, FloatArray]) -> bool:
    found = np.array(places)
    return bool((found.max(axis=0) >= box[0]).all() and (found.min(axis=0) <= box[1]).all())


def _parts(coordinates: Any, deep: int) -> Sequence[Any]:
    """Return rings and lines from under the lists about them."""
    if deep == 0:
        return [coordinates]
    return [part for each in coordinates for part in _parts(each, deep - 1)]
