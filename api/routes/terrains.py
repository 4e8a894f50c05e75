"""Elevation rasters: upload, list, look at, remove."""

from __future__ import annotations

from typing import Annotated, Any

from fastapi import APIRouter, Query, Request, Response
from starlette.concurrency import run_in_threadpool

from api.compute import terrain_facts
from api.deps import ServiceDep
from api.schemas import Bounds, Limit, Offset, PathIdentity, TerrainOut, problems
from api.storage import StoredTerrain
from api.strict import StrictJsonRoute
from api.upload import receive_upload
from routing.terrain.map_tile import closest_zoom

router = APIRouter(prefix="/api/terrains", tags=["terrains"], route_class=StrictJsonRoute)

UPLOAD_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {
                        "file": {
                            "type": "string",
                            "format": "binary",
                            "description": "An elevation raster, or a ZIP archive of its tiles.",
                        },
                        "prj": {
                            "type": "string",
                            "format": "binary",
                            "description": "The .prj beside a raster that has no CRS of its own.",
                        },
                    },
                }
            }
        },
    }
}
LOCATION = {"Location": {"description": "Its address.", "schema": {"type": "string"}}}


def terrain_out(terrain: StoredTerrain) -> TerrainOut:
    """Return a terrain as it is answered."""
    facts = terrain.facts
    box, cell_m = facts.get("bounds_deg"), facts.get("cell_m")
    zoom = None
    if box is not None and cell_m is not None:
        zoom = closest_zoom(cell_m, (box["south"] + box["north"]) / 2.0)
    return TerrainOut(
        id=terrain.id,
        name=terrain.name,
        created=terrain.created,
        facts=facts,
        bounds=Bounds(**box) if box is not None else None,
        cell_m=cell_m,
        lowest_m=facts.get("lowest_m"),
        highest_m=facts.get("highest_m"),
        max_zoom=zoom,
    )


@router.get("", responses=problems(422))
def list_terrains(service: ServiceDep, limit: Limit = 1000, offset: Offset = 0) -> list[TerrainOut]:
    """List the terrains, the newest first."""
    return [terrain_out(terrain) for terrain in service.storage.terrains(limit, offset)]


@router.post(
    "",
    status_code=201,
    response_model=TerrainOut,
    responses={
        200: {"model": TerrainOut, "description": "It was here already.", "headers": LOCATION},
        201: {"headers": LOCATION},
        **problems(400, 403, 413, 415, 422),
    },
    openapi_extra=UPLOAD_BODY,
)
async def upload_terrain(
    request: Request,
    response: Response,
    service: ServiceDep,
    once: Annotated[
        bool, Query(description="Answer with the terrain of the very same files if there is one.")
    ] = False,
) -> TerrainOut:
    """Take in one raster as a terrain; without a CRS of its own it needs one in each study."""
    storage, settings = service.storage, service.settings
    with storage.incoming_folder() as folder:
        raster, name = await receive_upload(request, folder, settings.max_upload_bytes)
        known = await run_in_threadpool(storage.same_terrain, raster) if once else None
        if known is not None:
            response.status_code = 200
            response.headers["location"] = f"/api/terrains/{known.id}"
            return terrain_out(known)
        facts = await request.state.lanes.work(request.scope, terrain_facts, raster, settings)
        stored = await run_in_threadpool(storage.add_terrain, folder, name, facts)
    response.headers["location"] = f"/api/terrains/{stored.id}"
    return terrain_out(stored)


@router.get("/{terrain_id}", responses=problems(404, 422))
def get_terrain(terrain_id: PathIdentity, service: ServiceDep) -> TerrainOut:
    """Return one terrain."""
    return terrain_out(service.storage.terrain(terrain_id))


@router.delete("/{terrain_id}", status_code=204, responses=problems(403, 404, 409, 422))
def delete_terrain(terrain_id: PathIdentity, service: ServiceDep) -> None:
    """Remove a terrain that no study needs."""
    service.storage.delete_terrain(terrain_id)
