"""The same computation without saving, for a line being dragged."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Header, Query, Response

from api.compact import compact_json, line_json
from api.compute import computed
from api.deps import Service, ServiceDep
from api.routes.studies import document_of, request_of
from api.schemas import PreviewIn, problems
from api.strict import StrictJsonRoute
from routing.record import keep_names, to_json

router = APIRouter(prefix="/api", tags=["studies"], route_class=StrictJsonRoute)

SEQUENCE_HEADER = {
    "X-Sequence": {"description": "As it came in the request.", "schema": {"type": "string"}}
}


class PreviewForm(StrEnum):
    """How much of the study is sent back."""

    full = "full"
    compact = "compact"
    line = "line"


@router.post(
    "/preview",
    response_class=Response,
    responses={
        200: {
            "description": "The study, without id and revision; or its short form.",
            "headers": SEQUENCE_HEADER,
            "content": {
                "application/json": {
                    "schema": {
                        "anyOf": [
                            {"$ref": "#/components/schemas/Study"},
                            {"$ref": "#/components/schemas/StudyInShort"},
                            {"$ref": "#/components/schemas/LineInShort"},
                        ]
                    }
                }
            },
        },
        **problems(400, 403, 404, 413, 422),
    },
)
def preview(
    body: PreviewIn,
    service: ServiceDep,
    form: Annotated[
        PreviewForm,
        Query(
            description="'compact' sends columns as base64, see StudyInShort; 'line' is the first "
            "look at a line being dragged, in half the time, see LineInShort."
        ),
    ] = PreviewForm.full,
    pressures: Annotated[
        bool | None,
        Query(
            description="Whether surge, class, vacuum, thrust and spans are computed too; else in "
            "the full form only, as they take longer than all the rest."
        ),
    ] = None,
    study: Annotated[
        str | None,
        Query(max_length=64, description="Saved study whose names what lasts keeps, by its id."),
    ] = None,
    x_sequence: Annotated[
        str | None,
        Header(
            max_length=40,
            pattern=r"^[0-9A-Za-z_-]*$",
            description="Number of the question, echoed, so that answers out of order are seen.",
        ),
    ] = None,
) -> Response:
    """Compute a study and save nothing."""
    if form is PreviewForm.line:
        return _line(body, service, x_sequence)
    compact = form is PreviewForm.compact
    whole = not compact if pressures is None else pressures
    asked = request_of(body, service)
    before = None if study is None else document_of(service.storage.study(study))
    document = computed(asked, service.settings, service.windows, pressures=whole, short=compact)
    if before is not None:
        named = keep_names(document, before)
        # The short form has no changes: of what it leaves out nobody knows whether it lasts.
        document = {key: named[key] for key in document} if compact else named
    answer = compact_json(document, pressures=whole) if compact else to_json(document)
    return _answer(answer, x_sequence)


def _line(body: PreviewIn, service: Service, sequence: str | None) -> Response:
    """Answer with the first look."""
    asked = request_of(body, service)
    document = computed(
        asked, service.settings, service.windows, pressures=False, short=True, fitted=False
    )
    return _answer(line_json(document), sequence)


def _answer(text: bytes, sequence: str | None) -> Response:
    headers = {} if sequence is None else {"x-sequence": sequence}
    return Response(text, headers=headers, media_type="application/json")
