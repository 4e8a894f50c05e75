"""What stands before every route: known names, foreign web sites, size of bodies, headers."""

from __future__ import annotations

import asyncio
import ipaddress
import re
from time import monotonic
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders
from starlette.exceptions import HTTPException
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.access.admit import local_path
from api.errors import ForeignOrigin, ServiceError, UnknownHost, error_response

__all__ = ["Guard"]

PAGE_POLICY = (
    "default-src 'self'; img-src 'self' data: blob:; style-src 'self' 'unsafe-inline'; "
    "script-src 'self'; frame-ancestors 'self'; base-uri 'none'; form-action 'self'"
)
"""What a page of ours may load: its own files, nothing from elsewhere."""


OWN_NAMES = frozenset({"localhost", "127.0.0.1", "[::1]"})
"""Names under which a browser on this machine reaches the service."""
HOST = re.compile(r"(?P<name>\[[0-9a-f:.]+\]|[a-z0-9._-]+)(?::[0-9]{1,5})?")
PATIENCE_SECONDS = 20.0
"""How long a body may take to begin, or an answer to be taken [s]."""
LEAST_BYTES_PER_SECOND = 2_000.0
"""Speed below which a client holds up more than it sends [bytes/s]."""
PAGE_BODY_BYTES = 10_000
"""Largest form of a page, which anyone may send: a token and an address [bytes]."""
SAFE_METHODS = ("GET", "HEAD", "OPTIONS")
BROWSER_HEADERS = {
    "x-content-type-options": "nosniff",
    "referrer-policy": "same-origin",  # without one a form of ours would be sent as nobody's
    "x-frame-options": "SAMEORIGIN",
    "cross-origin-resource-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
}
"""What every answer tells a browser: guess no types, tell no addresses, frame and lend nothing."""


class Guard:
    """ASGI middleware: answers to known names only, counts the bytes of a JSON body as they come.

    A page under another name that resolves to this machine would count as the service's own web
    site; so a name must be known before anything else is looked at.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        max_body_bytes: int,
        upload_paths: frozenset[str],
        names: frozenset[str],
    ) -> None:
        self.app = app
        self.max_body_bytes = max_body_bytes
        self.upload_paths = upload_paths
        self.names = OWN_NAMES | names

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, guarded."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        sending = _with_headers(send)
        error = self._refusal(scope, headers)
        if error is not None:
            response = error_response(error, scope["path"], headers)
            await response(scope, receive, sending)
            return
        path = local_path(scope)
        if path not in self.upload_paths:  # these count for themselves
            most = self.max_body_bytes if path.startswith("/api/") else PAGE_BODY_BYTES
            receive = _counted(receive, headers, most)
        await self.app(scope, _timed(receive), sending)

    def _refusal(self, scope: Scope, headers: Headers) -> ServiceError | None:
        """Return why a request is turned away unseen, None if it is not."""
        host = headers.get("host", "").lower()
        named = HOST.fullmatch(host)
        if named is None or not (named["name"] in self.names or _reached(scope, named["name"])):
            return UnknownHost(
                f"The service does not go by the name {host[:200]!r}.",
                "Use the address it was started with, or have the operator add the name with "
                "--allow-host.",
            )
        if scope["method"] not in SAFE_METHODS and _foreign(headers, host):
            origin = headers.get("origin", "another site")
            return ForeignOrigin(
                f"The request comes from another web site, {origin[:200]!r}.",
                "Use the service's own page, or a program that sends no Origin header.",
            )
        return None


def _counted(receive: Receive, headers: Headers, most: int) -> Receive:
    """Return what refuses a body once more of it has come in, or is announced, than may."""
    announced = headers.get("content-length", "")
    count = int(announced) if announced.isdecimal() else 0
    taken = 0

    async def counted() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if max(taken, count) > most:
            raise HTTPException(413, f"The body is larger than the {most} bytes allowed.")
        return message

    return counted


def _reached(scope: Scope, name: str) -> bool:
    """Return whether a name is the very address that the connection came to."""
    server = scope.get("server")
    if server and server[0] == name:  # of a socket it is a number; a name is of a call in process
        return True
    try:
        reached = ipaddress.ip_address(server[0] if server else "")
        return ipaddress.ip_address(name.strip("[]")) == reached
    except ValueError:
        return False


def _foreign(headers: Headers, host: str) -> bool:
    """Return whether a browser says that another web site is behind a request."""
    if headers.get("sec-fetch-site") in ("cross-site", "same-site"):
        return True
    origin = headers.get("origin")
    return origin is not None and _authority(origin) != _authority(f"//{host}")


def _authority(address: str) -> str:
    """Return name and port of an address, the ports that go without saying left out."""
    parts = urlsplit(address.lower())
    return re.sub(r":(80|443)$", "", parts.netloc)


def _timed(receive: Receive) -> Receive:
    """Return what gives up on a body that comes in too slowly."""
    begun, taken, whole = monotonic(), 0, False

    async def timed() -> Message:
        nonlocal taken, whole
        if whole:  # what is asked for now is whether the client has gone, and that takes its time
            return await receive()
        left = begun + PATIENCE_SECONDS + taken / LEAST_BYTES_PER_SECOND - monotonic()
        try:
            message = await asyncio.wait_for(receive(), max(0.0, left))
        except TimeoutError:
            raise HTTPException(
                408,
                f"The body has come in at less than {LEAST_BYTES_PER_SECOND / 1000:g} kB a second.",
                {"connection": "close"},
            ) from None
        taken += len(message.get("body", b""))
        whole = not message.get("more_body", False)
        return message

    return timed


def _with_headers(send: Send) -> Send:
    async def sending(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in BROWSER_HEADERS.items():
                headers.setdefault(name, value)
            if headers.get("content-type", "").startswith("text/html"):
                headers.setdefault("content-security-policy", PAGE_POLICY)
        size = len(message.get("body", b""))
        await asyncio.wait_for(send(message), PATIENCE_SECONDS + size / LEAST_BYTES_PER_SECOND)

    return sending
