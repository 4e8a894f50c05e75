"""Signing in with a token, for browsers, and who one is."""

from __future__ import annotations

from html import escape
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from pydantic import Field
from starlette.responses import RedirectResponse, Response

from api.access.admit import COOKIE, SIGN_IN
from api.access.person import acting
from api.access.store import SESSION_HOURS
from api.assets import page_response
from api.deps import ServiceDep
from api.page_words import in_language
from api.routes.pages import page_text
from api.schemas import Answer, problems
from api.strict import StrictJsonRoute

router = APIRouter(prefix="/api", tags=["access"], route_class=StrictJsonRoute)
pages = APIRouter(include_in_schema=False)

REFUSED = "This token opens nothing, or not any more."

Next = Annotated[str, Query(max_length=2000)]


class Who(Answer):
    """Who sends the request, as the service sees it."""

    name: str = Field(description="Empty where no access is kept.")
    role: str
    signed_in: bool = Field(description="Whether there is a session to end at /sign-out.")


@router.get("/who", responses=problems())
def who(request: Request) -> Who:
    """Return name and role of whoever asks."""
    person = acting()
    return Who(name=person.name, role=person.role, signed_in=COOKIE in request.cookies)


@pages.get(SIGN_IN)
def sign_in_page(request: Request, next: Next = "/") -> Response:
    """Return the page that asks for a token."""
    return _page(request, next)


@pages.post(SIGN_IN)
def sign_in(
    request: Request,
    service: ServiceDep,
    token: Annotated[str, Form(max_length=200)] = "",
    next: Annotated[str, Form(max_length=2000)] = "/",
) -> Response:
    """Open a session for the holder of a token and lead to the page that was asked for."""
    person = service.access.person_of_token(token.strip()) if service.access else None
    if service.access is None or person is None:
        return _page(request, next, REFUSED, 401)
    root = str(request.scope.get("root_path", ""))
    wanted = _own(next)
    if wanted == "/" and person.role == "crew":
        wanted = "/list"
    answer = RedirectResponse(root + wanted, 303)
    answer.set_cookie(
        COOKIE,
        service.access.open_session(person),
        max_age=int(SESSION_HOURS * 3600),
        path=root or "/",
        secure=request.url.scheme == "https",
        httponly=True,
        samesite="lax",
    )
    return answer


@pages.post("/sign-out")
def sign_out(request: Request, service: ServiceDep) -> Response:
    """End the session."""
    secret = request.cookies.get(COOKIE)
    if secret and service.access is not None:
        service.access.close_session(secret)
    root = str(request.scope.get("root_path", ""))
    answer = RedirectResponse(root + SIGN_IN, 303, {"clear-site-data": '"cache"'})
    answer.delete_cookie(COOKIE, path=root or "/")
    return answer


def _own(address: str) -> str:
    """Return an address if it is a path of this service, else its first page."""
    inside = address.startswith("/") and not address.startswith(("//", "/\\"))
    return address if inside and address.isprintable() else "/"


def _page(request: Request, wanted: str, trouble: str = "", status: int = 200) -> Response:
    html = page_text("sign-in.html").replace("NEXT", escape(_own(wanted)))
    if trouble:
        html = html.replace("<!-- trouble -->", f'<p role="alert" class="problem">{trouble}</p>')
    html = in_language(html, request.headers.get("accept-language", ""))
    answer = page_response(html, request.headers.get("accept-encoding", ""))
    answer.status_code = status
    answer.headers["cache-control"] = "no-store"
    answer.headers["vary"] = "accept-encoding, accept-language"
    return answer
