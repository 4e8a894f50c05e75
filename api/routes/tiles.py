"""Shaded relief and contours of a terrain, in the square tiles of web maps."""

from __future__ import annotations

from collections.abc import Callable
from typing import Annotated, Any, NamedTuple

import orjson
from fastapi import APIRouter, Depends, Header, Path, Query, Response

from api.deps import Service, ServiceDep
from api.schemas import BINARY, PathIdentity, body_of, problems
from api.storage import etag_of
from api.strict import StrictJsonRoute
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain
from routing.terrain.contour import ContourTile, contour_tile
from routing.terrain.map_tile import MAX_ZOOM, TileSource, relief_tile
from routing.terrain.slope_tile import slope_tile
from routing.units import UnitSystem

router = APIRouter(
    prefix="/api/terrains/{terrain_id}", tags=["terrains"], route_class=StrictJsonRoute
)

VERSION = "1"
"""Goes up when tiles of the same terrain come to look different."""

KEPT = "private, max-age=86400"
PASSING = "no-store"
"""A draft is looked at again; its better successor has the same address."""

MOST_TILES = 2**MAX_ZOOM - 1

Zoom = Annotated[int, Path(ge=0, le=MAX_ZOOM, description="Zoom: 2**z tiles go round the Earth.")]
Across = Annotated[int, Path(ge=0, le=MOST_TILES, description="Column, from 180 degrees west.")]
Down = Annotated[int, Path(ge=0, le=MOST_TILES, description="Row, from the north.")]
Crs = Annotated[
    str | None,
    Query(max_length=4000, description="Coordinate system, over what the raster states."),
]
Unit = Annotated[
    str | None, Query(max_length=40, description="Vertical unit, over what the raster states.")
]
Band = Annotated[int, Query(ge=1, le=1000, description="Band that holds the elevations.")]
IfNoneMatch = Annotated[str | None, Header(max_length=4000)]


class TilePlace(NamedTuple):
    """A tile of the usual pyramid: zoom, column, row."""

    z: int
    x: int
    y: int


TILE_HEADERS = {
    "ETag": {"description": "The tile's tag.", "schema": {"type": "string"}},
    "Cache-Control": {"description": "How long it may be kept.", "schema": {"type": "string"}},
}


def _tiles(said: str, media: str, schema: dict[str, Any]) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI entries of a route of tiles."""
    return {
        200: body_of(said, media, schema=schema, headers=TILE_HEADERS),
        204: {"description": "Nothing of the terrain is in the tile."},
        304: {"description": "Unchanged since the tile in If-None-Match."},
        **problems(404, 413, 422),
    }


LINE: dict[str, Any] = {
    "type": "object",
    "additionalProperties": False,
    "required": ["level_m", "level", "index", "points"],
    "properties": {
        "level_m": {"type": "number", "description": "Elevation [m]."},
        "level": {"type": "number", "description": "Elevation in the tile's unit."},
        "index": {"type": "boolean", "description": "Every fifth level, to be drawn heavier."},
        "points": {
            "type": "array",
            "minItems": 2,
            "items": {
                "type": "array",
                "items": {"type": "number"},
                "minItems": 2,
                "maxItems": 2,
            },
            "description": "Longitude and latitude, WGS 84 [deg].",
        },
    },
}
CONTOURS: dict[str, Any] = {
    "type": "object",
    "additionalProperties": False,
    "required": ["interval_m", "interval", "unit", "lines"],
    "properties": {
        "interval_m": {"type": "number", "description": "Between contours [m]."},
        "interval": {"type": "number", "description": "Between contours, in the unit."},
        "unit": {"enum": ["m", "ft"], "description": "In which levels are round."},
        "lines": {"type": "array", "items": LINE},
    },
}


def tile_place(z: Zoom, x: Across, y: Down) -> TilePlace:
    """Return which tile is asked for."""
    return TilePlace(z, x, y)


def asked_source(
    terrain_id: PathIdentity,
    service: ServiceDep,
    crs: Crs = None,
    unit: Unit = None,
    band: Band = 1,
) -> tuple[tuple[Any, ...], TileSource]:
    """Return the terrain that is asked for, read as asked."""
    return source_of(service, terrain_id, crs, unit, band)


PlaceDep = Annotated[TilePlace, Depends(tile_place)]
SourceDep = Annotated[tuple[tuple[Any, ...], TileSource], Depends(asked_source)]


def source_of(
    service: Service,
    terrain_id: str,
    crs: str | None = None,
    unit: str | None = None,
    band: int = 1,
) -> tuple[tuple[Any, ...], TileSource]:
    """Return a terrain's source of tiles and the key that tells it from others."""
    path = service.storage.terrain_path(terrain_id)
    given = {"crs": crs, "unit": unit, "band": band if band != 1 else None}
    table = {name: value for name, value in given.items() if value is not None}
    settings = settings_from_mapping({"terrain": table} if table else {})
    key = (terrain_id, crs, unit, band)
    source = service.relief.source(
        key,
        lambda: open_study_terrain([path], settings),
        service.storage.relief_folder(terrain_id),
    )
    return key, source


def _answer(
    service: Service,
    key: tuple[Any, ...],
    source: TileSource,
    known: str | None,
    make: Callable[[], bytes | None],
    media: str,
) -> Response:
    """Return a tile, or that it is empty or unchanged."""
    tag = etag_of(repr((VERSION, *key)).encode())
    headers = {"etag": tag, "cache-control": PASSING if source.draft else KEPT}
    if not source.draft and known is not None:
        tags = [one.strip().removeprefix("W/") for one in known.split(",")]
        if tag in tags:
            return Response(None, 304, headers)
    made = make() if source.draft else service.relief.tile(key, make)
    if made is None:
        return Response(None, 204, headers)
    return Response(made, 200, headers, media_type=media)


@router.get(
    "/relief/{z}/{x}/{y}",
    response_class=Response,
    responses=_tiles("256 pixels a side, clear where elevation is missing.", "image/webp", BINARY),
)
def relief(
    place: PlaceDep,
    asked: SourceDep,
    service: ServiceDep,
    scale: Annotated[int, Query(ge=1, le=2, description="2: twice the pixels a side.")] = 1,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Return the shaded relief of one tile."""
    key, source = asked
    return _answer(
        service,
        ("relief", *key, *place, scale),
        source,
        if_none_match,
        lambda: relief_tile(source, *place, scale=scale),
        "image/webp",
    )


@router.get(
    "/slope/{z}/{x}/{y}",
    response_class=Response,
    responses=_tiles(
        "256 pixels a side, clear where the ground is gentle or missing.", "image/webp", BINARY
    ),
)
def slope(
    place: PlaceDep, asked: SourceDep, service: ServiceDep, if_none_match: IfNoneMatch = None
) -> Response:
    """Return the steepness of the ground in one tile, by classes."""
    key, source = asked
    return _answer(
        service,
        ("slope", *key, *place),
        source,
        if_none_match,
        lambda: slope_tile(source, *place),
        "image/webp",
    )


@router.get(
    "/contours/{z}/{x}/{y}",
    response_class=Response,
    responses=_tiles(
        "Contours, cut at the tile's edges, where the neighbours' go on.",
        "application/json",
        CONTOURS,
    ),
)
def contours(
    place: PlaceDep,
    asked: SourceDep,
    service: ServiceDep,
    units: Annotated[
        UnitSystem, Query(description="Whether levels are round in m or ft.")
    ] = "metric",
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Return the contours of one tile."""
    key, source = asked
    return _answer(
        service,
        ("contours", *key, *place, units),
        source,
        if_none_match,
        lambda: contours_json(contour_tile(source, *place, units)),
        "application/json",
    )


def contours_json(tile: ContourTile | None) -> bytes | None:
    """Return a tile of contours as JSON."""
    if tile is None:
        return None
    lines = [
        {
            "level_m": contour.level_m,
            "level": contour.level,
            "index": contour.index,
            "points": piece.T.tolist(),
        }
        for contour in tile.contours
        for piece in contour.pieces
    ]
    body = {
        "interval_m": tile.interval_m,
        "interval": tile.interval,
        "unit": tile.unit,
        "lines": lines,
    }
    return orjson.dumps(body)
