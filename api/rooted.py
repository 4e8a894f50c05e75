"""The service below a path of its own, as a proxy may place it: ``/plans/`` instead of ``/``.

A proxy may leave the path on or take it off; both are understood. The pages' own addresses begin at
the root, so they get the path in front as they go out.
"""

from __future__ import annotations

import base64
import hashlib
import re

from starlette.datastructures import MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.assets import IMPORT_MAP

__all__ = ["Rooted"]

OWN = re.compile(
    rb"(?P<before>[\"'`(=])/(?=(?:api|js|css|vendor|guide|field|list|shared|sign-in|sign-out|words|"
    rb"worker\.js)(?:[/\"'`?#)>\s]|$))"
)
"""Where an address of ours begins in a page, a script or a style."""
HOME = re.compile(rb"(?P<before>href=\")/(?=[\"?#])")
TEXTS = ("text/html", "text/javascript", "application/javascript", "text/css")


class Rooted:
    """ASGI middleware: takes the path off requests and puts it before addresses in answers."""

    def __init__(self, app: ASGIApp, *, root: str) -> None:
        self.app = app
        self.root = root

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on as if the service stood at the root of the host."""
        if scope["type"] != "http" or not self.root:
            await self.app(scope, receive, send)
            return
        path, raw = scope["path"], scope.get("raw_path") or scope["path"].encode()
        if path != self.root and not path.startswith(f"{self.root}/"):
            path, raw = self.root + path, self.root.encode() + raw
        plain = [pair for pair in scope["headers"] if pair[0] != b"accept-encoding"]
        inside = {**scope, "root_path": self.root, "path": path, "raw_path": raw, "headers": plain}
        await self.app(inside, receive, _rewriting(send, self.root))


def _rewriting(send: Send, root: str) -> Send:
    """Return what holds a text back until it is whole, and sends it with the path put in."""
    start: Message | None = None
    body = bytearray()

    async def sending(message: Message) -> None:
        nonlocal start
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            place = headers.get("location", "")
            if place.startswith("/") and not f"{place}/".startswith(f"{root}/"):
                headers["location"] = root + place
            if headers.get("content-type", "").startswith(TEXTS):
                start = message
                return
        if start is None:
            await send(message)
            return
        body.extend(message.get("body", b""))
        if not message.get("more_body", False):
            await _send_whole(start, _placed(bytes(body), root), bytes(body), send)
            start = None

    return sending


def _placed(text: bytes, root: str) -> bytes:
    """Return a text with the path before every address of ours.

    >>> _placed(b'<a href="/list"> fetch("/api/studies") "/etc"', "/plans")
    b'<a href="/plans/list"> fetch("/plans/api/studies") "/etc"'
    """

    def put(found: re.Match[bytes]) -> bytes:
        return found["before"] + root.encode() + b"/"

    return HOME.sub(put, OWN.sub(put, text))


async def _send_whole(start: Message, text: bytes, before: bytes, send: Send) -> None:
    headers = MutableHeaders(scope=start)
    headers["content-length"] = str(len(text))
    policy = headers.get("content-security-policy")
    if policy is not None:  # it may hold the hash of a script that has just been changed
        headers["content-security-policy"] = policy.replace(_digest(before), _digest(text))
    await send(start)
    await send({"type": "http.response.body", "body": text, "more_body": False})


def _digest(page: bytes) -> str:
    found = IMPORT_MAP.search(page.decode("utf-8", "replace"))
    if found is None:
        return "no import map"
    return base64.b64encode(hashlib.sha256(found[1].encode()).digest()).decode()
