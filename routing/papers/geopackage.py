"""The study as a GeoPackage: every layer a GIS needs, in WGS 84."""

from __future__ import annotations

import datetime
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from routing.papers.document import Document, column, plain
from routing.papers.files import beside
from routing.papers.geojson import PLACED, features
from routing.papers.given import sheet_date

__all__ = ["LAYERS", "write_gpkg", "write_rows"]

SYNCHRONOUS = "OGR_SQLITE_SYNCHRONOUS"
CURRENT_DATE = "OGR_CURRENT_DATE"
NO_DATE = "2000-01-01T00:00:00.000Z"
"""Date of change where the study has none: equal studies give equal files."""
LAYERS = (
    "line",
    "ends",
    "stations",
    *PLACED,
    "records",
    "catchment",
    "spans",
    "pipes",
    "grades",
    "tests",
    "lines",
    "ground_highs",
    "ground_lows",
    "warnings",
    "cautions",
)
"""Layers in the order in which they are written; the last two have no geometry."""


def write_gpkg(doc: Document, path: Path) -> None:
    """Write the study's layers to a GeoPackage, whole or not at all.

    A layer without features is left out. Columns are SI with the unit in the name; z is the
    elevation of the pipe's centreline, and of the ground for its highs and lows [m].
    """
    placed: dict[str, tuple[list[Any], list[dict[str, Any]]]] = {}
    for layer, geometry, properties in features(doc):
        shapes, rows = placed.setdefault(layer, ([], []))
        shapes.append(geometry)
        rows.append(properties)
    with beside(Path(path)) as draft, _settled(sheet_date(doc)):
        for layer in LAYERS:
            if layer == "stations":
                _write_stations(doc, draft)
            elif layer in ("warnings", "cautions"):
                write_rows(draft, layer, None, [dict(item) for item in doc.get(layer) or ()])
            elif layer in ("grades", "tests"):
                held = doc if layer == "grades" else doc.get("works") or {}
                write_rows(draft, layer, *_stretches(doc, held.get(layer) or ()))
            elif layer in placed:
                shapes, rows = placed[layer]
                write_rows(draft, layer, shapes, rows)


def gpkg_bytes(doc: Document) -> bytes:
    """Return what :func:`write_gpkg` writes."""
    with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
        path = Path(folder) / "study.gpkg"
        write_gpkg(doc, path)
        return path.read_bytes()


@contextmanager
def _settled(date: datetime.date | None) -> Iterator[None]:
    """Give the file the study's own date, and let SQLite leave flushing to the system.

    A dozen small layers would otherwise wait for the disk.

    Nothing is risked, since the draft becomes the file only when it is whole.
    """
    import pyogrio

    before = {key: pyogrio.get_gdal_config_option(key) for key in (SYNCHRONOUS, CURRENT_DATE)}
    stamp = NO_DATE if date is None else f"{date.isoformat()}T00:00:00.000Z"
    pyogrio.set_gdal_config_options({SYNCHRONOUS: "OFF", CURRENT_DATE: stamp})
    try:
        yield
    finally:
        pyogrio.set_gdal_config_options(before)


def _write_stations(doc: Document, path: Path) -> None:
    import shapely

    names = [name for name in doc["stations"] if name not in ("lon", "lat")]
    points = np.column_stack([column(doc, name) for name in ("lon", "lat", "pipe_m")])
    shapes = shapely.to_wkb(shapely.points(points), output_dimension=3)
    values = [column(doc, name) for name in names]
    flags = ("span", "assumed")
    kept = [
        each.astype(np.bool_) if name in flags and np.isfinite(each).all() else each
        for name, each in zip(names, values, strict=True)
    ]
    _write(path, "stations", shapes, names, kept, "Point")


def _stretches(
    doc: Document, rows: Sequence[Mapping[str, Any]]
) -> tuple[list[Mapping[str, Any]], list[dict[str, Any]]]:
    """Return stretches of the line from one station to another, as lines with their own values."""
    station = column(doc, "station_m")
    places = [column(doc, name) for name in ("lon", "lat", "pipe_m")]
    shapes: list[Mapping[str, Any]] = []
    told: list[dict[str, Any]] = []
    for row in rows:
        low, high = float(row["from_m"]), float(row["to_m"])
        at = np.array([low, *station[(station > low) & (station < high)], high])
        points = np.column_stack([np.interp(at, station, each) for each in places])
        shapes.append({"type": "LineString", "coordinates": points.tolist()})
        told.append({key: value for key, value in row.items() if not isinstance(value, list)})
    return shapes, told


def write_rows(
    path: Path,
    layer: str,
    geometries: Sequence[Mapping[str, Any]] | None,
    rows: Sequence[Mapping[str, Any]],
) -> None:
    """Add a layer of GeoJSON geometries, WGS 84, with their values; without rows none."""
    if not rows:
        return
    names = list(dict.fromkeys(name for row in rows for name in row))
    kept, columns = [], []
    for name in names:
        values = _column([row.get(name) for row in rows])
        if values is not None:
            kept.append(name if name.lower() not in ("fid", "geom") else f"{name}_")
            columns.append(values)
    if geometries is None:
        _write(path, layer, None, kept, columns, None)
        return
    import shapely

    kinds = {str(geometry["type"]) for geometry in geometries}
    shapes = [_shape(geometry, "MultiLineString" in kinds) for geometry in geometries]
    kind = "MultiLineString" if "MultiLineString" in kinds else kinds.pop()
    _write(path, layer, shapely.to_wkb(shapes, output_dimension=3), kept, columns, kind)


def _shape(geometry: Mapping[str, Any], several: bool) -> Any:
    """Return a GeoJSON geometry as a shape, areas flat; lines many-part where one must be."""
    import shapely
    from shapely.geometry import shape

    places = geometry["coordinates"]
    if geometry["type"] == "Point":
        return shapely.points(places if len(places) == 3 else [*places, float("nan")])
    if geometry["type"] == "MultiPolygon":
        return shape(geometry)
    if not several:
        return shapely.linestrings(places)
    pieces = places if geometry["type"] == "MultiLineString" else [places]
    return shapely.multilinestrings([shapely.linestrings(piece) for piece in pieces])


def _column(values: Sequence[Any]) -> Any:
    """Return values of one kind as an array, or None if there is nothing to keep."""
    known = [value for value in values if value is not None]
    if not known:
        return None
    if all(isinstance(value, bool) for value in known):
        return np.array([bool(value) for value in values], dtype=np.bool_)
    if len(known) == len(values) and all(isinstance(value, int) for value in known):
        return np.array(values, dtype=np.int64)
    if all(isinstance(value, int | float) and not isinstance(value, bool) for value in known):
        return np.array([np.nan if value is None else float(value) for value in values])
    return np.array([None if value is None else plain(value) for value in values], dtype=object)


def _write(
    path: Path, layer: str, shapes: Any, names: list[str], columns: list[Any], kind: str | None
) -> None:
    from pyogrio import raw

    raw.write(
        path,
        shapes,
        columns,
        np.array(names, dtype=object),
        layer=layer,
        driver="GPKG",
        geometry_type=f"{kind} Z" if kind and "Polygon" not in kind else kind,
        crs="EPSG:4326" if kind else None,
        append=path.exists(),
    )
