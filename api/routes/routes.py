"""Lines in any file that a planner has, read for drawing."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any

from fastapi import APIRouter, Query, Request
from starlette.concurrency import run_in_threadpool

from api.deps import ServiceDep
from api.errors import TooLarge
from api.page_schemas import RouteOut
from api.schemas import problems
from api.strict import StrictJsonRoute
from api.upload import receive_file
from routing.errors import RouteError
from routing.line import Route, read_route

router = APIRouter(prefix="/api/routes", tags=["studies"], route_class=StrictJsonRoute)

FILE: dict[str, Any] = {
    "type": "string",
    "format": "binary",
    "description": "GeoJSON, GPX, KML, KMZ, GeoPackage, zipped shapefile, CSV or WKT, one line.",
}
BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            "multipart/form-data": {
                "schema": {"type": "object", "required": ["file"], "properties": {"file": FILE}}
            },
            "application/geo+json": {"schema": {"type": "object"}},
            "application/octet-stream": {"schema": FILE},
        },
    }
}


@router.post("", responses=problems(400, 403, 413, 415, 422), openapi_extra=BODY)
async def import_route(
    request: Request,
    service: ServiceDep,
    line: Annotated[
        str | None,
        Query(max_length=200, description="Name or number of the line, where there are several."),
    ] = None,
) -> RouteOut:
    """Read the line in a file; nothing is kept."""
    limits = service.settings
    with service.storage.incoming_folder() as folder:
        path, name = await receive_file(request, folder, limits.max_body_bytes)
        route = await run_in_threadpool(_read, path, name, line)
    if len(route.lon) > limits.max_vertices:
        raise TooLarge(
            f"The line has {len(route.lon)} points; {limits.max_vertices} are allowed.",
            "Simplify it, or have the operator raise LEATLINE_MAX_VERTICES.",
        )
    return RouteOut(name=route.name, lon=route.lon.tolist(), lat=route.lat.tolist())


def _read(path: Path, name: str, line: str | None) -> Route:
    choice = int(line) if line is not None and line.isdecimal() else line
    try:
        return read_route(path, line=choice)
    except RouteError as exc:
        problem = exc.problem.replace(str(path), name).replace(path.name, name)
        raise RouteError(problem, exc.remedy, exc.station_m, exc.lon, exc.lat) from exc
