"""The layers of the map: relief, line, signs."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING, Any, Literal

import folium
import numpy as np

from routing.arrays import FloatArray, IntArray, stretches
from routing.papers.document import Document, column, near_meridian, plain
from routing.papers.facts import (
    bend_facts,
    drain_facts,
    high_facts,
    intake_facts,
    level_facts,
    outlet_facts,
    vent_facts,
)
from routing.papers.map_page import SignLayer
from routing.papers.map_panel import popup_html
from routing.papers.pressure import over_rating, pressure_classes
from routing.papers.signs import LOOKS
from routing.papers.thin import thinned

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = [
    "bend_layer",
    "end_layers",
    "fitting_layer",
    "ground_layers",
    "level_layer",
    "line_layer",
    "relief_layer",
]

MOST_GROUND_POINTS = 200
"""Highs, and lows, of the ground shown on the map, the most prominent first."""


def relief_layer(relief: Relief, start_lon: float) -> folium.raster_layers.ImageOverlay:
    """Return the picture of the terrain, on the same turn of the globe as the line."""
    data = base64.b64encode(relief.image).decode("ascii")
    turn = (
        near_meridian((relief.west + relief.east) / 2, start_lon) - (relief.west + relief.east) / 2
    )
    return folium.raster_layers.ImageOverlay(
        f"data:{relief.media_type};base64,{data}",
        bounds=[[relief.south, relief.west + turn], [relief.north, relief.east + turn]],
        name="Relief",
        pixelated=False,
        alt="Shaded relief of the terrain",
    )


def line_layer(doc: Document) -> folium.FeatureGroup:
    """Return the line in the colours of its static pressure, above-ground stretches marked."""
    lon, lat = column(doc, "lon"), column(doc, "lat")
    layer = folium.FeatureGroup(name="Line, by static pressure")
    whole = _drawn(lon, lat)
    casing = _places(lon, lat, whole)
    layer.add_child(
        folium.PolyLine(casing, color="#fff", weight=11, opacity=0.85, interactive=False)
    )
    layer.add_child(folium.PolyLine(casing, color="#111", weight=8, opacity=1, interactive=False))
    over = _runs(over_rating(doc))
    if over:
        paths = [_places(lon, lat, _inside(whole, a, b)) for a, b in over]
        layer.add_child(
            folium.PolyLine(paths, color="#D55E00", weight=15, opacity=0.75, class_name="over")
        )
    classes = pressure_classes(doc)
    for number, colour in enumerate(classes.colours):
        runs = _runs(classes.of_leg == number)
        if runs:
            paths = [_places(lon, lat, _inside(whole, a, b)) for a, b in runs]
            layer.add_child(
                folium.PolyLine(
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
            folium.PolyLine(
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


def fitting_layer(doc: Document, kind: Literal["vents", "drains"]) -> SignLayer:
    """Return the vents or the drains as numbered signs."""
    vents = kind == "vents"
    layer = SignLayer("Vents", "vent", side=-1) if vents else SignLayer("Drains", "drain", side=1)
    for fitting in doc[kind]:
        label = plain(fitting["id"])
        title = f"{'Vent' if vents else 'Drain'} {label}"
        facts = vent_facts(doc, fitting) if vents else drain_facts(doc, fitting)
        popup = popup_html(title, facts)
        look = LOOKS[fitting["need"]]
        layer.add_sign(title, fitting["lon"], fitting["lat"], popup, label=label, look=look)
    return layer


def level_layer(doc: Document) -> SignLayer:
    """Return the levels to take before anything is bought, numbered by how much they settle."""
    layer = SignLayer("Levels to take", "level", size=26)
    for number, level in enumerate(doc.get("levels_to_shoot") or (), start=1):
        title = f"Level to take L{number}"
        popup = popup_html(title, level_facts(doc, level))
        layer.add_sign(title, level["lon"], level["lat"], popup, label=f"L{number}")
    return layer


def end_layers(doc: Document) -> list[SignLayer]:
    """Return intake and powerhouse."""
    lon, lat = column(doc, "lon"), column(doc, "lat")
    intake, powerhouse = SignLayer("Intake", "intake"), SignLayer("Powerhouse", "powerhouse")
    intake.add_sign("Intake", lon[0], lat[0], popup_html("Intake", intake_facts(doc)))
    popup = popup_html("Powerhouse", outlet_facts(doc))
    powerhouse.add_sign("Powerhouse", lon[-1], lat[-1], popup)
    return [intake, powerhouse]


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


def bend_layer(doc: Document) -> SignLayer:
    """Return the bends, hidden at first."""
    layer = SignLayer("Bends", "bend", size=18, show=False)
    for bend in doc.get("bends") or ():
        title = f"Bend {plain(bend['id'])}"
        layer.add_sign(title, bend["lon"], bend["lat"], popup_html(title, bend_facts(doc, bend)))
    return layer
