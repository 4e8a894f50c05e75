"""The running service: one socket, one process."""

from __future__ import annotations

import socket
import sqlite3

import typer
import uvicorn

from api.app import create_app
from api.settings import ServiceSettings
from api.storage import Storage
from routing.errors import InputError

__all__ = ["serve"]

BACKLOG = 128


def serve(host: str, port: int, settings: ServiceSettings) -> None:
    """Serve until a signal ends it."""
    listening = _listen(host, port)
    _check_data_folder(settings)
    app = create_app(settings, warm=True)
    address = listening.getsockname()
    shown = f"[{address[0]}]" if listening.family == socket.AF_INET6 else address[0]
    typer.echo(
        f"Leatline is at http://{shown}:{address[1]}/ with its data in {settings.data} "
        "(stop it with Ctrl-C).",
        err=True,
    )
    config = uvicorn.Config(app, log_level="warning", timeout_graceful_shutdown=5)
    uvicorn.Server(config).run(sockets=[listening])


def _check_data_folder(settings: ServiceSettings) -> None:
    """Open the data folder once, so that what is wrong with it is said before the service runs."""
    try:
        Storage(settings)
    except (OSError, sqlite3.Error) as exc:
        raise InputError(
            f"The data folder {settings.data} cannot be used: {exc}.",
            "Name another folder with --data.",
        ) from exc


def _listen(host: str, port: int) -> socket.socket:
    """Return a socket that listens, or say what stands in the way."""
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        listening = socket.socket(family, kind, proto)
        listening.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listening.bind(address)
        listening.listen(BACKLOG)
    except OSError as exc:
        raise InputError(
            f"Nothing can listen at {host} port {port}: {exc.strerror or exc}.",
            "Stop what uses it, or choose another with --port.",
        ) from exc
    return listening
