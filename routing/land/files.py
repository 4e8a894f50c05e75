"""Layers from files of every form, as GeoJSON in WGS 84: what a setting holds in their place."""

from __future__ import annotations

import tempfile
from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path, PurePosixPath
from typing import Any
from xml.etree.ElementTree import Element

import numpy as np

from routing.arrays import FloatArray
from routing.errors import RouteError
from routing.line.files.datum import to_wgs84
from routing.line.files.geojson import load_geojson, stated_crs
from routing.line.files.geopackage import package_rows
from routing.line.files.kml import coordinate_tuples
from routing.line.files.markup import children, local_name, parse_markup, text_of
from routing.line.files.read import HEAD_BYTES, file_format, read_head
from routing.line.files.unpack import unpacked
from routing.line.files.vector import members_of_shapefile, shapefile_parts, shapefile_rows
from routing.line.files.wkb import BrokenGeometry, areas_of, geometry_of

__all__ = ["read_layer"]

REMEDY = "Give a GeoJSON, GeoPackage, KML, KMZ or shapefile (zipped too) of lines and areas."
DECIMALS = 9
"""Decimals of a degree that places keep, a tenth of a millimetre [-]."""

Feature = dict[str, Any]


def read_layer(path: Path, *, crs: str | None = None) -> dict[str, Any]:
    """Return the lines and areas of a file as a GeoJSON FeatureCollection in WGS 84.

    Parameters
    ----------
    path : Path
        GeoJSON, GeoPackage, KML, KMZ, shapefile, or a zip with one of these [-]
    crs : str, optional
        Coordinate system of numbers in a file that states none; else WGS 84 [-]

    Returns
    -------
    collection : dict
        Features with their plain properties; those without geometry are left out

    Raises
    ------
    RouteError
        If the file cannot be read, is of another form, or holds anything but lines and areas.
    """
    head = read_head(path, remedy=REMEDY)
    kind = file_format(head, path.name, remedy=REMEDY)
    found: Iterable[Feature]
    if kind == "geopackage":
        found = _of_package(path, path.name, crs)
    elif kind == "shapefile":
        found = _of_shapefile(shapefile_parts(path), path.name, crs)
    elif kind == "packed":
        found = _of_packed(path.read_bytes(), path.name, crs)
    else:
        found = _of_bytes(kind, path.read_bytes(), path.name, crs)
    features = list(found)
    if not features:
        raise RouteError(f"{path.name} holds no line and no area.", REMEDY)
    return {"type": "FeatureCollection", "features": features}


def _of_bytes(kind: str, data: bytes, source: str, crs: str | None) -> Iterable[Feature]:
    if kind == "geojson":
        return _of_geojson(data, source, crs)
    if kind == "kml":
        return _of_kml(data, source)
    raise RouteError(f"{source} is no file of lines and areas.", REMEDY)


def _of_packed(data: bytes, source: str, crs: str | None) -> Iterable[Feature]:
    """Return the features of the one layer in a zip or KMZ."""
    members = unpacked(data, source=source)
    shapefiles = members_of_shapefile(members)
    endings = (".geojson", ".json", ".kml", ".gpkg")
    plain = [each for each in members if PurePosixPath(each).suffix.lower() in endings]
    if "doc.kml" in plain:
        plain = ["doc.kml"]
    found = sorted([*shapefiles, *plain])
    if len(found) != 1:
        held = ", ".join(each[:60] for each in found[:6]) or "none"
        raise RouteError(
            f"{source} is a packed (zip) file and holds {len(found)} layers: {held}.",
            "Pack one layer in each file, or give several [[layer]] tables.",
        )
    if shapefiles:
        return _of_shapefile(shapefiles[found[0]], source, crs)
    content = members[found[0]]
    if found[0].lower().endswith(".gpkg"):
        with tempfile.TemporaryDirectory(prefix="leatline-") as folder:
            inside = Path(folder) / "layer.gpkg"
            inside.write_bytes(content)
            return list(_of_package(inside, source, crs))
    kind = file_format(content[:HEAD_BYTES], found[0], remedy=REMEDY)
    return _of_bytes(kind, content, source, crs)


def _of_geojson(data: bytes, source: str, crs: str | None) -> Iterator[Feature]:
    document = load_geojson(data, source=source)
    system = stated_crs(document, source) or (crs if document.get("crs") is None else None)
    kind = document.get("type")
    if kind == "FeatureCollection":
        features = document.get("features")
        listed = features if isinstance(features, list) else []
    else:
        listed = [document if kind == "Feature" else {"type": "Feature", "geometry": document}]
    for feature in listed:
        geometry = feature.get("geometry") if isinstance(feature, Mapping) else None
        if geometry is None:
            continue
        if system is not None:
            geometry = _moved(geometry, system, source)
        yield _feature(feature.get("properties"), geometry)


def _moved(geometry: Any, crs: str, source: str) -> Any:
    """Return a GeoJSON geometry with its places in WGS 84."""
    if not isinstance(geometry, Mapping):
        return geometry
    inner = geometry.get("geometries")
    if isinstance(inner, list):
        return {**geometry, "geometries": [_moved(each, crs, source) for each in inner]}
    return {**geometry, "coordinates": _turned(geometry.get("coordinates"), crs, source)}


def _turned(places: Any, crs: str, source: str, deep: int = 0) -> Any:
    if not isinstance(places, list) or not places or deep > 3:
        raise RouteError(f"{source} is not sound GeoJSON: a shape has no places.", REMEDY)
    first = places[0]
    if isinstance(first, list) and first and not isinstance(first[0], list):
        try:
            pairs = np.array([[float(place[0]), float(place[1])] for place in places])
        except (TypeError, ValueError, IndexError, OverflowError) as error:
            raise RouteError(
                f"{source} is not sound GeoJSON: a position is no pair of numbers.", REMEDY
            ) from error
        return _listed(to_wgs84(pairs, crs, source=source))
    return [_turned(each, crs, source, deep + 1) for each in places]


def _of_kml(data: bytes, source: str) -> Iterator[Feature]:
    tree = parse_markup(data, source=source, root="kml")
    for placemark in children(tree, "Placemark"):
        shapes = [_kml_shape(item, source) for item in placemark if _is_shape(item)]
        if shapes:
            yield _feature({"name": text_of(placemark, "name")}, _together(shapes))


def _together(shapes: list[dict[str, Any]]) -> dict[str, Any]:
    """Return the shapes of one placemark as one geometry."""
    kinds = {shape["type"] for shape in shapes}
    if len(shapes) == 1:
        return shapes[0]
    if kinds in ({"LineString"}, {"Polygon"}):
        return {"type": f"Multi{kinds.pop()}", "coordinates": [s["coordinates"] for s in shapes]}
    return {"type": "GeometryCollection", "geometries": shapes}


def _is_shape(item: Element) -> bool:
    return local_name(item) in ("LineString", "Polygon", "Point", "Model", "Track")


def _kml_shape(item: Element, source: str) -> dict[str, Any]:
    if local_name(item) not in ("LineString", "Polygon"):
        return {"type": local_name(item), "coordinates": []}
    if local_name(item) == "LineString":
        places = coordinate_tuples(text_of(item, "coordinates"), source)
        return {"type": "LineString", "coordinates": _listed(places)}
    rings = [
        _listed(coordinate_tuples(text_of(ring, "coordinates"), source))
        for ring in children(item, "LinearRing")
    ]
    return {"type": "Polygon", "coordinates": rings}


def _of_package(path: Path, source: str, crs: str | None) -> Iterator[Feature]:
    for row in package_rows(path, source=source):
        yield from _of_wkb(row.wkb, row.crs or crs, row.properties, source)


def _of_shapefile(parts: Mapping[str, bytes], source: str, crs: str | None) -> Iterator[Feature]:
    for wkb, stated, properties in shapefile_rows(parts, source=source):
        yield from _of_wkb(wkb, stated or crs, properties, source)


def _of_wkb(
    wkb: bytes, crs: str | None, properties: Mapping[str, Any], source: str
) -> Iterator[Feature]:
    """Yield the feature of one geometry; none where there is none."""

    def places(part: FloatArray) -> list[list[float]]:
        plan = part[:, :2]
        return _listed(plan if crs is None else to_wgs84(plan, crs, source=source))

    try:
        kind, parts = geometry_of(wkb)
        if kind == "empty":
            return
        if kind in ("Polygon", "MultiPolygon"):
            polygons = [[places(ring) for ring in polygon] for polygon in areas_of(wkb)]
            geometry: dict[str, Any] = {"type": "MultiPolygon", "coordinates": polygons}
        elif kind in ("LineString", "MultiLineString"):
            geometry = {"type": "MultiLineString", "coordinates": [places(part) for part in parts]}
        else:
            geometry = {"type": kind, "coordinates": []}
    except BrokenGeometry as error:
        raise RouteError(
            f"{source} cannot be read: a geometry is not sound: {error}.",
            "Save the layer again, as a GeoPackage or as GeoJSON.",
        ) from error
    yield _feature(properties, geometry)


def _feature(properties: object, geometry: Any) -> Feature:
    """Return a feature with those properties that a settings file may hold."""
    known = properties if isinstance(properties, Mapping) else {}
    kept = {
        str(key): value.item() if isinstance(value, np.generic) else value
        for key, value in known.items()
        if isinstance(value, str | bool | int | float | np.number) and value == value
    }
    return {"type": "Feature", "properties": kept, "geometry": geometry}


def _listed(places: FloatArray) -> list[list[float]]:
    listed: list[list[float]] = np.round(places[:, :2], DECIMALS).tolist()
    return listed
