"""Which pipe to buy for a line: of a saved study, or as it is being drawn."""

from __future__ import annotations

from dataclasses import replace
from typing import Annotated, Any

import numpy as np
from fastapi import APIRouter, Query, Response

from api.choice_schemas import PipeChoice
from api.compute import laid_line
from api.deps import ServiceDep
from api.routes.studies import document_of, request_of
from api.schemas import PathIdentity, PreviewIn, problems
from api.strict import StrictJsonRoute
from routing.choice_study import choose_pipes
from routing.line import Route
from routing.settings import settings_from_mapping
from routing.stream_study import settings_at_intake
from routing.study import open_study_terrain, run_study

router = APIRouter(prefix="/api", tags=["pipes"], route_class=StrictJsonRoute)

Material = Annotated[str | None, Query(max_length=80, description="Only pipes of this material.")]


@router.get("/studies/{study_id}/pipes", response_model=PipeChoice, responses=problems(404, 422))
def choose_for_study(
    study_id: PathIdentity, service: ServiceDep, material: Material = None
) -> Response:
    """Try every pipe of the catalogue on a study's line; it needs a design flow and a fall."""
    document = document_of(service.storage.study(study_id))
    settings = settings_from_mapping(document["settings"])
    drawn = document["route"]
    route = Route(name=drawn["name"], lon=np.array(drawn["lon"]), lat=np.array(drawn["lat"]))
    paths = [service.storage.terrain_path(terrain) for terrain in document["terrain_ids"]]
    # The saved route was cleaned and turned round already, where that was asked for.
    as_drawn = replace(settings, study=replace(settings.study, reverse=False, clean=False))
    terrain = open_study_terrain(paths, settings)
    line = run_study(terrain, route, as_drawn, pressures=False, fitted=False).line
    known = settings_at_intake(settings, terrain, line)
    choice = choose_pipes(line, known, name=document["name"], material=material or None)
    return _checked(choice)


@router.post("/pipes", response_model=PipeChoice, responses=problems(400, 403, 404, 413, 422))
def choose_for_line(
    body: PreviewIn,
    service: ServiceDep,
    material: Material = None,
    sizes: Annotated[
        bool, Query(description="Whether several classes and sizes along the line are sought too.")
    ] = True,
) -> Response:
    """Try every pipe of the catalogue on a line that need not be saved."""
    asked = request_of(body, service)
    laid, settings = laid_line(asked, service.settings, service.windows)
    choice = choose_pipes(
        laid, settings, name=asked.name or "", material=material or None, sizes=sizes
    )
    return _checked(choice)


def _checked(choice: dict[str, Any]) -> Response:
    """Answer with a choice, held to its description once: hundreds of rows take their time."""
    text = PipeChoice.model_validate(choice).model_dump_json()
    return Response(text, media_type="application/json")
