"""[[layer]]: what the land holds that the line must heed."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection
from typing import Any

from routing.errors import SettingsError
from routing.land import GROUND, KINDS, Layer, Shape, shapes_of
from routing.settings.readers import Reader, choice, quantity, text
from routing.settings.rows import row
from routing.value import dataclass

__all__ = ["LayerSettings"]


def _file(value: object, name: str) -> None:
    raise SettingsError(
        f"{name} = {str(value)[:80]!r} names a file, which only a settings file may.",
        "Give the shapes in place, as features.",
    )


_KIND = choice(*KINDS, GROUND)
_FEATURES = {
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
}


@dataclass(frozen=True, slots=True, kw_only=True)
class LayerSettings:
    """[[layer]]: areas and lines of one kind, and what is said of all of them."""

    kind: str = row(
        _KIND,
        "what the shapes mean for the line",
        "no-go",
        needed=True,
    )
    file: None = row(
        Reader(
            read=_file,
            schema={},
            takes="a GeoJSON, GeoPackage, KML, KMZ or shapefile (zipped too) beside the settings "
            "file",
        ),
        "lines and areas in the system that the file states; of their properties `name`, "
        "`width_m`, `depth_m` (ground to the top of a service) and `consent` are read",
        "no-go.geojson",
        without="features, in place",
    )
    features: tuple[Shape, ...] = row(
        Reader(
            read=lambda value, name: value,
            schema={
                "type": "object",
                "required": ["features"],
                "properties": {
                    "features": {"type": "array", "items": {"type": "object"}, "minItems": 1}
                },
            },
            takes="a GeoJSON FeatureCollection of lines and polygons in WGS 84",
            several=True,
        ),
        "the same in place",
        _FEATURES,
        without="file",
    )
    label: str = row(text(80), "property that names each shape", "parcel_no", "name")
    crs: str | None = row(
        text(4000),
        "coordinate system of a file that states none",
        "EPSG:32628",
        without="WGS 84",
    )
    width: float | None = row(
        quantity("length", "0 m", "2 km"),
        "width of what the lines stand for, so that the crossing has a length",
        "4 m",
        without="that of each line's `width_m`, else a line without width",
    )
    beside: float | None = row(
        quantity("length", "0 m", "200 m"),
        "how near the line lies along a road, stream or service",
        "3 m",
        without="2 m of a road, 5 m of a stream, 1 m of a service",
    )
    flood_depth: float | None = row(
        quantity("length", "0 m", "50 m"),
        "depth of a stream in flood, by which its bed scours",
        "1.4 m",
        without="scour is not judged",
    )
    consent: str | None = row(
        text(80),
        "reference of the owner's consent for the whole layer",
        "letter of 3 May",
        without="that of each shape's `consent`, else none: the study says that it lacks",
    )

    def consistent(self, name: str, given: Collection[str]) -> LayerSettings:
        """Return the layer with its shapes read, if it has any."""
        raw: Any = self.features
        if "features" not in given:
            raise SettingsError(
                f"{name} has no features.", 'Write, for example, file = "no-go.geojson".'
            )
        shapes = shapes_of(raw, f"{name}.features", named_by=self.label)
        if self.kind == GROUND:
            for shape in shapes:
                if not (shape.area and shape.name):
                    raise SettingsError(
                        f"{name} is ground, and {shape.name!r} in it is no area with a class.",
                        "Give areas, each with its class of ground as its name; label says which "
                        "property that is.",
                    )
        return dataclasses.replace(self, features=shapes)

    @property
    def layer(self) -> Layer:
        """Return the layer as the room of the land takes it."""
        return Layer(
            kind=self.kind,
            shapes=self.features,
            width_m=self.width,
            beside_m=self.beside,
            flood_m=self.flood_depth,
            consent=self.consent,
        )
