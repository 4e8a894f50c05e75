"""Links that open one study to somebody else, and the page that such a link shows."""

from __future__ import annotations

from html import escape
from typing import Annotated, Literal

from fastapi import APIRouter, Request, Response
from pydantic import Field
from starlette.responses import RedirectResponse

from api.access.person import acting
from api.assets import page_response
from api.deps import ServiceDep
from api.links import LinkRow
from api.page_words import in_language
from api.routes.pages import page_text
from api.routes.studies import document_of
from api.schemas import Answer, Body, PathIdentity, problems
from api.strict import StrictJsonRoute

router = APIRouter(
    prefix="/api/studies/{study_id}/links", tags=["access"], route_class=StrictJsonRoute
)
pages = APIRouter(include_in_schema=False)

PAGES = {"client": "shared", "crew": "field"}
"""The page that a link of each role opens."""


class LinkIn(Body):
    """A link to make."""

    role: Literal["client", "crew"] = Field(
        description="'client': map, profile, sheets and report to look at; 'crew': the field "
        "sheet, with what is brought home."
    )
    expires: Annotated[str, Field(max_length=40)] | None = Field(
        default=None,
        description="When it ends: a date (its end, UTC) or date and time (ISO 8601); else in 30 "
        "days.",
    )


class LinkOut(Answer):
    """A link as lists show it; its address is not kept."""

    id: str
    role: Literal["client", "crew"]
    created: str
    expires: str
    revoked: str | None
    state: Literal["valid", "expired", "revoked"]
    who: str = Field(description="Who made it.")


class LinkMade(LinkOut):
    """A new link with its address, which is shown this once."""

    url: str


def _out(row: LinkRow) -> dict[str, str | None]:
    return {
        "id": row.id,
        "role": row.role,
        "created": row.created,
        "expires": row.expires,
        "revoked": row.revoked,
        "state": row.state,
        "who": row.who,
    }


@router.post("", status_code=201, responses=problems(400, 403, 404, 413, 422))
def add_link(
    study_id: PathIdentity, body: LinkIn, request: Request, service: ServiceDep
) -> LinkMade:
    """Make a link to this study; whoever has its address may use it until it ends."""
    row, secret = service.links.add(study_id, body.role, body.expires)
    url = f"{str(request.base_url).rstrip('/')}/{PAGES[body.role]}/{secret}"
    return LinkMade.model_validate({**_out(row), "url": url})


@router.get("", responses=problems(404, 422))
def list_links(study_id: PathIdentity, service: ServiceDep) -> list[LinkOut]:
    """List the links of a study, the newest first."""
    return [LinkOut.model_validate(_out(row)) for row in service.links.of_study(study_id)]


@router.delete("/{link_id}", status_code=204, responses=problems(403, 404, 422))
def revoke_link(study_id: PathIdentity, link_id: PathIdentity, service: ServiceDep) -> None:
    """End a link; it opens nothing from now on."""
    service.links.revoke(study_id, link_id)


@pages.get("/shared/{study_id}")
def shared_page(study_id: PathIdentity, request: Request, service: ServiceDep) -> Response:
    """Return what a link leads to: the papers of one study, or the way to its field sheet."""
    address = getattr(request.state, "link", study_id)
    if acting().role in ("crew", "crew-link"):
        return RedirectResponse(f"../field/{address}", 303)
    name = str(document_of(service.storage.study(study_id))["name"])
    html = page_text("shared.html").replace("STUDY", f"../api/studies/{address}")
    html = in_language(html, request.headers.get("accept-language", ""))
    html = html.replace("<!-- name -->", escape(name))
    answer = page_response(html, request.headers.get("accept-encoding", ""))
    answer.headers["vary"] = "accept-encoding, accept-language"
    return answer
