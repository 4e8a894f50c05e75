"""What lets a request in: who stands behind it, and whether he may (ASGI middleware).

A link's secret stands in an address where the study's id would; it is exchanged for the id here,
and what the holder may do is looked up in the same table as everything else.
"""

from __future__ import annotations

import logging
import re
import sqlite3
from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar
from urllib.parse import quote

import anyio
from starlette.datastructures import MutableHeaders
from starlette.exceptions import HTTPException
from starlette.requests import HTTPConnection
from starlette.responses import RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.access.operations import Operation, methods_of, operation_of, operations_at
from api.access.person import OPEN, Person, acts
from api.access.seldom import Seldom
from api.access.store import AccessFile, LogRow
from api.access.tokens import now_text
from api.errors import (
    NotAllowed,
    NotFound,
    ServiceError,
    SignInNeeded,
    error_response,
    http_response,
)

__all__ = ["COOKIE", "SIGN_IN", "Admit", "local_path"]

COOKIE = "leatline_session"
SIGN_IN = "/sign-in"
LINKED = re.compile(
    r"(?P<before>/api/studies/|/field/|/shared/)(?P<secret>[0-9a-f]{16}\.[A-Za-z0-9_-]{43})"
    r"(?P<after>/.*)?"
)
QUIET = ("GET", "HEAD", "OPTIONS")
"""Methods that change nothing; they are not written into the log where they are allowed."""
TRIED_EACH, TRIED_IN_ALL, TRIED_SECONDS = 20, 60, 60.0
"""Refusals of one sender and of all together that the log takes within so many seconds [-], [s]:
so many that whoever floods it pushes nothing else out, and makes nobody wait."""
log = logging.getLogger("leatline.access")
Found = TypeVar("Found")


def local_path(scope: Scope) -> str:
    """Return the path of a request below the service's root."""
    path, root = str(scope["path"]), str(scope.get("root_path", ""))
    if root and path.startswith(root) and path[len(root) : len(root) + 1] in ("", "/"):
        return path[len(root) :] or "/"
    return path


class Admit:
    """Finds who stands behind a request and turns away who may not."""

    def __init__(self, app: ASGIApp, *, access: AccessFile | None) -> None:
        self.app = app
        self.access = access
        self._few = anyio.CapacityLimiter(4)  # a guess costs memory, so few at a time
        self._writer = anyio.CapacityLimiter(1)  # beside them: nobody waits for the log to get in
        self._tried = Seldom(each=TRIED_EACH, in_all=TRIED_IN_ALL, seconds=TRIED_SECONDS)

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, or answer why not."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope = dict(scope)
        connection = HTTPConnection(scope)
        path = local_path(scope)
        linked = LINKED.fullmatch(path)
        if linked is not None:
            person = await self._link_holder(scope, linked)
        else:
            person = await self._person(connection)
        operation = operation_of(scope["method"], local_path(scope))
        error = self._refusal(operation, person, path)
        scope.setdefault("state", {})["person"] = person
        status = 0

        async def sending(message: Message) -> None:
            nonlocal status
            if message["type"] == "http.response.start":
                status = message["status"]
                self._finish_headers(message, path, person)
            await send(message)

        with acts(person or OPEN):
            if error is None:
                if scope["method"] == "HEAD":  # the server drops the body of its answer
                    scope["method"] = "GET"
                await self.app(scope, receive, sending)
            else:
                await _refused(error, connection, path)(scope, receive, sending)
        if self.access is not None:
            shown = path if linked is None else f"{linked['before']}{linked['secret'][:16]}"
            await self._write_down(connection, operation, shown, status)

    async def _person(self, connection: HTTPConnection) -> Person | None:
        """Return who sent a token or has a session; where no access is kept it is the owner."""
        if self.access is None:
            return OPEN
        kind, _, token = connection.headers.get("authorization", "").partition(" ")
        if kind.lower() == "bearer":
            return await self._ask(self.access.person_of_token, token.strip())
        secret = connection.cookies.get(COOKIE)
        return await self._ask(self.access.person_of_session, secret) if secret else None

    async def _link_holder(self, scope: Scope, linked: re.Match[str]) -> Person | None:
        """Return the holder of a link and put the study's id into the address in its place."""
        links = scope["app"].state.service.links
        person: Person | None = await self._ask(links.holder, linked["secret"])
        if person is not None:
            below = f"{linked['before']}{person.study}{linked['after'] or ''}"
            scope["path"] = str(scope.get("root_path", "")) + below
            scope["raw_path"] = scope["path"].encode()
            scope.setdefault("state", {})["link"] = linked["secret"]
        return person

    async def _ask(self, function: Callable[..., Found], *arguments: Any) -> Found:
        return await anyio.to_thread.run_sync(partial(function, *arguments), limiter=self._few)

    def _refusal(
        self, operation: Operation | None, person: Person | None, path: str
    ) -> ServiceError | HTTPException | None:
        """Return why a person may not, None if he may."""
        if operation is None and person is OPEN:
            return None  # the router says that there is no such thing
        if operation is not None and operation.allows(person):
            return None
        if operation is None and any(row.allows(person) for row in operations_at(path)):
            return HTTPException(405, "Method Not Allowed")
        if person is None:
            return SignInNeeded(
                "The service does not know who you are, or not any more.",
                "Sign in at /sign-in, or send a valid token in the header Authorization: Bearer.",
            )
        if operation is None and person.study is None and not methods_of(path):
            return NotFound("There is nothing at this address.", "See /api/openapi.json.")
        return NotAllowed(
            f"The role {person.role} may not do this.", "Ask who runs the service for another role."
        )

    def _finish_headers(self, message: Message, path: str, person: Person | None) -> None:
        headers = MutableHeaders(scope=message)
        if message["status"] == 405 and methods_of(path):
            headers["allow"] = ", ".join(methods_of(path))
        if message["status"] == 401:
            headers["www-authenticate"] = 'Bearer realm="leatline"'
        if person is not OPEN:
            headers.append("vary", "authorization, cookie")
            headers.setdefault("cache-control", "no-cache")

    async def _write_down(
        self, connection: HTTPConnection, operation: Operation | None, path: str, status: int
    ) -> None:
        """Log what changed something, and, not endlessly, what was tried without permission."""
        person: Person | None = connection.scope["state"]["person"]
        given = {"authorization", "cookie"} & set(connection.headers.keys())
        denied = status == 403 or (status == 401 and (given or path.startswith("/shared/")))
        quiet = connection.scope["method"] in QUIET or (operation is not None and operation.asks)
        if self.access is None or (quiet and not denied):
            return
        address = connection.client.host if connection.client else ""
        left_out: int | None = 0
        if status in (401, 403) or (person is None and (path, status) != (SIGN_IN, 303)):
            left_out = self._tried.taken(person.name if person is not None else address)
        if left_out is None:
            return
        row = LogRow(
            time=now_text(),
            name=person.name if person is not None else "",
            role=person.role if person is not None else "",
            method=connection.scope["method"],
            path=path[:200] + (f" (and {left_out} refused before)" if left_out else ""),
            status=status,
            address=address,
        )
        try:
            write = partial(self.access.log, row)
            await anyio.to_thread.run_sync(write, limiter=self._writer)
        except sqlite3.Error as exc:
            log.error("the log of access could not be written: %s", exc)


def _refused(
    error: ServiceError | HTTPException, connection: HTTPConnection, path: str
) -> Response:
    """Return a refusal: a browser that opens a page is led to where it can sign in."""
    if isinstance(error, HTTPException):
        return http_response(error, path, connection.headers)
    page = "text/html" in connection.headers.get("accept", "")
    if isinstance(error, SignInNeeded) and page and connection.scope["method"] == "GET":
        root = str(connection.scope.get("root_path", ""))
        if not LINKED.fullmatch(path):
            return RedirectResponse(f"{root}{SIGN_IN}?next={quote(path, safe='')}", 303)
    return error_response(error, path, connection.headers)
