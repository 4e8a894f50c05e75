"""Papers and files of a saved study."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query, Response
from fastapi.responses import HTMLResponse

from api.compute import ground_of, relief_of
from api.deps import Service, ServiceDep
from api.routes.studies import newest_document
from api.schemas import BINARY, ETAG_HEADER, PathIdentity, body_of, json_body, problems
from api.strict import StrictJsonRoute
from api.study_schema import WORKS_KEYS
from routing import papers
from routing.papers.document import file_stem
from routing.record import to_json
from routing.terrain import Relief
from routing.terrain.drawn_contour import DrawnContour

router = APIRouter(prefix="/api/studies/{study_id}", tags=["papers"], route_class=StrictJsonRoute)

Spoken = Annotated[
    str | None,
    Query(description="Language of sheets and works plan, such as es; without it the study's."),
]
MAP_POLICY = (
    "default-src 'none'; script-src 'unsafe-inline'; style-src 'unsafe-inline'; img-src data: "
    "blob:; font-src data:; frame-ancestors 'self'; base-uri 'none'; form-action 'none'"
)
"""The map carries everything inside and may fetch nothing."""
MEDIA = sorted({row.media.split(";")[0] for row in papers.EXPORTS.values()})
PDF = body_of("The pages.", "application/pdf", schema=BINARY, headers=ETAG_HEADER)


@router.get(
    "/map",
    response_class=HTMLResponse,
    responses={
        200: body_of(
            "The annotated map, one file that needs no network.", "text/html", headers=ETAG_HEADER
        ),
        **problems(404, 422),
    },
)
def study_map(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return the annotated map of the newest revision."""
    document, etag = newest_document(service, study_id)
    paths = [service.storage.terrain_path(terrain) for terrain in document["terrain_ids"]]
    page = papers.map_html(document, relief_of(document, paths))
    headers = {"etag": etag, "content-security-policy": MAP_POLICY}
    return HTMLResponse(page, headers=headers)


@router.get(
    "/profile",
    response_class=Response,
    responses={
        200: body_of("The drawn profile.", "image/svg+xml", headers=ETAG_HEADER),
        **problems(404, 422),
    },
)
def study_profile(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return the drawn profile of the newest revision."""
    document, etag = newest_document(service, study_id)
    headers = {"etag": etag, "content-security-policy": MAP_POLICY}
    drawing = papers.profile_svg(document)
    return Response(drawing, headers=headers, media_type="image/svg+xml")


@router.get(
    "/works",
    response_class=Response,
    responses={
        200: json_body("StudyWorks", "The plan of works.", headers=ETAG_HEADER),
        **problems(404, 422),
    },
)
def study_works(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return taps, valves and the plan of works of the newest revision; null without a pipe."""
    document, etag = newest_document(service, study_id)
    part = to_json({key: document.get(key) for key in WORKS_KEYS})
    return Response(part, headers={"etag": etag}, media_type="application/json")


@router.get(
    "/export",
    response_class=Response,
    responses={
        200: body_of("The file, as an attachment.", *MEDIA, schema=BINARY, headers=ETAG_HEADER),
        **problems(404, 422),
    },
)
def export_study(
    study_id: PathIdentity,
    service: ServiceDep,
    format: Annotated[
        str,
        Query(description="Which file.", json_schema_extra={"enum": list(papers.EXPORTS)}),
    ],
    language: Spoken = None,
) -> Response:
    """Return the newest revision as a file for another program."""
    return _file(study_id, service, (format, language), attached=True)


@router.get(
    "/sheet.pdf",
    response_class=Response,
    responses={200: PDF, **problems(404, 422)},
)
def study_sheets(study_id: PathIdentity, service: ServiceDep, language: Spoken = None) -> Response:
    """Return the plan and profile sheets of the newest revision."""
    return _file(study_id, service, ("pdf", language), attached=False)


@router.get(
    "/report.pdf",
    response_class=Response,
    responses={200: PDF, **problems(404, 422)},
)
def study_report(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return the calculation report of the newest revision."""
    return _file(study_id, service, ("report", None), attached=False)


def _file(
    study_id: str, service: Service, told: tuple[str, str | None], *, attached: bool
) -> Response:
    """Return the newest revision as a file in a language, to keep or to look at."""
    form, language = told
    document, etag = newest_document(service, study_id)
    document = dict(papers.in_language(document, form, language))
    row = papers.EXPORTS.get(form)
    relief: Relief | None = None
    contours: tuple[DrawnContour, ...] = ()
    if row is not None and row.shows_terrain:
        paths = [service.storage.terrain_path(terrain) for terrain in document["terrain_ids"]]
        relief, contours = ground_of(document, paths)
    data = papers.export_bytes(document, form, relief, contours)
    row = papers.EXPORTS[form]
    stem = file_stem(document["name"]).encode("ascii", "replace").decode().replace("?", "-")
    kind = "" if form == row.ending else f"-{form}"
    shown = "attachment" if attached else "inline"
    headers = {
        "etag": etag,
        "content-disposition": f'{shown}; filename="{stem}{kind}.{row.ending}"',
    }
    return Response(data, headers=headers, media_type=row.media)
