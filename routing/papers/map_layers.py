"""The layers of the map: relief, line, signs."""

from __future__ import annotations

import base64
from collections.abc import Mapping
from html import escape
from typing import TYPE_CHECKING, Any

import numpy as np
from folium.map import FeatureGroup
from folium.raster_layers import ImageOverlay
from folium.vector_layers import PolyLine

from routing.arrays import FloatArray, IntArray, stretches
from routing.papers.document import Document, column, near_meridian, plain
from routing.papers.facts import high_facts
from routing.papers.map_page import SignLayer
from routing.papers.map_panel import popup_html
from routing.papers.pressure import over_rating, pressure_classes
from routing.papers.signs import SignKind
from routing.papers.thin import thinned
from routing.papers.things import things

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = [
    "catchment_layers",
    "ground_layers",
    "line_layer",
    "other_lines_layer",
    "relief_layer",
    "stream_layers",
    "thing_layers",
]

MOST_GROUND_POINTS = 200
"""Highs, and lows, of the ground shown on the map, the most prominent first."""


def relief_layer(relief: Relief, start_lon: float) -> ImageOverlay:
    """Return the picture of the terrain, on the same turn of the globe as the line."""
    data = base64.b64encode(relief.image).decode("ascii")
    turn = (
        near_meridian((relief.west + relief.east) / 2, start_lon) - (relief.west + relief.east) / 2
    )
    return ImageOverlay(
        f"data:{relief.media_type};base64,{data}",
        bounds=[[relief.south, relief.west + turn], [relief.north, relief.east + turn]],
        name="Relief",
        pixelated=False,
        alt="Shaded relief of the terrain",
    )


def line_layer(doc: Document) -> FeatureGroup:
    """Return the line in the colours of its static pressure, above-ground stretches marked."""
    lon, lat = column(doc, "lon"), column(doc, "lat")
    layer = FeatureGroup(name="Line, by static pressure")
    whole = _drawn(lon, lat)
    casing = _places(lon, lat, whole)
    layer.add_child(PolyLine(casing, color="#fff", weight=11, opacity=0.85, interactive=False))
    layer.add_child(PolyLine(casing, color="#111", weight=8, opacity=1, interactive=False))
    over = _runs(over_rating(doc))
    if over:
        paths = [_places(lon, lat, _inside(whole, a, b)) for a, b in over]
        layer.add_child(
            PolyLine(paths, color="#D55E00", weight=15, opacity=0.75, class_name="over")
        )
    classes = pressure_classes(doc)
    for number, colour in enumerate(classes.colours):
        runs = _runs(classes.of_leg == number)
        if runs:
            paths = [_places(lon, lat, _inside(whole, a, b)) for a, b in runs]
            layer.add_child(
                PolyLine(
                    paths,
                    color=colour,
                    weight=5,
                    opacity=1,
                    interactive=False,
                    line_cap="butt",
                    class_name="line",
                )
            )
    spans = _runs(column(doc, "span")[:-1] * column(doc, "span")[1:] > 0)
    if spans:
        paths = [_places(lon, lat, _inside(whole, a, b)) for a, b in spans]
        layer.add_child(
            PolyLine(
                paths,
                color="#fff",
                weight=8,
                opacity=1,
                dash_array="3 7",
                line_cap="butt",
                interactive=False,
                class_name="span",
            )
        )
    return layer


def other_lines_layer(doc: Document) -> FeatureGroup:
    """Return the other lines of a study, dashed, each with its name."""
    layer = FeatureGroup(name="Other lines")
    start = float(column(doc, "lon")[0])
    for line in doc["lines"][1:]:
        if line["route"] is None:
            continue
        lon = near_meridian(np.asarray(line["route"]["lon"], dtype=np.float64), start)
        lat = np.asarray(line["route"]["lat"], dtype=np.float64)
        places = np.column_stack([lat, lon]).round(7).tolist()
        name = escape(plain(line["name"])).replace("{", "&#123;").replace("}", "&#125;")
        layer.add_child(PolyLine(places, color="#fff", weight=5, opacity=0.85))
        layer.add_child(PolyLine(places, color="#333", weight=2, dash_array="7 6", tooltip=name))
    return layer


def _drawn(lon: FloatArray, lat: FloatArray) -> IntArray:
    """Return the stations that draw the line in plan, to about a centimetre."""
    order = np.arange(len(lon), dtype=np.float64)
    return thinned(order, [lon, lat], [1e-7, 1e-7])


def _inside(drawn: IntArray, first: int, last: int) -> IntArray:
    between = drawn[(drawn > first) & (drawn < last)]
    return np.concatenate([[first], between, [last]])


def _places(lon: FloatArray, lat: FloatArray, index: IntArray) -> list[list[float]]:
    places: list[list[float]] = np.column_stack([lat[index], lon[index]]).round(7).tolist()
    return places


def _runs(legs: Any) -> list[tuple[int, int]]:
    """Return (first, last) station of each run of legs that are set."""
    return [(first, last + 1) for first, last in stretches(np.asarray(legs, dtype=bool))]


_LAYERS: tuple[tuple[str, SignKind, int, bool], ...] = (
    ("Vents", "vent", -1, True),
    ("Drains", "drain", 1, True),
    ("Valves", "valve", -1, True),
    ("Gauge taps", "tap", 1, True),
    ("Relief valves", "relief", -1, True),
    ("Blocks", "block", 0, True),
    ("Slope anchors", "anchor", 0, False),
    ("Supports", "support", 0, False),
    ("Changes of pipe", "pipe", 0, False),
    ("Levels to take", "level", 1, True),
    ("Bends", "bend", 0, False),
    ("Crossings", "crossing", 0, True),
)
"""Name, kind, side of the line to which signs are led, and whether shown at first."""
_SIZES = {"vent": 30, "drain": 30, "valve": 30, "tap": 30, "relief": 30, "level": 30}
"""Sizes of signs that are not small [px]."""


def thing_layers(doc: Document) -> tuple[list[SignLayer], list[SignLayer]]:
    """Return the ends and what is led off the line, then the signs that lie on it.

    Vents and drains have a layer even where the line has none.
    """
    found = things(doc)
    led: list[SignLayer] = []
    on: list[SignLayer] = []
    for thing in (found[0], found[-1]):
        layer = SignLayer(thing.title, thing.sign)
        popup = popup_html(thing.title, thing.facts)
        layer.add_sign(thing.title, thing.lon, thing.lat, popup)
        led.append(layer)
    for name, kind, side, show in _LAYERS:
        listed = [thing for thing in found if thing.kind == kind]
        if not listed and kind not in ("vent", "drain", "bend"):
            continue
        layer = SignLayer(name, kind, side=side, size=_SIZES.get(kind, 18), show=show)
        for thing in listed:
            label = thing.id if kind in ("vent", "drain", "level") else ""
            popup = popup_html(thing.title, thing.facts)
            look = thing.look
            layer.add_sign(thing.title, thing.lon, thing.lat, popup, label=label, look=look)
        (led if side else on).append(layer)
    return led, on


def stream_layers(streams: Mapping[str, Any] | None, start_lon: float) -> list[FeatureGroup]:
    """Return the streams that the raster shows, the wider the more of them have met."""
    if streams is None or not streams["features"]:
        return []
    layer = FeatureGroup(name="Streams of the raster")
    orders = sorted({each["properties"]["order"] for each in streams["features"]})
    for order in orders:
        paths = [
            [[lat, near_meridian(lon, start_lon)] for lon, lat in each["geometry"]["coordinates"]]
            for each in streams["features"]
            if each["properties"]["order"] == order
        ]
        layer.add_child(
            PolyLine(
                paths,
                color="#56B4E9",
                weight=min(1 + order, 5),
                opacity=0.9,
                interactive=False,
            )
        )
    return [layer]


def catchment_layers(doc: Document) -> list[FeatureGroup]:
    """Return the outline of the catchment, hidden at first since it is larger than the line."""
    rings = (doc.get("catchment") or {}).get("outline")
    if not rings:
        return []
    start = float(column(doc, "lon")[0])
    layer = FeatureGroup(name="Catchment of the intake", show=False)
    places = [
        np.column_stack([ring["lat"], [near_meridian(lon, start) for lon in ring["lon"]]]).tolist()
        for ring in rings
    ]
    layer.add_child(
        PolyLine(
            places, color="#0072B2", weight=3, opacity=0.9, dash_array="2 6", interactive=False
        )
    )
    return [layer]


def ground_layers(doc: Document) -> list[SignLayer]:
    """Return the highs and the lows of the ground, the most prominent ones, hidden at first."""
    layers = []
    for key, kind in (("highs", "high"), ("lows", "low")):
        name = f"{key.capitalize()} of the ground"
        layer = SignLayer(name, "high" if kind == "high" else "low", size=18, show=False)
        points = sorted(doc["ground"][key], key=lambda item: -float(item["prominence_m"]))
        for point in points[:MOST_GROUND_POINTS]:
            title = f"{kind.capitalize()} of the ground"
            popup = popup_html(title, high_facts(doc, point))
            layer.add_sign(title, point["lon"], point["lat"], popup)
        layers.append(layer)
    return layers
