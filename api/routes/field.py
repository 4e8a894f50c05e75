"""The field sheet: as a file to take along, and as a page that works on without reception."""

from __future__ import annotations

from functools import lru_cache
from importlib.resources import files

import orjson
from fastapi import APIRouter, Request, Response
from fastapi.responses import HTMLResponse

from api.compute import relief_of
from api.deps import Service, ServiceDep
from api.routes.studies import document_of, newest_document
from api.schemas import ETAG_HEADER, PathIdentity, body_of, problems
from api.strict import StrictJsonRoute
from routing.papers.field import field_html

router = APIRouter(prefix="/api/studies/{study_id}", tags=["papers"], route_class=StrictJsonRoute)
pages = APIRouter(prefix="/field", include_in_schema=False)

FRAME_POLICY = "frame-ancestors 'self'"
"""The rest of the policy stands in the sheet itself, where it also holds for a file."""


def _sheet(service: Service, study_id: str, *, address: str | None = None) -> Response:
    """Return the sheet of the newest revision, with what crews brought home so far.

    ``address`` is what the study is called in addresses of a page that is served.
    """
    document, etag = newest_document(service, study_id)
    paths = [service.storage.terrain_path(terrain) for terrain in document["terrain_ids"]]
    page = field_html(
        document,
        relief_of(document, paths),
        service=f"/api/studies/{address}" if address else None,
    )
    headers = {"cache-control": "no-cache", "content-security-policy": FRAME_POLICY}
    if address is None:
        headers["etag"] = etag
    return HTMLResponse(page, headers=headers)


@router.get(
    "/field",
    response_class=HTMLResponse,
    responses={
        200: body_of(
            "The field sheet, one file that needs no network.", "text/html", headers=ETAG_HEADER
        ),
        **problems(404, 422),
    },
)
def field_sheet(study_id: PathIdentity, service: ServiceDep) -> Response:
    """Return the field sheet of the newest revision, to take along as a file."""
    return _sheet(service, study_id)


@pages.get("/worker.js")
def worker() -> Response:
    """Return the script that keeps sheets for flight mode."""
    return Response(_own("worker.js"), headers=NO_CACHE, media_type="text/javascript")


@pages.get("/icon.svg")
def icon() -> Response:
    """Return the sheet's sign on a phone's home screen."""
    return Response(_own("icon.svg"), headers=NO_CACHE, media_type="image/svg+xml")


@pages.get("/{study_id}")
def field_page(study_id: PathIdentity, request: Request, service: ServiceDep) -> Response:
    """Return the field sheet as a page that brings its records home by itself."""
    return _sheet(service, study_id, address=getattr(request.state, "link", study_id))


@pages.get("/{study_id}/app.webmanifest")
def manifest(study_id: PathIdentity, request: Request, service: ServiceDep) -> Response:
    """Return what a phone needs to keep the sheet as an app."""
    name = str(document_of(service.storage.study(study_id))["name"])
    about = {
        "name": f"{name} – field sheet",
        "short_name": name[:24],
        "start_url": f"../{getattr(request.state, 'link', study_id)}",
        "scope": "../",
        "display": "standalone",
        "background_color": "#ffffff",
        "theme_color": "#ffffff",
        "icons": [{"src": "../icon.svg", "sizes": "any", "type": "image/svg+xml"}],
    }
    return Response(orjson.dumps(about), headers=NO_CACHE, media_type="application/manifest+json")


NO_CACHE = {"cache-control": "no-cache"}


@lru_cache(maxsize=4)
def _own(name: str) -> str:
    return (files("routing.papers") / "data" / "field" / name).read_text(encoding="utf-8")
