"""The alignment as LandXML 1.2: the line in plan, the ground and the pipe in profile."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, plain
from routing.papers.given import sheet_date, sheet_text
from routing.papers.plane import SurveySystem, survey_system

__all__ = ["landxml_text"]

NAMESPACE = "http://www.landxml.org/schema/LandXML-1.2"
"""Name of the schema; nothing is fetched from there."""
SAME_M = 1e-6
"""Vertices of the line closer than this are one [m]."""
_METRIC = {
    "areaUnit": "squareMeter",
    "linearUnit": "meter",
    "volumeUnit": "cubicMeter",
    "temperatureUnit": "celsius",
    "pressureUnit": "milliBars",
    "diameterUnit": "millimeter",
    "angularUnit": "decimal degrees",
    "directionUnit": "decimal degrees",
}
_FEET = {
    "areaUnit": "squareFoot",
    "volumeUnit": "cubicFeet",
    "temperatureUnit": "fahrenheit",
    "pressureUnit": "inchHG",
    "diameterUnit": "inch",
    "angularUnit": "decimal degrees",
    "directionUnit": "decimal degrees",
}


def landxml_text(doc: Document, crs: str | None = None) -> str:
    """Return the alignment of a study as LandXML 1.2, in the surveyor's system and its unit.

    Lengths and stations are those of the study: in plan on the ellipsoid, as a tape measures them.
    Coordinates are of the grid, whose scale differs from 1 by a few parts in ten thousand; the
    description of the alignment says by how much.
    """
    survey = survey_system(doc, crs or sheet_text(doc, "crs") or None)
    date = sheet_date(doc)
    root = ET.Element(
        "LandXML",
        {
            "xmlns": NAMESPACE,
            "version": "1.2",
            "date": "2000-01-01" if date is None else date.isoformat(),
            "time": "00:00:00",
            "language": "English",
            "readOnly": "false",
        },
    )
    _units(root, survey)
    _system(root, doc, survey)
    name = plain(doc.get("name") or "study")
    ET.SubElement(root, "Project", {"name": sheet_text(doc, "project") or name})
    generator = doc.get("generator") or {}
    ET.SubElement(
        root,
        "Application",
        {key: plain(generator.get(key) or "") for key in ("name", "version")},
    )
    _alignment(ET.SubElement(root, "Alignments"), doc, survey, name)
    ET.indent(root)
    return '<?xml version="1.0" encoding="UTF-8"?>\n' + ET.tostring(root, encoding="unicode") + "\n"


def _units(root: ET.Element, survey: SurveySystem) -> None:
    units = ET.SubElement(root, "Units")
    if survey.unit == "metre":
        ET.SubElement(units, "Metric", _METRIC)
        return
    foot = "USSurveyFoot" if survey.unit == "US survey foot" else "foot"
    ET.SubElement(units, "Imperial", {"linearUnit": foot, **_FEET})


def _system(root: ET.Element, doc: Document, survey: SurveySystem) -> None:
    datum = plain((doc.get("terrain") or {}).get("vertical_datum") or "")
    told = {"desc": f"{survey.name}; {survey.chosen}"}
    code = survey.name.partition(" ")[0]
    if code.startswith("EPSG:"):
        told["epsgCode"] = code.removeprefix("EPSG:")
    if datum:
        told["verticalDatum"] = datum
    ET.SubElement(root, "CoordinateSystem", told)


def _alignment(parent: ET.Element, doc: Document, survey: SurveySystem, name: str) -> None:
    route, unit = doc["route"], survey.metres_per_unit
    at = np.asarray(route["station_m"], dtype=np.float64)
    kept = np.append(True, np.diff(at) > SAME_M)
    east, north = survey.forward(
        np.asarray(route["lon"], float)[kept], np.asarray(route["lat"], float)[kept]
    )
    at = at[kept]
    grid = np.hypot(np.diff(east), np.diff(north)) * unit
    scale = float(grid.sum() / (at[-1] - at[0]))
    alignment = ET.SubElement(
        parent,
        "Alignment",
        {
            "name": name,
            "length": _number(float(at[-1] - at[0]) / unit),
            "staStart": _number(float(at[0]) / unit),
            "desc": "stations are lengths in plan on the WGS 84 ellipsoid from the intake; "
            f"the grid's are {scale:.6f} times as long",
        },
    )
    geometry = ET.SubElement(alignment, "CoordGeom")
    for first in range(len(at) - 1):
        line = ET.SubElement(
            geometry,
            "Line",
            {
                "dir": _number(_bearing(east, north, first)),
                "length": _number(float(at[first + 1] - at[first]) / unit),
                "staStart": _number(float(at[first]) / unit),
            },
        )
        for tag, index in (("Start", first), ("End", first + 1)):
            ET.SubElement(line, tag).text = f"{north[index]:.4f} {east[index]:.4f}"
    profile = ET.SubElement(alignment, "Profile", {"name": name})
    pipe = ET.SubElement(
        profile, "ProfAlign", {"name": "pipe", "desc": "centreline of the pipe as laid"}
    )
    for station, level in _breaks(doc):
        ET.SubElement(pipe, "PVI").text = f"{station / unit:.4f} {level / unit:.4f}"
    ground = ET.SubElement(
        profile, "ProfSurf", {"name": "ground", "desc": "ground along the line, from the raster"}
    )
    at, high = (column(doc, key) / unit for key in ("station_m", "ground_m"))
    rows = zip(at.tolist(), high.tolist(), strict=True)
    ET.SubElement(ground, "PntList2D").text = " ".join(f"{s:.4f} {z:.4f}" for s, z in rows)


def _breaks(doc: Document) -> Iterator[tuple[float, float]]:
    """Return stations and levels at which the grade of the pipe breaks [m]."""
    straights: list[Any] = list(doc["grades"])
    yield float(straights[0]["from_m"]), float(straights[0]["from_z_m"])
    for straight in straights:
        yield float(straight["to_m"]), float(straight["to_z_m"])


def _bearing(east: FloatArray, north: FloatArray, first: int) -> float:
    """Return the way of a leg, clockwise from the grid's north [deg]."""
    turn = np.arctan2(east[first + 1] - east[first], north[first + 1] - north[first])
    return float(np.degrees(turn)) % 360.0


def _number(value: float) -> str:
    return f"{value:.6f}".rstrip("0").rstrip(".")
