"""What is laid over the map, and where a raster without a coordinate system lies."""

from __future__ import annotations

import base64
from collections.abc import Callable
from functools import lru_cache, partial
from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool

from api.deps import ServiceDep
from api.page_schemas import CrsOut, LayerOut, OverlayOut, PlaceOut
from api.routes.routes import FILE
from api.routes.tiles import source_of
from api.schemas import Bounds, PathIdentity, problems
from api.strict import StrictJsonRoute
from api.upload import receive_file
from routing.errors import LeatlineError
from routing.land import read_layer, shapes_of
from routing.terrain import describe_terrain
from routing.terrain.overlay import read_overlay

router = APIRouter(prefix="/api", tags=["land"], route_class=StrictJsonRoute)

USUAL = ("WGS 84 / UTM", "WGS 84", "ETRS89", "NAD83", "")
"""Words in names of systems that are met most often, in the order in which they are offered."""

MOST_FOUND = 25
"""Coordinate systems returned of a search [-]."""


def _form(description: str) -> dict[str, Any]:
    file = {**FILE, "description": description}
    schema = {"type": "object", "required": ["file"], "properties": {"file": file}}
    content = {"multipart/form-data": {"schema": schema}}
    return {"requestBody": {"required": True, "content": content}}


@router.post(
    "/layers",
    responses=problems(400, 403, 413, 415, 422),
    openapi_extra=_form("GeoJSON, GeoPackage, KML, KMZ or zipped shapefile of lines and areas."),
)
async def read_layer_file(
    request: Request,
    service: ServiceDep,
    crs: Annotated[
        str | None, Query(max_length=4000, description="Of a file that states none; else WGS 84.")
    ] = None,
) -> LayerOut:
    """Read the lines and areas of a file, for a [[layer]] of the settings; nothing is kept."""
    with service.storage.incoming_folder() as folder:
        path, name = await receive_file(request, folder, service.settings.max_body_bytes)
        features = await run_in_threadpool(_named, path, name, partial(_layer, crs=crs))
    return LayerOut(name=name.rpartition(".")[0] or name, features=features)


def _layer(path: Path, crs: str | None) -> dict[str, Any]:
    """Return the features of a file, if a layer may hold them."""
    features = read_layer(path, crs=crs)
    shapes_of(features, path.name, named_by="name")
    return features


@router.post(
    "/overlays",
    responses=problems(400, 403, 413, 415, 422),
    openapi_extra=_form("A GeoTIFF picture with a coordinate system."),
)
async def read_overlay_file(request: Request, service: ServiceDep) -> OverlayOut:
    """Turn a georeferenced picture to the map's projection; nothing is kept."""
    with service.storage.incoming_folder() as folder:
        path, name = await receive_file(request, folder, service.settings.max_upload_bytes)
        found = await request.state.lanes.work(request.scope, _named, path, name, read_overlay)
    box = Bounds(west=found.west, south=found.south, east=found.east, north=found.north)
    picture = base64.b64encode(found.picture).decode("ascii")
    return OverlayOut(name=name, bounds=box, picture=f"data:image/webp;base64,{picture}")


def _named(path: Path, name: str, read: Callable[[Path], Any]) -> Any:
    """Return what is read of a file; errors speak of it by the client's name."""
    try:
        return read(path)
    except LeatlineError as exc:
        problem = exc.problem.replace(str(path), name).replace(path.name, name)
        raise type(exc)(problem, exc.remedy) from exc


@router.get("/crs", responses=problems(422))
def search_crs(
    q: Annotated[str, Query(min_length=1, max_length=200, description="Words or a code.")],
) -> list[CrsOut]:
    """Find coordinate systems on the plane by words of their name or area, or by code."""
    words = q.casefold().replace("epsg:", " ").split()
    found = [row for text, row in _systems() if all(word in text for word in words)]
    found.sort(key=lambda row: next(at for at, usual in enumerate(USUAL) if usual in row.name))
    exact = [row for row in found if row.code == f"EPSG:{q.strip().split(':')[-1]}"]
    return [*exact, *(row for row in found if row not in exact)][:MOST_FOUND]


@lru_cache(maxsize=1)
def _systems() -> tuple[tuple[str, CrsOut], ...]:
    """Return the systems of the database that travels with PROJ, with the text to search."""
    from pyproj.database import query_crs_info
    from pyproj.enums import PJType

    kinds = [PJType.PROJECTED_CRS, PJType.GEOGRAPHIC_2D_CRS, PJType.COMPOUND_CRS]
    rows = query_crs_info(auth_name="EPSG", pj_types=kinds)
    made = []
    for row in rows:
        area = "" if row.area_of_use is None else str(row.area_of_use.name)
        out = CrsOut(code=f"EPSG:{row.code}", name=row.name, area=area)
        made.append((f"{row.code} {row.name} {area}".casefold().replace(" / ", " "), out))
    return tuple(made)


@router.get("/terrains/{terrain_id}/place", responses=problems(404, 413, 422))
def place_of(
    terrain_id: PathIdentity,
    service: ServiceDep,
    crs: Annotated[str, Query(min_length=1, max_length=4000, description="Taken for the raster.")],
) -> PlaceOut:
    """Say where a raster lies if its numbers are of a coordinate system."""
    _, source = source_of(service, terrain_id, crs)
    found = describe_terrain(source.terrain)  # the tiles' range is of means of cells
    return PlaceOut(
        bounds=Bounds(west=source.west, south=source.south, east=source.east, north=source.north),
        cell_m=source.terrain.cell_m,
        lowest_m=source.low_m if found["lowest_m"] is None else found["lowest_m"],
        highest_m=source.high_m if found["highest_m"] is None else found["highest_m"],
    )
