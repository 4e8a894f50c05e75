"""The same computation without saving, for a line being dragged."""

from __future__ import annotations

from enum import StrEnum
from typing import Annotated

from fastapi import APIRouter, Header, Query, Response

from api.compact import compact_json
from api.compute import computed
from api.deps import ServiceDep
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
        PreviewForm, Query(description="'compact' sends columns as base64, see StudyInShort.")
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
    headers = {} if x_sequence is None else {"x-sequence": x_sequence}
    return Response(answer, headers=headers, media_type="application/json")
