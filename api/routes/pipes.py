"""Which pipe to buy for a saved study's line."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.choice_schemas import PipeChoice
from api.deps import ServiceDep
from api.routes.studies import document_of
from api.schemas import PathIdentity, problems
from api.strict import StrictJsonRoute
from routing.choice_study import choose_pipes

router = APIRouter(prefix="/api/studies", tags=["pipes"], route_class=StrictJsonRoute)


@router.get("/{study_id}/pipes", responses=problems(404, 422))
def choose_for_study(
    study_id: PathIdentity,
    service: ServiceDep,
    material: Annotated[
        str | None, Query(max_length=80, description="Only pipes of this material.")
    ] = None,
) -> PipeChoice:
    """Try every pipe of the catalogue on a study's line; it needs a design flow and a fall."""
    document = document_of(service.storage.study(study_id))
    return PipeChoice.model_validate(choose_pipes(document, material=material or None))
