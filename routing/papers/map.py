"""The annotated map: one HTML file that needs no internet."""

from __future__ import annotations

from collections.abc import Mapping
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, has_flow, near_meridian, plain, units_of
from routing.papers.files import write_text
from routing.papers.map_panel import panel_html
from routing.papers.spoken import script_of_language
from routing.papers.thin import thinned
from routing.units import convert, unit_of

if TYPE_CHECKING:
    from routing.terrain import Relief

__all__ = ["map_html", "write_map"]

Streams = Mapping[str, Any]
"""A GeoJSON feature collection of lines, each with its ``order``."""

READOUT_TOLERANCE_M = 0.01
"""The readout along the line stays within this of ground, pipe and heads [m]."""


def write_map(
    doc: Document, relief: Relief | None, path: Path, streams: Streams | None = None
) -> None:
    """Write the annotated map of a study to ``path``."""
    write_text(path, map_html(doc, relief, streams))


def map_html(doc: Document, relief: Relief | None, streams: Streams | None = None) -> str:
    """Return the annotated map of a study as one HTML page.

    Everything it needs stands in the page; ``relief`` is the picture of the terrain beneath the
    line, or None for a plain ground; ``streams`` are those that the raster shows, as GeoJSON.
    """
    from branca.element import Element
    from folium.map import LayerControl

    from routing.papers.map_land import land_layers
    from routing.papers.map_layers import (
        catchment_layers,
        ground_layers,
        line_layer,
        other_lines_layer,
        relief_layer,
        stream_layers,
        thing_layers,
    )
    from routing.papers.map_page import Instruments, OfflineMap, number_elements

    doc = _one_turn(doc)
    lon, lat = column(doc, "lon"), column(doc, "lat")
    view = OfflineMap(location=(float(lat.mean()), float(lon.mean())))
    figure = view.get_root()
    figure.title = escape(plain(doc.get("name") or "study")) + " – map"
    if relief is not None:
        view.add_child(relief_layer(relief, float(lon[0])))
    for layer in stream_layers(streams, float(lon[0])):
        view.add_child(layer)
    view.add_child(line_layer(doc))
    for layer in land_layers(doc):
        view.add_child(layer)
    if doc.get("lines"):
        view.add_child(other_lines_layer(doc))
    signs, on_line = thing_layers(doc)
    for layer in (*signs, *on_line, *catchment_layers(doc), *ground_layers(doc)):
        view.add_child(layer)
    view.add_child(LayerControl(position="topright", collapsed=True))
    view.add_child(Instruments(_instrument_data(doc), signs))
    figure.html.add_child(Element(_template_safe(panel_html(doc, relief))), name="panel")
    number_elements(figure)
    page: str = figure.render()
    page = page.replace("<html>", '<html lang="en">', 1)
    script = script_of_language(doc)
    # The last of the page: what stands before it is there to be put into the language.
    return page.replace("</html>", f"<script>{script}</script></html>") if script else page


def _one_turn(doc: Document) -> Document:
    """Return the document with all longitudes on the intake's turn of the globe."""
    start = float(column(doc, "lon")[0])
    lon = column(doc, "lon")
    if np.abs(lon - start).max() <= 180.0:
        return doc

    def moved(items: Any) -> list[Any]:
        return [{**item, "lon": near_meridian(float(item["lon"]), start)} for item in items or ()]

    return {
        **doc,
        "stations": {**doc["stations"], "lon": near_meridian(lon, start)},
        "ground": {
            **doc["ground"],
            **{key: moved(doc["ground"][key]) for key in ("highs", "lows")},
        },
    }


def _template_safe(html: str) -> str:
    """Return HTML that a template engine prints as it is, whatever a name in it holds."""
    return html.replace("{", "&#123;").replace("}", "&#125;")


def _instrument_data(doc: Document) -> dict[str, Any]:
    """Return what the page's own script draws: the readout's columns and the marks' units."""
    units = units_of(doc)
    station = column(doc, "station_m")
    lon, lat = column(doc, "lon"), column(doc, "lat")
    columns = [column(doc, name) for name in ("ground_m", "pipe_m", "depth_m", "static_head_m")]
    tolerance = [READOUT_TOLERANCE_M] * 4 + [1e-7, 1e-7]
    index = thinned(station, [*columns, lon, lat], tolerance)
    rows: list[tuple[str, FloatArray, Any, int]] = [
        ("Ground", columns[0], "elevation", 2),
        ("Pipe centre", columns[1], "elevation", 2),
        ("Depth to invert", columns[2], "depth", 2),
        ("Static pressure", column(doc, "static_pressure_kpa") * 1e3, "pressure", 1),
    ]
    if has_flow(doc):
        rows.append(("Flowing pressure", column(doc, "flowing_pressure_kpa") * 1e3, "pressure", 1))
    if np.isfinite(column(doc, "rating_kpa")).any():
        rows.append(("Pipe is rated", column(doc, "rating_kpa") * 1e3, "pressure", 1))
    shown = convert(1.0, "station", units)
    return {
        "station": (station[index] * shown).round(3).tolist(),
        "lon": lon[index].round(7).tolist(),
        "lat": lat[index].round(7).tolist(),
        "stationUnit": unit_of("station", units),
        "stationPerMetre": shown,
        "imperial": units == "us",
        "rows": [
            {
                "label": label,
                "unit": unit_of(kind, units),
                "digits": digits,
                "values": _listed(values[index] * convert(1.0, kind, units), digits + 1),
            }
            for label, values, kind, digits in rows
        ],
        "bounds": [[float(lat.min()), float(lon.min())], [float(lat.max()), float(lon.max())]],
    }


def _listed(values: FloatArray, digits: int) -> list[float | None]:
    return [None if value != value else value for value in values.round(digits).tolist()]
