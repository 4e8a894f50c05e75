"""Surveyed points from a table, GeoJSON, a GeoPackage, or rows given with the settings."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any, Final

import numpy as np

from routing.errors import InputError, RouteError
from routing.line.files.datum import to_wgs84
from routing.line.files.geojson import load_geojson, stated_crs
from routing.line.files.geopackage import package_rows
from routing.line.files.points import CRS_NAMES, LAT_NAMES, LON_NAMES, X_NAMES, Y_NAMES
from routing.line.files.read import file_format, read_head
from routing.line.files.table import decode_text, read_number, read_table
from routing.line.files.wkb import BrokenGeometry, geometry_of
from routing.survey.point import SurveyPoint
from routing.units import parse_quantity

__all__ = ["read_survey", "survey_from_geojson", "survey_from_rows"]

MAX_POINTS: Final = 20_000
"""Most surveyed points [-]."""

NAMES: Final[Mapping[str, tuple[str, ...]]] = {
    "elevation": ("elevation", "elev", "z", "level", "height", "rl", "ground", "altitude"),
    "station": ("station", "chainage", "sta", "distance"),
    "offset": ("offset", "off"),
    "lon": LON_NAMES,
    "lat": LAT_NAMES,
    "x": X_NAMES,
    "y": Y_NAMES,
    "crs": CRS_NAMES,
    "name": ("name", "id", "point", "label", "code", "pt"),
    "accuracy": ("accuracy", "sigma", "error", "rmse"),
    "unit": ("unit", "units"),
}
"""What a column may be called, the first that is there counting."""

UNITS: Final[Mapping[str, str]] = {
    "m": "m",
    "metre": "m",
    "metres": "m",
    "meter": "m",
    "meters": "m",
    "ft": "ft",
    "foot": "ft",
    "feet": "ft",
    "us survey foot": "US survey foot",
    "us survey feet": "US survey foot",
    "ftus": "US survey foot",
    "usft": "US survey foot",
}
REMEDY: Final = (
    "Give a CSV, GeoJSON or GeoPackage of points with elevation, and station (and offset), lon and "
    "lat, or x and y with a crs."
)
_PLAIN: Final = re.compile(r"^[+-]?[\d.,]+(?:[eE][+-]?\d+)?$")

Record = tuple[str, Mapping[str, str], bool]
"""A label, cells by column name, and whether a comma is a decimal one."""


def read_survey(
    path: Path, *, unit: str | None = None, crs: str | None = None
) -> tuple[SurveyPoint, ...]:
    """Return the surveyed points in a file.

    Parameters
    ----------
    path : Path
        CSV, GeoJSON or GeoPackage [-]
    unit : str, optional
        "m", "ft" or "US survey foot", over what the file states; metres where nothing does [-]
    crs : str, optional
        Coordinate system of x and y, over what the file states [-]

    Returns
    -------
    tuple of SurveyPoint
        In the order of the file

    Raises
    ------
    InputError
        If the file cannot be read or a row is no surveyed point; the message names the row.
    """
    path = Path(path)
    source = path.name
    kind = file_format(read_head(path, remedy=REMEDY), source, remedy=REMEDY)
    if kind == "geopackage":
        return _points(_package_records(path, source), unit, crs, source)
    if kind == "geojson":
        document = load_geojson(path.read_bytes(), source=source)
        return survey_from_geojson(document, unit=unit, crs=crs, source=source)
    if kind == "text":
        text = decode_text(path.read_bytes(), source=source)
        return _points(_table_records(text, source), unit, crs, source)
    raise RouteError(f"{source} is no file of surveyed points.", REMEDY)


def survey_from_rows(
    rows: Sequence[Mapping[str, Any]],
    *,
    unit: str | None = None,
    crs: str | None = None,
    source: str = "survey.points",
) -> tuple[SurveyPoint, ...]:
    """Return the surveyed points in rows, each a table of the columns that a file may have.

    >>> point, = survey_from_rows([{"station": "310 m", "elevation": "1353.7 ft"}])
    >>> round(point.elevation_m, 2)
    412.61
    """
    records: list[Record] = []
    for at, row in enumerate(rows):
        label = f"{source}[{at}]"
        if not isinstance(row, Mapping):
            raise InputError(f"{label} = {str(row)[:60]} is no table.", REMEDY)
        records.append((label, _cells(row), False))
    return _points(records, unit, crs, source)


def survey_from_geojson(
    document: Mapping[str, Any],
    *,
    unit: str | None = None,
    crs: str | None = None,
    source: str = "survey.points",
) -> tuple[SurveyPoint, ...]:
    """Return the surveyed points of a GeoJSON FeatureCollection.

    A property for the elevation counts before the third coordinate.
    """
    features = document.get("features")
    if document.get("type") != "FeatureCollection" or not isinstance(features, list | tuple):
        raise InputError(f"{source} is no GeoJSON FeatureCollection.", REMEDY)
    system = stated_crs(document, source)
    records: list[Record] = []
    for at, feature in enumerate(features):
        label = f"{source}, feature {at + 1}"
        if not isinstance(feature, Mapping):
            raise InputError(f"{label} is no feature.", REMEDY)
        properties, shape = feature.get("properties"), feature.get("geometry")
        cells = _cells(properties) if isinstance(properties, Mapping) else {}
        if shape is not None:
            position = shape.get("coordinates") if isinstance(shape, Mapping) else None
            if (
                not isinstance(shape, Mapping)
                or shape.get("type") != "Point"
                or not isinstance(position, list | tuple)
                or len(position) < 2
            ):
                raise InputError(f"{label} is no point.", "Give points only.")
            cells = {**cells, **_placed([str(value) for value in position], system, cells)}
        records.append((label, cells, False))
    return _points(records, unit, crs, source)


def _cells(row: Mapping[Any, Any]) -> dict[str, str]:
    """Return a row's values as text under lower-case names; empty ones are left out."""
    return {
        str(key).strip().lower().replace(" ", "_"): str(value).strip()
        for key, value in row.items()
        if value is not None and not isinstance(value, bool | bytes | list | Mapping)
    }


def _placed(position: Sequence[str], crs: str | None, cells: Mapping[str, str]) -> dict[str, str]:
    """Return a geometry's coordinates as cells; its height only where no column has one."""
    placed = {"lon": position[0], "lat": position[1]}
    if crs is not None:
        placed = {"x": position[0], "y": position[1], "crs": crs}
    if len(position) > 2 and _find(cells, "elevation") is None:
        placed["elevation"] = position[2]
    return placed


def _package_records(path: Path, source: str) -> Iterator[Record]:
    """Yield the rows of a GeoPackage's point layers."""
    for at, row in enumerate(package_rows(path, source=source)):
        label = f"{source}, {row.layer[:40]}, row {at + 1}"
        cells = _cells(row.properties)
        try:
            kind, parts = geometry_of(row.wkb)
        except BrokenGeometry as error:
            raise InputError(f"{label} is not sound: {error}.", REMEDY) from error
        if kind == "Point":
            position = [repr(float(value)) for value in parts[0][0]]
            crs = row.crs if row.crs not in ("EPSG:4326", None) else None
            cells = {**cells, **_placed(position, crs, cells)}
        elif kind != "empty":
            raise InputError(f"{label} is a {kind}, no point.", "Give points only.")
        yield label, cells, False


def _table_records(text: str, source: str) -> Iterator[Record]:
    """Yield the rows of a table; a unit in a heading is written behind the row's number."""
    table = read_table(text, source=source)
    for at, row in enumerate(table.rows):
        if not any(row):
            continue
        cells = {name: cell for name, cell in zip(table.columns, row, strict=False) if cell}
        for name, heading in table.units.items():
            if _PLAIN.match(cells.get(name, "")):
                cells[name] = f"{cells[name]} {heading}"
        yield f"{source}, line {table.first_line + at}", cells, table.decimal_comma


def _points(
    records: Iterable[Record], unit: str | None, crs: str | None, source: str
) -> tuple[SurveyPoint, ...]:
    """Return the points of records, those with x and y converted together by their system."""
    found: list[dict[str, Any]] = []
    grids: dict[str, list[int]] = {}
    for label, cells, decimal_comma in records:
        if len(found) >= MAX_POINTS:
            raise InputError(
                f"{source} holds more than {MAX_POINTS} points.", "Keep those near the line."
            )
        fields = _fields(label, cells, decimal_comma, unit)
        if "x" in fields:
            system = crs or _find(cells, "crs")
            if system is None:
                raise InputError(
                    f"{label} has x and y but no coordinate system.",
                    'Set crs = "EPSG:..." under [survey], or give a column crs.',
                )
            grids.setdefault(system, []).append(len(found))
        found.append(fields)
    if not found:
        raise InputError(f"{source} holds no surveyed point.", REMEDY)
    for system, rows in grids.items():
        places = np.array([(found[at].pop("x"), found[at].pop("y")) for at in rows])
        text = f"EPSG:{system}" if system.isdigit() else system
        for at, (lon, lat) in zip(rows, to_wgs84(places, text, source=source), strict=True):
            found[at]["lon"], found[at]["lat"] = float(lon), float(lat)
    return tuple(SurveyPoint(**fields) for fields in found)


def _fields(
    label: str, cells: Mapping[str, str], decimal_comma: bool, unit: str | None
) -> dict[str, Any]:
    """Return the fields of one point, places still as x and y where they came so."""
    elevation = _find(cells, "elevation")
    if elevation is None:
        raise InputError(f"{label} has no elevation.", REMEDY)
    usual = unit or _unit(_find(cells, "unit") or "m", label)

    def length(key: str, text: str) -> float:
        return _length(f"{label}, {key}", text, usual, unit is not None, decimal_comma)

    fields: dict[str, Any] = {
        "label": label,
        "elevation_m": length("elevation", elevation),
        "name": _find(cells, "name"),
    }
    for key, field in (("accuracy", "accuracy_m"), ("offset", "offset_m")):
        cell = _find(cells, key)
        if cell is not None:
            fields[field] = length(key, cell)
    station = _find(cells, "station")
    if station is not None:
        fields["station_m"] = length("station", station)
        return fields
    for across, up in (("lon", "lat"), ("x", "y")):
        east, north = _find(cells, across), _find(cells, up)
        if east is not None and north is not None:
            try:
                fields[across] = read_number(east, decimal_comma=decimal_comma)
                fields[up] = read_number(north, decimal_comma=decimal_comma)
            except ValueError as error:
                raise InputError(f"{label} stands at {east!r}, {north!r}.", REMEDY) from error
            break
    return fields


def _find(cells: Mapping[str, str], key: str) -> str | None:
    """Return the cell of a column by any of its names, or of that name with its unit at the end."""
    for name in NAMES[key]:
        for ending, unit in (("", ""), ("_m", " m"), ("_ft", " ft")):
            cell = cells.get(name + ending)
            if cell:
                return cell + unit if unit and _PLAIN.match(cell) else cell
    return None


def _length(name: str, text: str, usual: str, forced: bool, decimal_comma: bool) -> float:
    """Return a length [m]; a plain number is in the usual unit, which may also be forced."""
    number, _, own = text.strip().partition(" ")
    known = UNITS.get(_plain(own)) if own else usual
    if known is None:  # a smaller unit, as accuracies have
        return parse_quantity(text, "length", name=name)
    try:
        value = read_number(number, decimal_comma=decimal_comma)
    except ValueError:
        return parse_quantity(text, "length", name=name)
    return parse_quantity(f"{value!r} {usual if forced else known}", "length", name=name)


def _plain(unit: str) -> str:
    return " ".join(unit.split()).lower()


def _unit(text: str, label: str) -> str:
    """Return a unit of length under its usual name."""
    unit = UNITS.get(_plain(text))
    if unit is None:
        raise InputError(
            f"{label} is in the unit {text[:30]!r}.", 'Use "m", "ft" or "US survey foot".'
        )
    return unit
