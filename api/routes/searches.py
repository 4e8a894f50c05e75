"""Lines between two places, proposed as a job."""

from __future__ import annotations

from fastapi import APIRouter, Response

from api.deps import Service, ServiceDep
from api.routes.jobs import job_out
from api.schemas import JobOut, problems
from api.search_job import TerrainRequest, run_search
from api.search_schemas import SearchIn
from api.strict import StrictJsonRoute
from routing.settings import settings_from_mapping

router = APIRouter(prefix="/api/searches", tags=["searches"], route_class=StrictJsonRoute)

LOCATION = {"Location": {"description": "Address of the job.", "schema": {"type": "string"}}}


def terrain_request(body: SearchIn, service: Service) -> TerrainRequest:
    """Return what a body asks for, with the terrain's files looked up and the settings read."""
    settings_from_mapping(body.settings)  # refused before anything is queued
    stored = [service.storage.terrain(terrain) for terrain in body.terrains]
    return TerrainRequest(
        settings=body.settings,
        names=tuple(terrain.name for terrain in stored),
        paths=tuple(service.storage.raster_path(terrain) for terrain in stored),
    )


@router.post(
    "",
    status_code=202,
    response_class=Response,
    responses={
        202: {
            "model": JobOut,
            "description": "Queued; the job's result is search.json with the studies in it.",
            "headers": LOCATION,
        },
        **problems(400, 403, 404, 413, 422, 503),
    },
)
def start_search(body: SearchIn, service: ServiceDep) -> Response:
    """Seek lines between two places: a job with progress, which can be cancelled."""
    job = service.jobs.start(run_search, terrain_request(body, service), body.start, body.end)
    return Response(
        job_out(job).model_dump_json(),
        202,
        {"location": f"/api/jobs/{job.id}"},
        media_type="application/json",
    )
