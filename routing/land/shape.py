"""Areas and lines of a layer, from GeoJSON in WGS 84."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from routing.arrays import FloatArray, frozen
from routing.errors import SettingsError
from routing.value import dataclass

__all__ = ["MOST_CORNERS", "Shape", "shapes_of"]

REMEDY = "Give a GeoJSON FeatureCollection of lines and polygons in WGS 84."
MOST_CORNERS = 100_000
"""Most corners of all shapes of a layer [-]."""
MOST_NAME = 80

_DEEP: Mapping[str, int] = {
    "LineString": 0,
    "MultiLineString": 1,
    "Polygon": 1,
    "MultiPolygon": 2,
}
"""How many lists lie about the parts of each kind of geometry."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shape:
    """A named area or line in WGS 84, with what is known of it.

    Each of ``parts`` has shape (n, 2), longitude and latitude [deg]. A place is inside an area
    where an odd number of its parts, which are rings, hold it; so the second ring of an area is a
    hole in it, and rings apart from each other are its pieces. Of a line every part is a piece.
    ``width_m`` is that of what the line stands for, ``top_m`` the depth from the ground to the top
    of a buried service [m]; ``consent`` is the reference of the owner's leave.
    """

    name: str
    area: bool
    parts: tuple[FloatArray, ...]
    width_m: float | None = None
    top_m: float | None = None
    consent: str | None = None

    def __post_init__(self) -> None:
        object.__setattr__(self, "parts", tuple(frozen(part) for part in self.parts))


def shapes_of(value: object, name: str, *, named_by: str = "name") -> tuple[Shape, ...]:
    """Return the areas and lines of a FeatureCollection; ``name`` is that of the setting.

    Of the properties ``width_m``, ``depth_m`` (ground to the top of a service) and ``consent`` are
    read, and the one that ``named_by`` says, whatever the case of its letters.

    >>> road = {"features": [{"properties": {"Name": "track"}, "geometry": {
    ...     "type": "LineString", "coordinates": [[7.0, 46.0], [7.1, 46.0]]}}]}
    >>> shapes_of(road, "layer[0].features")[0].name
    'track'
    """
    features = value.get("features") if isinstance(value, Mapping) else None
    if not isinstance(features, list) or not features:
        raise SettingsError(f"{name} is no GeoJSON FeatureCollection.", REMEDY)
    found = tuple(
        shape
        for at, each in enumerate(features)
        for shape in _shapes(each, f"{name}[{at}]", named_by)
    )
    corners = sum(len(part) for shape in found for part in shape.parts)
    if corners > MOST_CORNERS:
        raise SettingsError(
            f"{name} has {corners} corners; {MOST_CORNERS} are taken.",
            "Cut the layer to the land about the line.",
        )
    return found


def _shapes(feature: object, name: str, named_by: str) -> Iterator[Shape]:
    geometry = feature.get("geometry") if isinstance(feature, Mapping) else None
    properties = feature.get("properties") if isinstance(feature, Mapping) else None
    known = (
        {str(key).lower(): item for key, item in properties.items()}
        if isinstance(properties, Mapping)
        else {}
    )
    kind = geometry.get("type") if isinstance(geometry, Mapping) else None
    inner = geometry.get("geometries") if isinstance(geometry, Mapping) else None
    if kind == "GeometryCollection" and isinstance(inner, list) and inner:
        for each in inner:
            nested = isinstance(each, Mapping) and each.get("type") == "GeometryCollection"
            if nested:
                raise SettingsError(f"{name} is a collection in a collection.", REMEDY)
            yield from _shapes({"properties": properties, "geometry": each}, name, named_by)
        return
    if not isinstance(geometry, Mapping) or not isinstance(kind, str) or kind not in _DEEP:
        raise SettingsError(f"{name} is {kind or 'nothing'}, neither line nor polygon.", REMEDY)
    area = "Polygon" in kind
    listed = _listed(geometry.get("coordinates"), name, deep=_DEEP[kind])
    yield Shape(
        name=" ".join(str(known.get(named_by.lower()) or "").split())[:MOST_NAME],
        area=area,
        parts=tuple(_part(each, name, area=area) for each in listed),
        width_m=_length(known.get("width_m"), f"{name}.width_m"),
        top_m=_length(known.get("depth_m"), f"{name}.depth_m"),
        consent=" ".join(str(known.get("consent") or "").split())[:MOST_NAME] or None,
    )


def _listed(value: object, name: str, *, deep: int) -> Iterator[Any]:
    if not isinstance(value, list) or not value:
        raise SettingsError(f"{name} has no ring or line of positions.", REMEDY)
    if deep == 0:
        yield value
        return
    for each in value:
        yield from _listed(each, name, deep=deep - 1)


def _part(places: Sequence[Any], name: str, *, area: bool) -> FloatArray:
    try:
        part = np.array(places, dtype=np.float64)[:, :2].copy()
    except (TypeError, ValueError, IndexError):
        part = np.empty((0, 2))  # some position is odd: they are looked at one by one
    try:
        if part.shape[0] == 0 or part.shape[1] != 2:
            part = np.array([[float(place[0]), float(place[1])] for place in places])
    except (TypeError, ValueError, IndexError, KeyError, OverflowError) as exc:
        raise SettingsError(f"{name} has a position that is no pair of numbers.", REMEDY) from exc
    good = part.shape[0] >= (3 if area else 2) and np.isfinite(part).all()
    if not good or (np.abs(part[:, 0]) > 540.0).any() or (np.abs(part[:, 1]) > 90.0).any():
        what = "ring" if area else "line"
        raise SettingsError(
            f"{name} has a {what} that is no {what} of longitudes and latitudes.", REMEDY
        )
    part[:, 0] -= 360.0 * np.cumsum(np.round(np.diff(part[:, 0], prepend=part[0, 0]) / 360.0))
    if area and not (part[0] == part[-1]).all():
        part = np.vstack([part, part[:1]])
    return part


def _length(value: object, name: str) -> float | None:
    if value is None:
        return None
    good = isinstance(value, int | float) and not isinstance(value, bool) and 0.0 <= value <= 1e4
    if not good:
        raise SettingsError(f"{name} = {value!r} is no length.", "Give metres, as a plain number.")
    return float(value)  # type: ignore[arg-type]
