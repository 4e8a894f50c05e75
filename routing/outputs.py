"""The folder that a study leaves: its document and every paper made from it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Any, TypedDict

import numpy as np

from routing.catchment_study import followed
from routing.papers import EXPORTS, export, write_map
from routing.papers.field import write_field
from routing.papers.things import made_once
from routing.terrain import Relief, Terrain, relief_image
from routing.terrain.drawn_contour import DrawnContour, contour_lines
from routing.units import FOOT

__all__ = [
    "OUTPUT_FILES",
    "PAPER_FILES",
    "study_contours",
    "study_relief",
    "study_streams",
    "write_outputs",
    "write_papers",
]

OUTPUT_FILES: Mapping[str, str] = {
    "map.html": "annotated map, works without internet",
    "field.html": "field sheet for the phone of whoever walks the line",
    **{row.name: row.title for row in EXPORTS.values() if row.folder == "always"},
}
"""What lies in the folder, with what each file is for."""

PAPER_FILES: Mapping[str, str] = {
    row.name: row.title for row in EXPORTS.values() if row.folder == "papers"
}
"""What lies there too when all papers are asked for; they take longer than the rest together."""

MOST_STREAM_POINTS = 20_000
"""Most points of streams on the map [-]."""

MARGIN = 0.3
"""Relief shown beyond each end of the line, as a share of its extent [-]."""
LEAST_REACH_DEG = 0.003
"""Least relief shown on each side of the line's middle [degrees of latitude, about 330 m]."""


class _Box(TypedDict):
    """Bounds, WGS 84 [deg]."""

    west: float
    south: float
    east: float
    north: float


def study_relief(document: Mapping[str, Any], terrain: Terrain) -> Relief:
    """Return the shaded relief around a study's line."""
    return relief_image(terrain, **_around(document))


def study_contours(document: Mapping[str, Any], terrain: Terrain) -> tuple[DrawnContour, ...]:
    """Return the contours around a study's line, and finer ones for the plan of each sheet."""
    from routing.papers.sheet.shown import shown_ground

    unit_m = FOOT if document.get("units") == "us" else 1.0
    found = list(contour_lines(terrain, unit_m=unit_m, **_around(document)))
    shown = shown_ground(document)
    for number, (west, south, east, north) in enumerate(shown.boxes):
        box = _Box(west=west, south=south, east=east, north=north)
        lines = contour_lines(terrain, unit_m=unit_m, interval=shown.interval, **box)
        found += [replace(line, sheet=number) for line in lines]
    return tuple(found)


def study_streams(
    document: Mapping[str, Any], terrain: Terrain, *, wait: bool = True
) -> dict[str, Any] | None:
    """Return the streams around a study's line as GeoJSON, where its catchment was followed.

    Without ``wait`` only if the raster's water is in memory already.
    """
    catchment = document.get("catchment")
    if catchment is None or catchment["method"] == "as given":
        return None
    from routing.catchment import streams_geojson

    threshold = float(catchment["threshold_m2"])
    network = followed(terrain, threshold, wait=wait)
    if network is None:
        return None
    box = _around(document)
    return streams_geojson(
        network,
        threshold_m2=threshold,
        box_deg=(box["west"], box["south"], box["east"], box["north"]),
        most_points=MOST_STREAM_POINTS,
    )


def _around(document: Mapping[str, Any]) -> _Box:
    """Return a box around a study's line, WGS 84 [deg]."""
    routes = [line["route"] for line in document.get("lines") or () if line["route"]]
    routes = routes or [document["route"]]
    lat = np.concatenate([np.asarray(route["lat"], dtype=np.float64) for route in routes])
    lon = np.concatenate([np.asarray(route["lon"], dtype=np.float64) for route in routes])
    lon = lon[0] + (lon - lon[0] + 180.0) % 360.0 - 180.0
    stretch = max(float(np.cos(np.radians(np.mean(lat)))), 0.01)
    # A square around the line, so that the map fills a tall screen as well as a wide one.
    reach = max(float(np.ptp(lon)) * stretch, float(np.ptp(lat))) * (0.5 + MARGIN)
    reach = max(reach, LEAST_REACH_DEG)
    east, north = float(lon.min() + lon.max()) / 2.0, float(lat.min() + lat.max()) / 2.0
    return {
        "west": east - reach / stretch,
        "south": max(north - reach, -89.9),
        "east": east + reach / stretch,
        "north": min(north + reach, 89.9),
    }


def write_outputs(document: Mapping[str, Any], terrain: Terrain, folder: Path) -> None:
    """Write every file of a study into an existing folder."""
    relief = study_relief(document, terrain)
    with made_once():
        write_map(document, relief, folder / "map.html", study_streams(document, terrain))
        write_field(document, relief, folder / "field.html")
        for row in EXPORTS.values():
            if row.folder == "always":
                export(document, row.format, folder / row.name)


def write_papers(document: Mapping[str, Any], terrain: Terrain, folder: Path) -> None:
    """Write the sheets, the report, the workbook, the drawing and the stake-out list too."""
    relief, contours = study_relief(document, terrain), study_contours(document, terrain)
    for row in EXPORTS.values():
        if row.folder == "papers" or (row.folder == "lines" and document.get("lines")):
            export(document, row.format, folder / row.name, relief, contours)
