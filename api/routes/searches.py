"""Lines between two places, and whole valleys, sought as jobs."""

from __future__ import annotations

from typing import Any

from fastapi import APIRouter, Response

from api.deps import Service, ServiceDep
from api.jobs import Job
from api.routes.jobs import job_out
from api.schemas import JobOut, problems
from api.search_job import TerrainRequest, run_screen, run_search
from api.search_schemas import ScreenIn, SearchIn
from api.strict import StrictJsonRoute
from routing.settings import settings_from_mapping

router = APIRouter(prefix="/api", tags=["searches"], route_class=StrictJsonRoute)

LOCATION = {"Location": {"description": "Address of the job.", "schema": {"type": "string"}}}


def terrain_request(body: ScreenIn, service: Service) -> TerrainRequest:
    """Return what a body asks for, with the terrain's files looked up and the settings read."""
    settings_from_mapping(body.settings)  # refused before anything is queued
    stored = [service.storage.terrain(terrain) for terrain in body.terrains]
    return TerrainRequest(
        settings=body.settings,
        names=tuple(terrain.name for terrain in stored),
        paths=tuple(service.storage.raster_path(terrain) for terrain in stored),
    )


def _queued(result: str) -> dict[int | str, dict[str, Any]]:
    """Return the OpenAPI entries of a route that queues a job with this result."""
    said = f"Queued; the job's result is {result} with the studies in it."
    return {
        202: {"model": JobOut, "description": said, "headers": LOCATION},
        **problems(400, 403, 404, 413, 422, 503),
    }


def _answer(job: Job) -> Response:
    return Response(
        job_out(job).model_dump_json(),
        202,
        {"location": f"/api/jobs/{job.id}"},
        media_type="application/json",
    )


@router.post(
    "/searches",
    status_code=202,
    response_class=Response,
    responses=_queued("search.json"),
)
def start_search(body: SearchIn, service: ServiceDep) -> Response:
    """Seek lines between two places: a job with progress, which can be cancelled."""
    return _answer(
        service.jobs.start(run_search, terrain_request(body, service), body.start, body.end)
    )


@router.post("/screens", status_code=202, response_class=Response, responses=_queued("screen.json"))
def start_screen(body: ScreenIn, service: ServiceDep) -> Response:
    """Rank all pairs of intake and powerhouse along a terrain's streams: a job with progress."""
    return _answer(service.jobs.start(run_screen, terrain_request(body, service)))
