"""What the tests of the faces share: a hill, a running service, uploads, the shape of problems."""

from __future__ import annotations

import socket
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import rasterio
import uvicorn
from affine import Affine
from waiting import PATIENCE_SECONDS

from api.access.store import AccessFile
from api.app import create_app
from api.hands import Hands
from api.server import server_config
from api.settings import ServiceSettings

CRS = "EPSG:32628"
WEST, NORTH, CELL = 400_000.0, 6_900_000.0, 5.0
ROWS, COLUMNS = 80, 120

Serve = Callable[..., AbstractContextManager[httpx.Client]]


def write_hill(path: Path, *, crs: str | None = CRS, **profile: Any) -> Path:
    """Write a slope with three humps across it, falling to the east."""
    row, column = np.mgrid[0:ROWS, 0:COLUMNS]
    along = column * CELL
    height = 300.0 - 0.1 * along + 3.0 * np.sin(along / 40.0) + 0.4 * np.cos(row / 7.0)
    with rasterio.open(
        path,
        "w",
        driver="GTiff",
        width=COLUMNS,
        height=ROWS,
        count=1,
        dtype="float32",
        crs=crs,
        transform=Affine(CELL, 0.0, WEST, 0.0, -CELL, NORTH),
        **profile,
    ) as out:
        out.write(height.astype("float32"), 1)
    return path


@contextmanager
def running(
    data: Path, *, access: AccessFile | None = None, hands: Hands | None = None, **limits: Any
) -> Iterator[httpx.Client]:
    """Run the service over ``data`` behind a real socket until the block ends."""
    settings = ServiceSettings(data=data, **limits)
    app = create_app(settings, access=access, hands=hands)
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(64)
        port = listening.getsockname()[1]
        config = server_config(app, settings, log_level="critical", timeout_graceful_shutdown=2)
        server = uvicorn.Server(config)
        thread = threading.Thread(target=server.run, kwargs={"sockets": [listening]}, daemon=True)
        thread.start()
        while thread.is_alive() and not server.started:  # a test may look into the folder at once
            time.sleep(0.005)
        try:
            with httpx.Client(
                base_url=f"http://127.0.0.1:{port}", timeout=PATIENCE_SECONDS
            ) as client:
                yield client
        finally:
            server.should_exit = True
            thread.join(20)


def upload(client: httpx.Client, path: Path, **parts: Any) -> httpx.Response:
    with path.open("rb") as stream:
        return client.post("/api/terrains", files={"file": (path.name, stream), **parts})


def is_problem(response: httpx.Response, status: int, code: str | None = None) -> dict[str, Any]:
    """Check that a response is one whole problem (RFC 9457) and return it."""
    assert response.status_code == status, response.text[:2000]
    assert response.headers["content-type"] == "application/problem+json"
    problem: dict[str, Any] = response.json()
    assert {"type", "title", "status", "detail", "instance", "code", "hint"} <= problem.keys()
    assert problem["status"] == status
    assert problem["type"].endswith(f"#{problem['code']}")
    assert problem["detail"]
    if code is not None:
        assert problem["code"] == code
    return problem
