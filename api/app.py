"""The service: made by :func:`create_app`, never at import."""

from __future__ import annotations

import asyncio
import gc
import logging
import os
import sqlite3
import threading
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from functools import partial
from pathlib import Path
from typing import Any

from fastapi import FastAPI
from fastapi.openapi.utils import get_openapi

from api.access.admit import COOKIE, Admit
from api.access.operations import operations
from api.access.person import ANYONE
from api.access.store import AccessFile
from api.compute import warm_up
from api.deps import Service
from api.errors import add_handlers
from api.guard import Guard
from api.hands import Hands
from api.jobs import Jobs
from api.lanes import Lanes, lanes_of
from api.lines import LineRows
from api.links import Links
from api.processes import Desk, DeskAddress, SharedJobs, served
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

NOUNS = (
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
    hands: Hands | None = None,
    warm: bool = False,
    desk: DeskAddress | None = None,
) -> FastAPI:
    """Return the service over ``settings.data``, open to all or to whom ``access`` names.

    ``hands`` do heavy work in processes beside this one, and compile the kernels ahead of use where
    it is to be ``warm``; at the ``desk`` is what several processes share.
    """
    shared = desk.desk() if desk is not None else None

    @asynccontextmanager
    async def life(app: FastAPI) -> AsyncIterator[None]:
        pool = Jobs.of(settings) if shared is None else SharedJobs(shared)
        service = app.state.service = _service(settings, access, pool)
        storage = service.storage
        storage.hold()
        beside = [asyncio.create_task(_sweep(storage))]
        if shared is not None:
            beside.append(asyncio.create_task(_tell(app, shared)))
        if hands is not None:
            where = desk or served(Desk(pool))
            hands.open(partial(_at_hand, settings, access.path if access else None, where))
            if warm:
                beside.append(asyncio.create_task(_warm(app, hands)))
        try:
            yield
        finally:
            for task in beside:
                task.cancel()
            if hands is not None:
                hands.close()
            pool.close()
            service.relief.close()
            storage.database.let_go()

    app = _answering(life)
    app.state.lanes, app.state.desk = lanes_of(settings, hands=hands is not None), shared
    app.state.warming, app.state.guarded = warm, access is not None
    app.add_middleware(Lanes, lanes=app.state.lanes, seconds=settings.request_seconds, hands=hands)
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


def _answering(life: Any = None) -> FastAPI:
    """Return what answers requests that were let in: all routes, and problems for errors."""
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
    for noun in NOUNS:
        app.include_router(noun.router)
    for more in (field.pages, health.pages, links.pages, sign_in.pages):
        app.include_router(more)
    pages.mount_files(app)
    return app


def _service(
    settings: ServiceSettings, access: AccessFile | None, pool: Jobs | SharedJobs
) -> Service:
    storage = Storage(settings)
    return Service(
        settings=settings,
        storage=storage,
        links=Links(storage.database),
        access=access,
        windows=WindowCache(max_windows=settings.max_windows, max_cells=settings.max_window_cells),
        lines=LineRows(),
        relief=ReliefStore(settings.max_tile_bytes),
        jobs=pool,
    )


def _at_hand(settings: ServiceSettings, access: Path | None, desk: DeskAddress) -> FastAPI:
    """Return what answers in a hand; who may was asked before, and jobs are the desk's."""
    app = _answering()
    known = AccessFile(access) if access is not None else None
    app.state.service = _service(settings, known, SharedJobs(desk.desk()))
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
        if app.state.guarded:
            _describe_keys(described)
        for unused in ("HTTPValidationError", "ValidationError"):
            schemas.pop(unused, None)
        app.openapi_schema = described
    return app.openapi_schema


def _describe_keys(described: dict[str, Any]) -> None:
    """Say in a description what opens each operation: a token, or the session of a browser."""
    described["components"]["securitySchemes"] = {
        "token": {"type": "http", "scheme": "bearer"},
        "session": {"type": "apiKey", "in": "cookie", "name": COOKIE},
    }
    for row in operations():
        operation = described["paths"].get(row.path, {}).get(row.method.lower())
        if operation is not None:
            operation["security"] = [] if ANYONE in row.who else [{"token": []}, {"session": []}]


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


async def _warm(app: FastAPI, hands: Hands) -> None:
    """Compile the kernels at hand, where nobody waits for it, then fetch them here."""
    try:
        await hands.do(warm_up)
        hands.compiled = True
    except Exception:  # a service without compiled loops is slower, and still a service
        log.exception("the kernels could not be compiled ahead of use")
    threading.Thread(target=_warm_here, args=(app,), name="leatline-warm", daemon=True).start()


def _warm_here(app: FastAPI) -> None:
    """Fetch the kernels; what is kept for good is not looked through for garbage again."""
    try:
        warm_up()
        prefer_compiled()
        gc.collect()
        gc.freeze()
    finally:
        app.state.warming = False
