"""What stands before every route: size of bodies, foreign web sites, headers for the browser."""

from __future__ import annotations

from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.errors import ForeignOrigin, problem_of, problem_response

__all__ = ["Guard"]

PAGE_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self'; frame-ancestors 'self'; base-uri 'none'; form-action 'self'"
)
"""What a page of ours may load: its own files, nothing from elsewhere."""


class Guard:
    """ASGI middleware: counts the bytes of a JSON body as they come, turns foreign sites away."""

    def __init__(self, app: ASGIApp, *, max_body_bytes: int, upload_path: str) -> None:
        self.app = app
        self.max_body_bytes = max_body_bytes
        self.upload_path = upload_path

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, guarded."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        if scope["method"] not in ("GET", "HEAD", "OPTIONS") and _foreign(headers):
            error = ForeignOrigin(
                f"The request comes from another web site, {headers['origin'][:200]!r}.",
                "Use the service's own page, or a program that sends no Origin header.",
            )
            response = problem_response(instance=scope["path"], **problem_of(error))
            await response(scope, receive, send)
            return
        if scope["path"] != self.upload_path:  # the upload route counts for itself
            receive = self._counted(receive, headers)
        await self.app(scope, receive, _with_headers(send))

    def _counted(self, receive: Receive, headers: Headers) -> Receive:
        announced = headers.get("content-length", "")
        count = int(announced) if announced.isdecimal() else 0
        taken = 0

        async def counted() -> Message:
            nonlocal taken
            message = await receive()
            taken += len(message.get("body", b""))
            if max(taken, count) > self.max_body_bytes:
                raise HTTPException(
                    413, f"The body is larger than the {self.max_body_bytes} bytes allowed."
                )
            return message

        return counted


def _foreign(headers: Headers) -> bool:
    origin = headers.get("origin")
    return origin is not None and urlsplit(origin).netloc != headers.get("host")


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            headers.setdefault("x-content-type-options", "nosniff")
            headers.setdefault("referrer-policy", "no-referrer")
            if headers.get("content-type", "").startswith("text/html"):
                headers.setdefault("content-security-policy", PAGE_POLICY)
        await send(message)

    return sending
