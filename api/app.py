"""The service: made by :func:`create_app`, never at import."""

from __future__ import annotations

import asyncio
import logging
import os
import sqlite3
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from api.access.admit import Admit
from api.access.store import AccessFile
from api.deps import Service
from api.errors import add_handlers
from api.guard import Guard
from api.jobs import Jobs
from api.lanes import Lanes, lanes_of
from api.lines import LineRows
from api.links import Links
from api.processes import Desk, SharedJobs
from api.relief import ReliefStore
from api.rooted import Rooted
from api.routes import (
    catalogue,
    export,
    field,
    health,
    jobs,
    land,
    links,
    pages,
    pipes,
    preview,
    records,
    routes,
    sample,
    searches,
    settings_file,
    sign_in,
    studies,
    terrains,
    tiles,
    trash,
    water,
    where_from,
)
from api.schemas import Problem, problems
from api.settings import ServiceSettings
from api.storage import Storage
from api.study_schema import study_components
from api.watch import Counts, Watch
from api.windows import WindowCache
from routing import __version__
from routing.compiled import prefer_compiled

__all__ = ["create_app"]

TELL_SECONDS = 2.0
"""How often a process tells the desk what it has counted [s]."""
SWEEP_SECONDS = 3600.0
"""How often the trash is swept [s]."""
log = logging.getLogger("leatline")
UPLOAD_PATHS = frozenset({"/api/terrains", "/api/overlays"})


def create_app(
    settings: ServiceSettings,
    *,
    access: AccessFile | None = None,
    warm: bool = False,
    desk: Desk | None = None,
) -> FastAPI:
    """Return the service over ``settings.data``, open to all or to whom ``access`` names.

    ``warm`` compiles the kernels ahead of use; at the ``desk`` is what several processes share.
    """

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        pool = Jobs.of(settings) if desk is None else SharedJobs(desk)
        storage = Storage(settings)
        storage.hold()
        app.state.service = Service(
            settings=settings,
            storage=storage,
            links=Links(storage.database),
            access=access,
            windows=WindowCache(
                max_windows=settings.max_windows, max_cells=settings.max_window_cells
            ),
            lines=LineRows(),
            relief=ReliefStore(settings.max_tile_bytes),
            jobs=pool,
        )
        beside = [asyncio.create_task(_sweep(storage))]
        if desk is not None:
            beside.append(asyncio.create_task(_tell(app, desk)))
        if warm:
            threading.Thread(target=_warm, name="leatline-warm", daemon=True).start()
        try:
            yield
        finally:
            for task in beside:
                task.cancel()
            pool.close()
            app.state.service.relief.close()
            storage.database.let_go()

    app = FastAPI(
        title="Leatline",
        version=__version__,
        summary="Small gravity pipelines: from a drawn line over terrain to a laid pipe.",
        lifespan=life,
        openapi_url="/api/openapi.json",
        docs_url=None,
        redoc_url=None,
    )
    add_handlers(app)
    nouns = (
        health,
        terrains,
        tiles,
        water,
        studies,
        records,
        trash,
        pipes,
        preview,
        routes,
        land,
        sample,
        settings_file,
        catalogue,
        where_from,
        export,
        field,
        searches,
        jobs,
        links,
        sign_in,
        pages,
    )
    for noun in nouns:
        app.include_router(noun.router)
    for more in (field.pages, health.pages, links.pages, sign_in.pages):
        app.include_router(more)
    pages.mount_files(app)
    app.state.lanes, app.state.desk = lanes_of(settings), desk
    app.add_middleware(Lanes, lanes=app.state.lanes, seconds=settings.request_seconds)
    app.add_middleware(Admit, access=access)
    app.add_middleware(
        Guard,
        max_body_bytes=settings.max_body_bytes,
        upload_paths=UPLOAD_PATHS,
        names=settings.host_names,
    )
    app.state.counts = Counts()
    app.add_middleware(Watch, counts=app.state.counts)
    app.add_middleware(Rooted, root=settings.root_path)
    app.openapi = lambda: _openapi(app)  # type: ignore[method-assign]
    return app


def _openapi(app: FastAPI) -> dict[str, Any]:
    """Return the API's description, with the published schema of the study in it."""
    if app.openapi_schema is None:
        described = get_openapi(
            title=app.title, version=app.version, summary=app.summary, routes=app.routes
        )
        schemas = described.setdefault("components", {}).setdefault("schemas", {})
        problem = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
        schemas.update(problem.pop("$defs", {}))
        schemas["Problem"] = problem
        schemas.update(study_components())
        for path in described["paths"].values():
            for operation in path.values():  # what stands before every route may answer too
                for status, entry in problems(401, 403, 408, 421, 503, 507).items():
                    operation["responses"].setdefault(str(status), entry)
        for unused in ("HTTPValidationError", "ValidationError"):
            schemas.pop(unused, None)
        app.openapi_schema = described
    return app.openapi_schema


async def _sweep(storage: Storage) -> None:
    """Let what has been in the trash long enough go, every hour."""
    while True:
        await asyncio.sleep(SWEEP_SECONDS)
        try:
            await asyncio.to_thread(storage.trash.expire)
        except sqlite3.Error as exc:
            log.error("the trash could not be swept: %s", exc)


async def _tell(app: FastAPI, desk: Desk) -> None:
    """Tell the desk what this process has counted, every so often."""
    while True:
        waiting = {name: turns.waiting for name, turns in app.state.lanes.items()}
        with suppress(OSError, EOFError):  # the desk goes when the service ends
            await asyncio.to_thread(desk.tell, os.getpid(), app.state.counts, waiting)
        await asyncio.sleep(TELL_SECONDS)


def _warm() -> None:
    """Compile the kernels while nobody waits for them."""
    from api.compute import warm_up

    prefer_compiled()
    warm_up()
