"""What a hand of a test answers and does: importable, as another process looks it up by name."""

from __future__ import annotations

import os
import time
from pathlib import Path

import orjson
from starlette.responses import Response
from starlette.types import ASGIApp, Receive, Scope, Send

from api.access.person import acting
from routing.errors import OutsideTerrain


async def mirror(scope: Scope, receive: Receive, send: Send) -> None:
    """Answer with who answers what to whom."""
    body = (await receive())["body"].decode()
    said = {"process": os.getpid(), "path": scope["path"], "body": body, "who": acting().name}
    await Response(orjson.dumps(said), 201)(scope, receive, send)


def make_mirror() -> ASGIApp:
    return mirror


def make_nothing() -> ASGIApp:
    raise SystemExit(3)


def refuse() -> None:
    raise OutsideTerrain("The line leaves the raster.", "Move it.", 12.5, -16.9, 62.2)


def break_down() -> None:
    raise ZeroDivisionError("a fault")


def linger(mark: Path, seconds: float) -> int:
    """Say that it is under way, then take long; return the process."""
    mark.write_text(str(os.getpid()), encoding="ascii")
    time.sleep(seconds)
    return os.getpid()
