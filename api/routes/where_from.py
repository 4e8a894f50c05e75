"""How any number of a study came about."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.errors import NotFound
from api.page_schemas import ProvenanceInput, ProvenanceOut
from api.schemas import problems
from api.strict import StrictJsonRoute
from routing.errors import InputError
from routing.mathematics import mathml
from routing.provenance import where_from

router = APIRouter(prefix="/api", tags=["studies"], route_class=StrictJsonRoute)


@router.get("/where-from", responses=problems(404, 422))
def explain_number(
    key: Annotated[
        str,
        Query(max_length=200, description="Part and member, as summary.net_head_m; or the member."),
    ],
) -> ProvenanceOut:
    """Return formula, inputs, range of validity and source of a number."""
    try:
        found = where_from(key)
    except InputError as exc:
        raise NotFound(exc.problem, exc.remedy) from exc
    return ProvenanceOut(
        key=found.key,
        name=found.name,
        meaning=found.meaning,
        formula=found.formula,
        equations=[mathml(latex) for latex in found.equations],
        inputs=[
            ProvenanceInput(name=item.name, words=item.words, meaning=item.meaning, unit=item.unit)
            for item in found.inputs
        ],
        notes=found.notes,
        source=list(found.source),
    )
