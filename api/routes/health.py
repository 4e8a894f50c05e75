"""Whether the service answers, what it is made of, and what its problems mean."""

from __future__ import annotations

import os
import platform
import shutil

import pyproj
import rasterio
import shapely
from fastapi import APIRouter, Request, Response

from api.deps import ServiceDep
from api.errors import STATUS
from api.schemas import Health, ProblemKind, problems
from api.strict import StrictJsonRoute
from api.watch import METRICS_MEDIA, metrics_text
from routing import __version__

router = APIRouter(prefix="/api", tags=["service"], route_class=StrictJsonRoute)
pages = APIRouter(include_in_schema=False)


@router.get("/health", responses=problems())
async def health(request: Request, service: ServiceDep) -> Health:
    """Say that the service answers, with the versions of what it computes with.

    It waits for no thread, so that it answers however much work is under way.
    """
    return Health(
        status="ok",
        version=__version__,
        python=platform.python_version(),
        gdal=rasterio.__gdal_version__,
        proj=pyproj.proj_version_str,
        geos=shapely.geos_version_string,
        rasterio=rasterio.__version__,
        terrains=service.storage.count("terrains"),
        studies=service.storage.count("studies"),
        warming=request.app.state.warming,
    )


@pages.get("/metrics")
async def metrics(request: Request, service: ServiceDep) -> Response:
    """Return counts and times of requests, and how much waits, in the OpenMetrics text format."""
    room = shutil.disk_usage(service.settings.data)
    app = request.app.state
    counts, waiting = app.counts, {name: turns.waiting for name, turns in app.lanes.items()}
    if app.desk is not None:  # this process knows the newest of itself, the desk of all others
        app.desk.tell(os.getpid(), counts, waiting)
        counts, waiting = app.desk.told()
    gauges = {
        "waiting": {f'lane="{name}"': count for name, count in waiting.items()},
        "jobs": {"": service.jobs.alive},
        "studies": {"": service.storage.count("studies")},
        "terrains": {"": service.storage.count("terrains")},
        "free_bytes": {"": room.free},
    }
    text = metrics_text(counts, gauges)
    return Response(text, media_type=METRICS_MEDIA)


@router.get("/problems", responses=problems())
def problem_kinds() -> dict[str, ProblemKind]:
    """List the codes that problems carry, with status and meaning."""
    kinds = {
        kind.code: ProblemKind(status=status, meaning=(kind.__doc__ or "").split("\n")[0])
        for kind, status in STATUS.items()
    }
    kinds["invalid_request"] = ProblemKind(status=422, meaning="A field of the request is wrong.")
    kinds["fault"] = ProblemKind(status=500, meaning="A fault of ours.")
    return kinds
