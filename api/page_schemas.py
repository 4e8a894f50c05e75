"""What the planning page and the field sheet exchange besides studies and terrains."""

from __future__ import annotations

from typing import Annotated, Any

from pydantic import BeforeValidator, Field, JsonValue, StringConstraints, WithJsonSchema

from api.schemas import Answer, Body, Bounds, Finite, TerrainOut

__all__ = [
    "CrsOut",
    "LayerOut",
    "OverlayOut",
    "PipeOut",
    "PlaceOut",
    "ProvenanceInput",
    "ProvenanceOut",
    "RecordsIn",
    "RecordsTaken",
    "RouteOut",
    "SampleOut",
    "SettingsIn",
    "SettingsOut",
]


class RouteOut(Answer):
    """A line as it was drawn, intake first, WGS 84."""

    name: str
    lon: list[Finite] = Field(description="Longitudes [deg].")
    lat: list[Finite] = Field(description="Latitudes [deg].")


class SampleOut(Answer):
    """The sample: where its valley is kept here, the line through it and what is known of it."""

    terrain: TerrainOut
    route: dict[str, Any] = Field(description="The line as GeoJSON.")
    settings: dict[str, Any] = Field(description="The tables of its settings file.")


FileName = Annotated[str, StringConstraints(pattern=r"^[A-Za-z0-9_-][A-Za-z0-9 ._-]{0,79}$")]
MOST_FILES = 20
"""Files that a settings file names, as sent along [-]."""


def _few(given: Any) -> Any:
    """Refuse very many files in one sentence, not in one for each of them."""
    if isinstance(given, dict) and len(given) > MOST_FILES:
        raise ValueError(f"there are {len(given)} files, {MOST_FILES} at most are taken")
    return given


Files = Annotated[
    dict[FileName, Annotated[str, StringConstraints(max_length=5_000_000)]], BeforeValidator(_few)
]


class SettingsIn(Body):
    """A settings file, and the text files that it names, by their names."""

    toml: str = Field(max_length=500_000, description="What stands in the file.")
    files: Files = Field(default_factory=dict, max_length=MOST_FILES)


class SettingsOut(Answer):
    """A settings file as tables, what the files it names hold in the place of their names."""

    settings: dict[str, Any]


class LayerOut(Answer):
    """Lines and areas of a file."""

    name: str = Field(description="The file's, without its ending.")
    features: dict[str, Any] = Field(description="A GeoJSON FeatureCollection in WGS 84.")


class OverlayOut(Answer):
    """A picture in the projection of web maps."""

    name: str
    bounds: Bounds
    picture: str = Field(description="WebP as a data address.")


class CrsOut(Answer):
    """A coordinate system."""

    code: str
    name: str
    area: str = Field(description="Where it is for.")


class PlaceOut(Answer):
    """Where a raster lies if its numbers are of a coordinate system."""

    bounds: Bounds
    cell_m: Finite
    lowest_m: Finite
    highest_m: Finite


class PipeOut(Answer):
    """A pipe of the catalogue."""

    id: str
    label: str
    material: str
    standard: str | None
    series: str | None
    nominal: str | None
    outside_diameter_m: Finite
    inside_diameter_m: Finite
    wall_m: Finite
    rating_kpa: Finite | None
    rating_reference_c: Finite | None = Field(description="Temperature of the rating [degC].")
    mass_kg_m: Finite | None
    roughness_m: Finite = Field(description="Roughness to design with, aged [m].")
    dimension_status: str
    dimension_source: str
    rating_status: str
    rating_source: str


class ProvenanceInput(Answer):
    """One thing that a number is made of."""

    name: str
    words: str = Field(description="The name as people say it.")
    meaning: str
    unit: str


class ProvenanceOut(Answer):
    """How a number of a study came about."""

    key: str
    name: str
    meaning: str = Field(description="What the function behind it does.")
    formula: str = Field(description="In words.")
    equations: list[str] = Field(description="The equations as MathML.")
    inputs: list[ProvenanceInput]
    notes: str = Field(description="How far it holds.")
    source: list[str]


class RecordsIn(Body):
    """Records as a crew brings them home; those already known change nothing."""

    records: Annotated[
        list[dict[str, JsonValue]],
        Field(max_length=1000),
        WithJsonSchema(
            {
                "type": "array",
                "maxItems": 1000,
                "items": {"$ref": "#/components/schemas/RecordIn"},
            }
        ),
    ]


class RecordsTaken(Answer):
    """How many records were news."""

    taken: int = Field(ge=0)
