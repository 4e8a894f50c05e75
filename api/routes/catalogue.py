"""The pipes on offer, for a search box."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Query

from api.page_schemas import PipeOut
from api.schemas import problems
from api.strict import StrictJsonRoute
from routing.pipe import Pipe, load_catalogue

router = APIRouter(prefix="/api", tags=["pipes"], route_class=StrictJsonRoute)

Word = Annotated[str | None, Query(max_length=80)]


@router.get("/catalogue", responses=problems(422))
def search_catalogue(
    material: Word = None,
    nominal: Word = None,
    series: Word = None,
    q: Annotated[
        str, Query(max_length=200, description="Words that must all stand in id or label.")
    ] = "",
    limit: Annotated[int, Query(ge=1, le=1000, description="Most pipes to return.")] = 50,
) -> list[PipeOut]:
    """Return the pipes that fit every word given, in the catalogue's order."""
    words = q.casefold().split()
    fitting = (
        pipe
        for pipe in load_catalogue().select(
            material=material or None, nominal=nominal or None, series=series or None
        )
        if all(word in _text(pipe) for word in words)
    )
    return [_out(pipe) for pipe, _ in zip(fitting, range(limit), strict=False)]


def _text(pipe: Pipe) -> str:
    return f"{pipe.id} {pipe.label} {pipe.material} {pipe.nominal} {pipe.series}".casefold()


def _out(pipe: Pipe) -> PipeOut:
    return PipeOut(
        id=str(pipe.id),
        label=pipe.label,
        material=pipe.material,
        standard=pipe.standard,
        series=pipe.series,
        nominal=pipe.nominal,
        outside_diameter_m=round(pipe.outside_diameter_m, 6),
        inside_diameter_m=round(pipe.inside_diameter_m, 6),
        wall_m=round(pipe.wall_m, 6),
        rating_kpa=None if pipe.rating_pa is None else round(pipe.rating_pa / 1e3, 3),
        rating_reference_c=pipe.rating_reference_c,
        mass_kg_m=pipe.mass_kg_m,
        roughness_m=round(pipe.roughness_m, 9),
        dimension_status=pipe.dimension_status,
        dimension_source=pipe.dimension_source,
        rating_status=pipe.rating_status,
        rating_source=pipe.rating_source,
    )
