"""What crosses the HTTP face: request and response models, apart from each other."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Annotated, Any, Literal

from fastapi import Path, Query
from pydantic import (
    BaseModel,
    ConfigDict,
    Field,
    JsonValue,
    StringConstraints,
    WithJsonSchema,
    model_validator,
)

from routing.settings import settings_schema

__all__ = [
    "BINARY",
    "ETAG_HEADER",
    "Bounds",
    "Health",
    "JobOut",
    "PreviewIn",
    "Problem",
    "RevisionRow",
    "StudyIn",
    "StudyRow",
    "TerrainOut",
    "body_of",
    "json_body",
    "problems",
]

Identity = Annotated[str, StringConstraints(pattern=r"^[0-9a-f]{16}$")]
"""The id of a terrain, study or job."""
PathIdentity = Annotated[str, Path(max_length=64)]
"""An id in an address; an unknown one is simply not found."""
Name = Annotated[str, StringConstraints(strip_whitespace=True, min_length=1, max_length=200)]
Finite = Annotated[float, Field(allow_inf_nan=False)]
MOST_MEMBERS = 100
"""Members of a body that are looked at [-]; there are some ten to know."""

POSITION = {
    "type": "array",
    "prefixItems": [
        {"type": "number", "minimum": -540, "maximum": 540, "description": "longitude [deg]"},
        {"type": "number", "minimum": -90, "maximum": 90, "description": "latitude [deg]"},
    ],
    "minItems": 2,
}
GEOMETRY: dict[str, Any] = {
    "type": "object",
    "required": ["type", "coordinates"],
    "properties": {
        "type": {"const": "LineString"},
        "coordinates": {"type": "array", "minItems": 2, "items": POSITION},
    },
}
FEATURE: dict[str, Any] = {
    "type": "object",
    "required": ["type", "geometry"],
    "properties": {"type": {"const": "Feature"}, "geometry": GEOMETRY},
}
ROUTE_SCHEMA: dict[str, Any] = {
    "description": "The drawn line, intake first: GeoJSON (RFC 7946), WGS 84, lon then lat.",
    "examples": [{"type": "LineString", "coordinates": [[-14.2, 62.1], [-14.19, 62.105]]}],
    "anyOf": [
        GEOMETRY,
        FEATURE,
        {
            "type": "object",
            "required": ["type", "features"],
            "properties": {
                "type": {"const": "FeatureCollection"},
                "features": {"type": "array", "minItems": 1, "items": FEATURE},
            },
        },
        {
            "type": "object",
            "required": ["type", "coordinates"],
            "properties": {
                "type": {"const": "MultiLineString"},
                "coordinates": {
                    "type": "array",
                    "minItems": 1,
                    "items": {"type": "array", "minItems": 2, "items": POSITION},
                },
            },
        },
    ],
}

RouteJson = Annotated[dict[str, JsonValue], WithJsonSchema(ROUTE_SCHEMA)]
SettingsJson = Annotated[
    dict[str, JsonValue], Field(default_factory=dict), WithJsonSchema(settings_schema())
]


class Body(BaseModel):
    """Base of request bodies: unknown members and non-finite numbers are refused."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    @model_validator(mode="before")
    @classmethod
    def _few_members(cls, given: Any) -> Any:
        """Refuse a body of very many members in one sentence, not in one for each of them."""
        if isinstance(given, dict) and len(given) > MOST_MEMBERS:
            raise ValueError(f"it has {len(given)} members, {MOST_MEMBERS} at most are looked at")
        return given


class PreviewIn(Body):
    """A line to compute without saving."""

    route: RouteJson
    terrain: Identity | Annotated[list[Identity], Field(min_length=1, max_length=64)] = Field(
        description="A terrain's id, or several ids whose rasters are tiles of one terrain."
    )
    settings: SettingsJson
    name: Name | None = Field(default=None, description="Name; else the line's own.")

    @property
    def terrains(self) -> tuple[str, ...]:
        """The ids of all tiles, in order."""
        return (self.terrain,) if isinstance(self.terrain, str) else tuple(self.terrain)


class Alternative(Body):
    """Another line of the same study: its figures stand in ``lines`` of the saved study."""

    name: Name
    route: RouteJson
    settings: SettingsJson
    same_land: bool = Field(
        default=False, description="Over the layers of the study's own settings, sent once."
    )


class StudyIn(PreviewIn):
    """A study to compute and save."""

    label: Name | None = Field(
        default=None, description="Name of this revision; named ones are kept longer."
    )
    alternatives: Annotated[list[Alternative], Field(max_length=50)] = Field(
        default_factory=list, description="Other lines, computed and compared in `lines`."
    )
    plan: dict[str, JsonValue] = Field(
        default_factory=dict,
        description="What the planning page keeps along; returned as sent.",
    )


class Answer(BaseModel):
    """Base of responses, made from a value whose fields have the same names too."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False, from_attributes=True)


class Bounds(Answer):
    """A box of longitude and latitude, WGS 84; ``east`` may run past 180."""

    west: Finite
    south: Finite
    east: Finite
    north: Finite


class TerrainOut(Answer):
    """A terrain in the data folder."""

    id: str
    name: str
    created: str = Field(description="When it came in, UTC (ISO 8601).")
    facts: dict[str, JsonValue] = Field(
        description="What is understood of the raster: size, CRS, cell, unit, range, voids."
    )
    bounds: Bounds | None = Field(description="Its box; null where its CRS is not known.")
    cell_m: Finite | None = Field(description="Size of a cell on the ground [m].")
    lowest_m: Finite | None = Field(description="Lowest elevation found [m].")
    highest_m: Finite | None = Field(description="Highest elevation found [m].")
    max_zoom: int | None = Field(description="Zoom of tiles beyond which nothing new shows.")


class RevisionRow(Answer):
    """A kept revision of a study."""

    revision: int = Field(ge=1)
    created: str = Field(description="When it was saved, UTC (ISO 8601).")
    etag: str
    label: str | None
    who: str | None = Field(description="Who saved it, where access is kept.")


class StudyRow(Answer):
    """A saved study as lists show it."""

    id: str
    name: str
    created: str = Field(description="When it was first saved, UTC (ISO 8601).")
    updated: str = Field(description="When its newest revision was saved, UTC (ISO 8601).")
    revision: int = Field(ge=1)
    etag: str = Field(description="Entity tag of the newest revision, for If-Match.")
    terrains: list[str]


class JobOut(Answer):
    """Long work and how far it is."""

    id: str
    state: Literal["waiting", "running", "done", "failed", "stopped"]
    progress: Finite = Field(ge=0, le=1)
    doing: str
    result: dict[str, JsonValue] | None = Field(
        description="When done: id and revision of a saved study, or the result of a search."
    )
    problem: dict[str, JsonValue] | None = Field(description="When failed: why, as a problem.")


class Health(Answer):
    """That the service answers, and what it is made of."""

    status: Literal["ok"]
    version: str
    python: str
    gdal: str
    proj: str
    geos: str
    rasterio: str
    terrains: int = Field(ge=0)
    studies: int = Field(ge=0)
    warming: bool = Field(
        description="Whether loops are still being compiled, so that answers take longer; on a new "
        "machine for a minute after the start."
    )


class FieldProblem(Answer):
    """One field of a request that cannot be used."""

    where: str
    message: str


class Problem(BaseModel):
    """Why a request was not answered as asked (RFC 9457)."""

    model_config = ConfigDict(extra="forbid", allow_inf_nan=False)

    type: str = Field(description="URI reference; /api/problems explains every code.")
    title: str
    status: int = Field(ge=400, le=599)
    detail: str
    instance: str = Field(description="Path of the request.")
    code: str
    hint: str = Field(description="What to do about it; may be empty.")
    station_m: Finite | None = Field(
        default=None, description="Place on the line, from the intake [m]."
    )
    lon: Finite | None = Field(default=None, description="Longitude of the place [deg].")
    lat: Finite | None = Field(default=None, description="Latitude of the place [deg].")
    fields: list[FieldProblem] | None = None


class ProblemKind(Answer):
    """One kind of problem."""

    status: int
    meaning: str


Limit = Annotated[int, Query(ge=1, le=1000, description="Most entries to return.")]
Offset = Annotated[int, Query(ge=0, le=1_000_000, description="Entries to skip.")]

TEXT = {"type": "string"}
BINARY = {"type": "string", "format": "binary"}
ETAG_HEADER = {"ETag": {"description": "The revision's tag.", "schema": {"type": "string"}}}

_WHY = {
    400: "The body or form cannot be read.",
    401: "Nobody known sent the request.",
    403: "The role may not do this, or another web site sent the request.",
    404: "There is no such thing.",
    405: "The address has no such method.",
    408: "The body came in too slowly.",
    409: "It is still in use.",
    412: "The revision named in If-Match is not the newest.",
    413: "Beyond a limit of the service.",
    415: "The body is of another kind.",
    421: "The service does not go by the name in the Host header.",
    422: "The input cannot be used.",
    428: "If-Match is missing.",
    500: "A fault of ours.",
    503: "Too much work waits already.",
    507: "The volume of the data folder is full.",
}


def problems(*statuses: int) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI entries of the problem responses a route may give (500 always)."""
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        status: {
            "description": _WHY[status],
            "content": {"application/problem+json": {"schema": schema}},
        }
        for status in (*statuses, 500)
    }


def json_body(schema: str, description: str, **more: Any) -> dict[str, Any]:
    """Return the OpenAPI entry of a JSON response whose schema is a named component."""
    ref = {"$ref": f"#/components/schemas/{schema}"}
    return body_of(description, "application/json", schema=ref, **more)


def body_of(
    description: str, *media: str, schema: Mapping[str, Any] = TEXT, **more: Any
) -> dict[str, Any]:
    """Return the OpenAPI entry of a response in any of some media types."""
    return {"description": description, "content": {m: {"schema": schema} for m in media}, **more}
