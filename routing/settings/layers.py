"""[[layer]]: what the land holds that the line must heed."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.errors import SettingsError
from routing.line import Area
from routing.settings.readers import Reader, choice
from routing.settings.rows import row

__all__ = ["LayerSettings"]

REMEDY = "Give a GeoJSON FeatureCollection of polygons in WGS 84."
MOST_CORNERS = 100_000
"""Most corners of all areas of a layer [-]."""


def _file(value: object, name: str) -> None:
    raise SettingsError(
        f"{name} = {str(value)[:80]!r} names a file, which only a settings file may.",
        "Give the areas in place, as features.",
    )


def _areas(value: object, name: str) -> tuple[Area, ...]:
    """Return the areas of a FeatureCollection of polygons."""
    features = value.get("features") if isinstance(value, Mapping) else None
    if not isinstance(features, list) or not features:
        raise SettingsError(f"{name} is no GeoJSON FeatureCollection.", REMEDY)
    areas = tuple(_area(each, f"{name}[{at}]") for at, each in enumerate(features))
    corners = sum(len(ring) for area in areas for ring in area.rings)
    if corners > MOST_CORNERS:
        raise SettingsError(
            f"{name} has {corners} corners; {MOST_CORNERS} are taken.",
            "Cut the layer to the land about the line.",
        )
    return areas


def _area(feature: object, name: str) -> Area:
    geometry = feature.get("geometry") if isinstance(feature, Mapping) else None
    kind = geometry.get("type") if isinstance(geometry, Mapping) else None
    if not isinstance(geometry, Mapping) or kind not in ("Polygon", "MultiPolygon"):
        raise SettingsError(f"{name} is {kind or 'nothing'}, not a polygon.", REMEDY)
    places = geometry.get("coordinates")
    polygons = [places] if kind == "Polygon" else places
    rings = tuple(_ring(each, name) for each in _listed(polygons, name, deep=2))
    properties = feature.get("properties") if isinstance(feature, Mapping) else None
    called = properties.get("name") if isinstance(properties, Mapping) else None
    return Area(name=" ".join(str(called or "").split())[:80], rings=rings)


def _listed(value: object, name: str, *, deep: int) -> Iterator[Any]:
    if not isinstance(value, list) or not value:
        raise SettingsError(f"{name} has no ring of positions.", REMEDY)
    for each in value:
        if deep == 1:
            yield each
        else:
            yield from _listed(each, name, deep=deep - 1)


def _ring(places: Sequence[Any], name: str) -> FloatArray:
    try:
        ring = np.array([[float(place[0]), float(place[1])] for place in places])
    except (TypeError, ValueError, IndexError, KeyError, OverflowError) as exc:
        raise SettingsError(f"{name} has a position that is no pair of numbers.", REMEDY) from exc
    good = ring.shape[0] >= 3 and np.isfinite(ring).all()
    if not good or (np.abs(ring[:, 0]) > 540.0).any() or (np.abs(ring[:, 1]) > 90.0).any():
        raise SettingsError(
            f"{name} has a ring that is no ring of longitudes and latitudes.", REMEDY
        )
    return ring if (ring[0] == ring[-1]).all() else np.vstack([ring, ring[:1]])


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSettings:
    """[[layer]]: ground that the line must not cross."""

    kind: str = row(choice("no-go"), "what the areas mean for the line", "no-go", needed=True)
    file: None = row(
        Reader(read=_file, schema={}, takes="a GeoJSON file beside the settings file"),
        "areas in WGS 84, with a `name` each if they have one",
        "no-go.geojson",
        without="features, in place",
    )
    features: tuple[Area, ...] = row(
        Reader(
            read=_areas,
            schema={
                "type": "object",
                "required": ["features"],
                "properties": {
                    "features": {"type": "array", "items": {"type": "object"}, "minItems": 1}
                },
            },
            takes="a GeoJSON FeatureCollection of polygons",
            several=True,
        ),
        "the same in place",
        {
            "type": "FeatureCollection",
            "features": [
                {
                    "type": "Feature",
                    "properties": {"name": "bog"},
                    "geometry": {
                        "type": "Polygon",
                        "coordinates": [[[-14.2, 62.1], [-14.19, 62.1], [-14.19, 62.11]]],
                    },
                }
            ],
        },
        without="file",
    )

    def consistent(self, name: str, given: Collection[str]) -> LayerSettings:
        """Return the layer if it has areas."""
        if not self.features:
            raise SettingsError(
                f"{name} has no areas.", 'Write, for example, file = "no-go.geojson".'
            )
        return self
