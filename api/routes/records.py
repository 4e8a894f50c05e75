"""What crews bring home: taken in, given out, and the photographs in it."""

from __future__ import annotations

from fastapi import APIRouter, Response
from fastapi.responses import FileResponse

from api.deps import ServiceDep
from api.page_schemas import RecordsIn, RecordsTaken
from api.routes.studies import document_of
from api.schemas import BINARY, PathIdentity, body_of, json_body, problems
from api.strict import StrictJsonRoute
from routing.crew import PHOTO_NAME, conflicts
from routing.errors import InputError
from routing.record import place_records, to_json

router = APIRouter(prefix="/api/studies/{study_id}", tags=["records"], route_class=StrictJsonRoute)

PHOTO_HEADERS = {
    "cache-control": "private, max-age=31536000, immutable",
    "content-security-policy": "default-src 'none'; sandbox",
}
"""A photograph is named by its contents, so it never changes; nothing in it may run."""


@router.get(
    "/records",
    response_class=Response,
    responses={200: json_body("RecordsOut", "The records."), **problems(404, 422)},
)
def get_records(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return what crews brought home, by time, and where two devices differ."""
    document = document_of(service.storage.study(study_id))
    records = place_records(document, service.storage.records.records(study_id))
    body = {"records": records, "conflicts": conflicts(records)}
    return Response(to_json(body), headers=NO_CACHE, media_type="application/json")


@router.post("/records", responses=problems(400, 403, 404, 413, 422))
def take_records(study_id: PathIdentity, body: RecordsIn, service: ServiceDep) -> RecordsTaken:
    """Take in what a crew brings home, all or none of it; it is no revision and blocks nobody."""
    document = document_of(service.storage.study(study_id))
    return RecordsTaken(taken=service.storage.records.take(study_id, body.records, document))


@router.get(
    "/photos/{name}",
    response_class=FileResponse,
    responses={
        200: body_of("The photograph.", "image/jpeg", "image/png", "image/webp", schema=BINARY),
        **problems(404, 422),
    },
)
def get_photo(study_id: PathIdentity, name: PathIdentity, service: ServiceDep) -> FileResponse:
    """Return a photograph of a record."""
    if PHOTO_NAME.fullmatch(name) is None:
        raise InputError(f"{name[:40]!r} is no photograph.", "Take an address out of a record.")
    path = service.storage.records.photo(study_id, name)
    media = {"jpg": "image/jpeg", "png": "image/png", "webp": "image/webp"}[path.suffix[1:]]
    return FileResponse(path, media_type=media, headers=PHOTO_HEADERS)


NO_CACHE = {"cache-control": "no-cache"}
