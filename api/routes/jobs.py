"""Long work: its state, its events, its end."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator

from fastapi import APIRouter, Request
from fastapi.responses import StreamingResponse

from api.deps import Service, ServiceDep
from api.jobs import Job
from api.schemas import JobOut, PathIdentity, body_of, problems
from api.strict import StrictJsonRoute

router = APIRouter(prefix="/api/jobs", tags=["jobs"], route_class=StrictJsonRoute)

POLL_SECONDS = 0.1


def job_out(job: Job) -> JobOut:
    """Return a job as it goes out."""
    return JobOut.model_validate(job)


@router.get("/{job_id}", responses=problems(404, 422))
def get_job(job_id: PathIdentity, service: ServiceDep) -> JobOut:
    """Return how far a job is."""
    return job_out(service.jobs.get(job_id))


@router.delete("/{job_id}", responses=problems(403, 404, 422))
def stop_job(job_id: PathIdentity, service: ServiceDep) -> JobOut:
    """End a job; one that has finished stays as it is."""
    return job_out(service.jobs.stop(job_id))


@router.get(
    "/{job_id}/events",
    response_class=StreamingResponse,
    responses={
        200: body_of(
            "Server-sent events: the job, at each change, until it has finished.",
            "text/event-stream",
        ),
        **problems(404, 422),
    },
)
def job_events(job_id: PathIdentity, request: Request, service: ServiceDep) -> StreamingResponse:
    """Stream a job's state at each change."""
    service.jobs.get(job_id)
    return StreamingResponse(_events(job_id, request, service), media_type="text/event-stream")


async def _events(job_id: str, request: Request, service: Service) -> AsyncIterator[str]:
    last: Job | None = None
    while not await request.is_disconnected():
        job = service.jobs.get(job_id)
        if job != last:
            last = job
            yield f"event: {job.state}\ndata: {job_out(job).model_dump_json()}\n\n"
        if job.finished:
            return
        await asyncio.sleep(POLL_SECONDS)
