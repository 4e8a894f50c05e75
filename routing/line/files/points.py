"""A route from a table of points: one row a vertex, the intake first."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Final

import numpy as np

from routing.errors import RouteError
from routing.line.files.datum import to_wgs84
from routing.line.files.drawn import DrawnLine, LineChoice, route_from_drawn
from routing.line.files.table import Table, find_column, read_number, read_table
from routing.line.route import Route

__all__ = ["CRS_NAMES", "LAT_NAMES", "LON_NAMES", "X_NAMES", "Y_NAMES", "route_from_table"]

LON_NAMES: Final = ("lon", "longitude", "lng", "long")
LAT_NAMES: Final = ("lat", "latitude")
X_NAMES: Final = ("x", "easting", "east", "e")
Y_NAMES: Final = ("y", "northing", "north", "n")
CRS_NAMES: Final = ("crs", "epsg", "srid")
LINE_NAMES: Final = ("line", "route", "track", "line_name")

REMEDY: Final = (
    "Name the columns lon and lat in the first row, or x and y with a column crs such as "
    "EPSG:32628; one row a point, the intake first."
)


def route_from_table(text: str, *, name: str, source: str, line: LineChoice = None) -> Route:
    """Return the line of a table; a column ``line`` tells several lines apart."""
    table = read_table(text, source=source)
    across, up, projected = _axes(table, source)
    of_line, of_crs = find_column(table, LINE_NAMES), find_column(table, CRS_NAMES)
    if projected and of_crs is None:
        raise RouteError(f"{source} has x and y but says no coordinate system.", REMEDY)
    points: dict[str, list[tuple[float, float]]] = {}
    systems: dict[str, str] = {}
    for at, row in enumerate(table.rows):
        if not any(row):
            continue
        try:
            place = (
                read_number(row[across], decimal_comma=table.decimal_comma),
                read_number(row[up], decimal_comma=table.decimal_comma),
            )
        except (IndexError, ValueError) as error:
            raise RouteError(
                f"Row {table.first_line + at} of {source} is {', '.join(row)[:60]!r}.", REMEDY
            ) from error
        key = _cell(row, of_line)
        points.setdefault(key, []).append(place)
        system = _cell(row, of_crs)
        if system and systems.setdefault(key, system) != system:
            raise RouteError(
                f"{source} mixes the systems {systems[key]} and {system} in one line.",
                "Give one coordinate system for all points of a line.",
            )
    lines = []
    for key, places in points.items():
        part = np.array(places, dtype=np.float64)
        if projected or key in systems:
            part = to_wgs84(part, _system(systems.get(key, "")), source=source)
        lines.append(DrawnLine(name=key or None, parts=(part,)))
    return route_from_drawn(lines, source=source, name=name, line=line)


def _axes(table: Table, source: str) -> tuple[int, int, bool]:
    """Return the columns of the places, and whether those are of a map grid."""
    for eastward, northward, projected in (
        (LON_NAMES, LAT_NAMES, False),
        (X_NAMES, Y_NAMES, True),
    ):
        across, up = find_column(table, eastward), find_column(table, northward)
        if across is not None and up is not None:
            return across, up, projected
    raise RouteError(f"{source} has no columns lon and lat, nor x and y.{_shown(table)}", REMEDY)


def _shown(table: Table) -> str:
    names: Iterable[str] = [name for name in table.columns if name][:8]
    return f" It has: {', '.join(names)[:100]}."


def _cell(row: tuple[str, ...], at: int | None) -> str:
    return row[at] if at is not None and at < len(row) else ""


def _system(text: str) -> str:
    """Return a coordinate system as the library takes it; a bare number is an EPSG code."""
    return f"EPSG:{text}" if text.isdigit() else text
