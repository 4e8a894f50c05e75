"""Studies: compute and save, list, fetch, save again, remove."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import Annotated, Any

from fastapi import APIRouter, Header, Query, Response

from api.compute import StudyRequest, compute_new, computed_lines, encoder, save_new
from api.deps import Service, ServiceDep
from api.errors import RevisionRequired
from api.routes.jobs import job_out
from api.schemas import (
    ETAG_HEADER,
    Alternative,
    JobOut,
    Limit,
    Offset,
    PathIdentity,
    PreviewIn,
    RevisionRow,
    StudyIn,
    StudyRow,
    json_body,
    problems,
)
from api.storage import Revision
from api.strict import StrictJsonRoute
from routing.line import route_from_geojson
from routing.record import keep_names, with_records
from routing.settings import settings_from_mapping

router = APIRouter(prefix="/api/studies", tags=["studies"], route_class=StrictJsonRoute)

__all__ = ["document_of", "newest_document", "request_of", "router", "study_request"]

IfMatch = Annotated[
    str | None, Header(max_length=4000, description="ETag of the revision that is to change.")
]
SAVED = json_body("Study", "The saved study.", headers=ETAG_HEADER)
LOCATION = {"Location": {"description": "Its address.", "schema": {"type": "string"}}}


def _answer(saved: Revision, status: int = 200, **headers: str) -> Response:
    return Response(
        saved.document,
        status,
        {"etag": saved.etag, "cache-control": "no-cache", **headers},
        media_type="application/json",
    )


def request_of(body: PreviewIn, service: Service) -> StudyRequest:
    """Return what a body asks for, with the terrain's files looked up."""
    stored = [service.storage.terrain(terrain) for terrain in body.terrains]
    return StudyRequest(
        name=body.name,
        route=body.route,
        settings=body.settings,
        terrains=body.terrains,
        names=tuple(terrain.name for terrain in stored),
        paths=tuple(service.storage.raster_path(terrain) for terrain in stored),
    )


def _kept(line: Alternative) -> dict[str, Any]:
    """Return another line as it is kept: as it was sent."""
    return line.model_dump(exclude=None if line.same_land else {"same_land"})


def study_request(body: StudyIn, service: Service) -> StudyRequest:
    """Return what a body asks to compute and save, with what is saved along."""
    for line in body.alternatives:  # a line that cannot be read is refused before anything is kept
        route_from_geojson(line.route, name=line.name, source=f"The line {line.name!r}")
        settings_from_mapping(line.settings)
    kept = {
        "label": body.label,
        "alternatives": [_kept(line) for line in body.alternatives],
        "plan": body.plan,
    }
    return replace(
        request_of(body, service),
        label=body.label,
        kept={key: value for key, value in kept.items() if value},
    )


@router.get("", responses=problems(422))
def list_studies(service: ServiceDep, limit: Limit = 1000, offset: Offset = 0) -> list[StudyRow]:
    """List the saved studies, the one changed last first."""
    return [StudyRow.model_validate(row) for row in service.storage.studies(limit, offset)]


@router.post(
    "",
    status_code=201,
    response_class=Response,
    responses={
        201: {**SAVED, "headers": {**ETAG_HEADER, **LOCATION}},
        202: {"model": JobOut, "description": "Queued; see the job.", "headers": LOCATION},
        **problems(400, 403, 404, 413, 422, 503),
    },
)
def create_study(
    body: StudyIn,
    service: ServiceDep,
    prefer: Annotated[
        str, Header(max_length=200, description="'respond-async' queues it as a job (RFC 7240).")
    ] = "",
) -> Response:
    """Compute a study and save it as its first revision."""
    asked = study_request(body, service)
    if "respond-async" in prefer.replace(",", " ").split():
        finish = partial(save_new, service.storage, asked)
        job = service.jobs.start(compute_new, service.settings, asked, finish=finish)
        headers = {"location": f"/api/jobs/{job.id}", "preference-applied": "respond-async"}
        return Response(job_out(job).model_dump_json(), 202, headers, media_type="application/json")
    document = computed_lines(asked, service.settings, service.lines)
    saved = service.storage.add_study(
        document["name"], asked.terrains, encoder(document, asked), asked.label
    )
    return _answer(saved, 201, location=f"/api/studies/{saved.study}")


@router.get(
    "/{study_id}",
    response_class=Response,
    responses={
        200: SAVED,
        304: {"description": "Unchanged since the revision in If-None-Match."},
        **problems(404, 422),
    },
)
def get_study(
    study_id: PathIdentity,
    service: ServiceDep,
    revision: Annotated[
        int | None, Query(ge=1, le=2**62, description="Which revision; else the newest.")
    ] = None,
    if_none_match: Annotated[str | None, Header(max_length=4000)] = None,
) -> Response:
    """Return a study: its newest revision, or another one that is kept."""
    saved = service.storage.study(study_id, revision)
    known = [tag.strip().removeprefix("W/") for tag in (if_none_match or "").split(",")]
    if saved.etag in known or "*" in known:
        return Response(None, 304, {"etag": saved.etag})
    return _answer(saved)


@router.get("/{study_id}/revisions", responses=problems(404, 422))
def list_revisions(study_id: PathIdentity, service: ServiceDep) -> list[RevisionRow]:
    """List the revisions of a study that are kept, the newest first."""
    return [RevisionRow.model_validate(row) for row in service.storage.revisions(study_id)]


@router.put(
    "/{study_id}",
    response_class=Response,
    responses={200: SAVED, **problems(400, 403, 404, 412, 413, 422, 428)},
)
def replace_study(
    study_id: PathIdentity, body: StudyIn, service: ServiceDep, if_match: IfMatch = None
) -> Response:
    """Compute a study anew and save it as the next revision; what lasts keeps its name."""
    if if_match is None:
        service.storage.study(study_id)
        raise RevisionRequired(
            "A change needs the header If-Match.",
            "Fetch the study and send its ETag in If-Match.",
        )
    before = service.storage.check_match(study_id, if_match)
    asked = study_request(body, service)
    document = with_records(
        keep_names(computed_lines(asked, service.settings, service.lines), document_of(before)),
        service.storage.records.records(study_id),
    )
    saved = service.storage.replace_study(
        study_id,
        if_match,
        document["name"],
        asked.terrains,
        encoder(document, asked),
        asked.label,
    )
    return _answer(saved)


@router.delete("/{study_id}", status_code=204, responses=problems(403, 404, 412, 422))
def delete_study(study_id: PathIdentity, service: ServiceDep, if_match: IfMatch = None) -> None:
    """Remove a study with all its revisions."""
    service.storage.delete_study(study_id, if_match)


def document_of(saved: Revision) -> dict[str, Any]:
    """Return a saved revision as the document that the papers take."""
    import orjson

    document: dict[str, Any] = orjson.loads(saved.document)
    return document


def newest_document(service: Service, study_id: str) -> tuple[dict[str, Any], str]:
    """Return a study as the papers take it, with all that crews brought home, and its entity tag.

    Records are only ever added, so their number tells one state of them from another.
    """
    saved = service.storage.study(study_id)
    records = service.storage.records.records(study_id)
    document = with_records(document_of(saved), records)
    return document, f'{saved.etag[:-1]}-{len(records)}"' if records else saved.etag
