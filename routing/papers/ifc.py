"""The alignment and the pipe as laid in IFC 4.3, written through an open library of that standard.

The library is an extra of the tool, as it is large and few ask for this file.
"""

from __future__ import annotations

import datetime
import uuid
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.errors import InputError
from routing.papers.document import Document, column, plain
from routing.papers.given import sheet_date, sheet_text
from routing.papers.plane import survey_system

__all__ = ["ifc_text"]

SCHEMA = "IFC4X3"
EXTRA = "leatline[ifc]"
SAME_M = 1e-3
"""Places of the line closer than this are one [m]."""
_NAMES = uuid.UUID("6f0d2a52-1c1e-5d5e-9d8a-0e9a3f4c7b11")
"""From which the names of all parts follow, so that equal studies give equal files."""


class _Line(NamedTuple):
    """The line in the plane of the survey: along the grid, and where the pipe lies [m]."""

    along_m: FloatArray
    east_m: FloatArray
    north_m: FloatArray
    grid_of: Any


def ifc_text(doc: Document) -> str:
    """Return a study as IFC 4.3: alignment in plan and profile, a segment for each run of pipe.

    Lengths are metres of the grid; coordinates count from the intake, whose easting and northing
    stand in the map conversion.

    Raises
    ------
    InputError
        If the library that writes the format is not installed; the message names the extra.
    """
    try:
        import ifcopenshell
        import ifcopenshell.api.alignment
        import ifcopenshell.guid
    except ImportError as exc:
        raise InputError(
            "IFC is written by a library that is not installed here.",
            f'Install it as an extra of this tool: pip install "{EXTRA}".',
        ) from exc
    model = ifcopenshell.file(schema=SCHEMA)
    survey = survey_system(doc, sheet_text(doc, "crs") or None)
    line, origin = _line(doc, survey.forward, survey.metres_per_unit)
    name = plain(doc.get("name") or "study")
    site, body = _project(model, name, survey.name, origin)
    alignment = ifcopenshell.api.alignment.create(model, name, include_vertical=True)
    layouts = ifcopenshell.api.alignment
    for first, last in pairwise(range(line.along_m.size)):
        _leg(model, layouts, alignment, line, first, last)
    for straight in doc["grades"]:
        _straight(model, layouts, alignment, straight, line)
    pipes = [_pipe(model, run, doc, line, site, body) for run in doc.get("pipes") or ()]
    if pipes:
        model.createIfcRelContainedInSpatialStructure(
            ifcopenshell.guid.new(), None, "pipes", None, pipes, site
        )
    # The library keeps the parts of a whole in a set.
    for whole in model.by_type("IfcRelAggregates"):
        whole.RelatedObjects = sorted(whole.RelatedObjects, key=lambda part: int(part.id()))
    for number, part in enumerate(model.by_type("IfcRoot")):
        own = uuid.uuid5(_NAMES, f"{name}/{part.is_a()}/{number}")
        part.GlobalId = ifcopenshell.guid.compress(own.hex)
    _header(model, doc, name)
    return str(model.to_string())


def _line(doc: Document, forward: Any, unit_m: float) -> tuple[_Line, tuple[float, float]]:
    """Return the corners of the line from its own beginning, and where that lies [m]."""
    route = doc["route"]
    at = np.asarray(route["station_m"], dtype=np.float64)
    east, north = forward(np.asarray(route["lon"], float), np.asarray(route["lat"], float))
    east, north = np.asarray(east) * unit_m, np.asarray(north) * unit_m
    kept = np.append(True, np.hypot(np.diff(east), np.diff(north)) > SAME_M)
    at, east, north = at[kept], east[kept], north[kept]
    along = np.append(0.0, np.cumsum(np.hypot(np.diff(east), np.diff(north))))

    def grid_of(station_m: Any) -> FloatArray:
        return np.asarray(np.interp(station_m, at, along))

    origin = float(east[0]), float(north[0])
    return _Line(along, east - origin[0], north - origin[1], grid_of), origin


def _project(model: Any, name: str, crs: str, origin: tuple[float, float]) -> tuple[Any, Any]:
    """Return the site, and the context of bodies."""
    import ifcopenshell.guid as guid

    units = [
        model.createIfcSIUnit(None, kind, None, unit)
        for kind, unit in (
            ("LENGTHUNIT", "METRE"),
            ("AREAUNIT", "SQUARE_METRE"),
            ("VOLUMEUNIT", "CUBIC_METRE"),
            ("PLANEANGLEUNIT", "RADIAN"),
        )
    ]
    place = model.createIfcAxis2Placement3D(model.createIfcCartesianPoint((0.0, 0.0, 0.0)))
    context = model.createIfcGeometricRepresentationContext(None, "Model", 3, 1e-5, place, None)
    target = model.createIfcProjectedCRS(Name=crs)
    model.createIfcMapConversion(context, target, *origin, 0.0, 1.0, 0.0, 1.0)
    # The library looks up the context of axes by its name.
    _, body = (
        model.createIfcGeometricRepresentationSubContext(
            key, "Model", None, None, None, None, context, None, "MODEL_VIEW", None
        )
        for key in ("Axis", "Body")
    )
    project = model.createIfcProject(
        guid.new(), None, name, None, None, None, None, [context],
        model.createIfcUnitAssignment(units),
    )  # fmt: skip
    site = model.createIfcSite(guid.new(), None, name, ObjectPlacement=_placed(model))
    model.createIfcRelAggregates(guid.new(), None, None, None, project, [site])
    return site, body


def _placed(model: Any, beside: Any = None) -> Any:
    place = model.createIfcAxis2Placement3D(model.createIfcCartesianPoint((0.0, 0.0, 0.0)))
    return model.createIfcLocalPlacement(beside, place)


def _leg(model: Any, layouts: Any, alignment: Any, line: _Line, first: int, last: int) -> None:
    """Add a straight of the plan."""
    east, north = (float(each[last] - each[first]) for each in (line.east_m, line.north_m))
    start = model.createIfcCartesianPoint((float(line.east_m[first]), float(line.north_m[first])))
    layouts.create_layout_segment(
        model,
        layouts.get_horizontal_layout(alignment),
        model.createIfcAlignmentHorizontalSegment(
            None, None, start, float(np.arctan2(north, east)), 0.0, 0.0,
            float(np.hypot(east, north)), None, "LINE",
        ),
    )  # fmt: skip


def _straight(
    model: Any, layouts: Any, alignment: Any, straight: Mapping[str, Any], line: _Line
) -> None:
    """Add a straight of the profile; its ends lie along the grid."""
    start, end = line.grid_of([straight["from_m"], straight["to_m"]]).tolist()
    low, high = float(straight["from_z_m"]), float(straight["to_z_m"])
    if end - start < SAME_M:
        return
    grade = (high - low) / (end - start)
    layouts.create_layout_segment(
        model,
        layouts.get_vertical_layout(alignment),
        model.createIfcAlignmentVerticalSegment(
            None, None, start, end - start, low, grade, grade, None, "CONSTANTGRADIENT"
        ),
    )


def _pipe(
    model: Any, run: Mapping[str, Any], doc: Document, line: _Line, site: Any, body: Any
) -> Any:
    """Return a run of pipe: its bore and outside swept along its centreline."""
    import ifcopenshell.guid as guid

    places = _centreline(doc, line, float(run["from_m"]), float(run["to_m"]))
    points = [model.createIfcCartesianPoint(tuple(place)) for place in places]
    solid = model.createIfcSweptDiskSolid(
        model.createIfcPolyline(points),
        float(run["outside_diameter_m"]) / 2.0,
        float(run["inside_diameter_m"]) / 2.0,
    )
    shape = model.createIfcShapeRepresentation(body, "Body", "AdvancedSweptSolid", [solid])
    pipe = model.createIfcPipeSegment(
        guid.new(), None, plain(run["label"]),
        ObjectPlacement=_placed(model, site.ObjectPlacement),
        Representation=model.createIfcProductDefinitionShape(None, None, [shape]),
        PredefinedType="RIGIDSEGMENT",
    )  # fmt: skip
    model.createIfcRelAssociatesMaterial(
        guid.new(), None, None, None, [pipe], model.createIfcMaterial(plain(run["material"]))
    )
    told = (
        ("FromStation", "IfcLengthMeasure", run["from_m"]),
        ("ToStation", "IfcLengthMeasure", run["to_m"]),
        ("LengthAlongSlope", "IfcLengthMeasure", run["length_m"]),
        ("OutsideDiameter", "IfcLengthMeasure", run["outside_diameter_m"]),
        ("InsideDiameter", "IfcLengthMeasure", run["inside_diameter_m"]),
    )
    values = [
        model.createIfcPropertySingleValue(key, None, model.create_entity(kind, float(value)))
        for key, kind, value in told
    ]
    own = model.createIfcPropertySet(guid.new(), None, "PipeAsLaid", None, values)
    model.createIfcRelDefinesByProperties(guid.new(), None, None, None, [pipe], own)
    return pipe


def _centreline(doc: Document, line: _Line, from_m: float, to_m: float) -> list[list[float]]:
    """Return the places between two stations at which the pipe turns, in plan or in profile [m]."""
    breaks = {from_m, to_m, *(float(each["from_m"]) for each in doc["grades"])}
    breaks |= {float(at) for at in doc["route"]["station_m"]}
    at = np.array(sorted(each for each in breaks if from_m <= each <= to_m))
    at = at[np.append(True, np.diff(at) > SAME_M)]
    level = np.interp(at, column(doc, "station_m"), column(doc, "pipe_m"))
    along = line.grid_of(at)
    columns: Sequence[FloatArray] = (
        np.interp(along, line.along_m, line.east_m),
        np.interp(along, line.along_m, line.north_m),
        level,
    )
    places: list[list[float]] = np.column_stack(columns).tolist()
    return places


def _header(model: Any, doc: Document, name: str) -> None:
    """Say who made the file and when: the study's own date, so that equal studies are equal."""
    date = sheet_date(doc) or datetime.date(2000, 1, 1)
    generator = doc.get("generator") or {}
    maker = f"{plain(generator.get('name') or '')} {plain(generator.get('version') or '')}".strip()
    told = model.header.file_name
    told.name, told.time_stamp = name, f"{date.isoformat()}T00:00:00"
    told.author, told.organization, told.authorization = ("",), ("",), ""
    told.originating_system = told.preprocessor_version = maker
