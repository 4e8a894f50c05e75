"""Where the water of a terrain goes: its streams, and the catchment of a place."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import orjson
from fastapi import APIRouter, Query, Response

from api.deps import Service, ServiceDep
from api.errors import TooLarge
from api.routes.tiles import Crs
from api.schemas import Finite, PathIdentity, problems
from api.strict import StrictJsonRoute
from api.water_schemas import CatchmentIn, CatchmentOut, OutlineOut, StreamsOut
from routing.catchment_study import followed, snap_distance_m
from routing.errors import InputError
from routing.rounding import fields_of
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain

if TYPE_CHECKING:
    from routing.catchment import StreamNetwork

__all__ = ["router"]

router = APIRouter(
    prefix="/api/terrains/{terrain_id}", tags=["terrains"], route_class=StrictJsonRoute
)

MOST_POINTS = 100_000
"""Points of streams that one answer holds [-]."""

LEAST_CELLS = 10.0
"""Fewest cells that drain to what counts as a stream [-]."""

Degree = Annotated[Finite | None, Query(ge=-540.0, le=540.0)]


def network_of(
    service: Service, terrain_id: str, crs: str | None, threshold_m2: float
) -> StreamNetwork:
    """Return the streams of a stored terrain, followed once."""
    path = service.storage.terrain_path(terrain_id)
    settings = settings_from_mapping({"terrain": {"crs": crs}} if crs is not None else {})
    terrain = open_study_terrain([path], settings)
    rows, cols = terrain.shape
    most = service.settings.max_water_cells
    if rows * cols > most:
        raise TooLarge(
            f"The terrain has {rows} x {cols} cells; here water is followed on {most:,} at most.",
            "Cut out the part that matters, or have the operator raise LEATLINE_MAX_WATER_CELLS.",
        )
    least = LEAST_CELLS * terrain.cell_m**2
    if threshold_m2 < least:
        raise InputError(
            f"A stream of {threshold_m2:g} m2 has fewer than {LEAST_CELLS:g} cells of this raster.",
            f"Ask for {least:.0f} m2 or more.",
        )
    network = followed(terrain, threshold_m2)
    assert network is not None
    return network


@router.get("/streams", response_model=StreamsOut, responses=problems(404, 413, 422))
def streams(
    terrain_id: PathIdentity,
    service: ServiceDep,
    threshold_m2: Annotated[
        Finite, Query(ge=100.0, le=1e11, description="Least catchment of a stream [m2].")
    ] = 1e5,
    west: Degree = None,
    south: Degree = None,
    east: Degree = None,
    north: Degree = None,
    crs: Crs = None,
) -> Response:
    """Return the streams of a terrain, or of a box of it; the greatest where there are too many."""
    from routing.catchment import streams_geojson

    sides = (west, south, east, north)
    given = [side for side in sides if side is not None]
    if len(given) not in (0, 4):
        raise InputError(
            f"Of west, south, east and north {len(given)} are given.", "Give all four, or none."
        )
    network = network_of(service, terrain_id, crs, threshold_m2)
    found = streams_geojson(
        network,
        threshold_m2=threshold_m2,
        box_deg=(given[0], given[1], given[2], given[3]) if given else None,
        most_points=MOST_POINTS,
    )
    return Response(orjson.dumps(found), media_type="application/json")


@router.post("/catchment", responses=problems(400, 403, 404, 413, 422))
def catchment(terrain_id: PathIdentity, body: CatchmentIn, service: ServiceDep) -> CatchmentOut:
    """Return what drains to a place, or to the stream nearest to it."""
    from routing.catchment import catchment_at, outline

    network = network_of(service, terrain_id, body.crs, body.threshold_m2)
    snap = body.snap_m
    if snap is None:
        snap = snap_distance_m(network.drainage.terrain)
    found = catchment_at(network.above(body.threshold_m2), *body.at, snap_m=snap)
    return CatchmentOut(
        method="d8",
        outline=OutlineOut(**outline(found)),
        **fields_of(found, "area_m2 at_least snapped_m on_stream rival_m2 lon lat"),
    )
