"""The running service: one socket, one process."""

from __future__ import annotations

import socket
import sqlite3
from ipaddress import ip_address
from pathlib import Path

import typer
import uvicorn

from api.access.store import AccessFile
from api.app import create_app
from api.settings import ServiceSettings
from api.storage import Storage
from routing.errors import InputError

__all__ = ["serve"]

BACKLOG = 128


def serve(
    host: str,
    port: int,
    settings: ServiceSettings,
    access: Path | None = None,
    *,
    access_by_proxy: bool = False,
) -> None:
    """Serve until a signal ends it; beyond this machine only to whom somebody lets in."""
    known = AccessFile(access) if access is not None else None
    listening = _listen(host, port, guarded=known is not None or access_by_proxy)
    _check_data_folder(settings)
    app = create_app(settings, access=known, warm=True)
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


def _listen(host: str, port: int, *, guarded: bool) -> socket.socket:
    """Return a socket that listens, or say what stands in the way."""
    try:
        family, kind, proto, _, address = socket.getaddrinfo(
            host, port, type=socket.SOCK_STREAM, flags=socket.AI_PASSIVE
        )[0]
        _check_reach(str(address[0]), guarded=guarded)
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


def _check_reach(address: str, *, guarded: bool) -> None:
    """Refuse an address that other machines reach where nobody asks who comes."""
    if guarded or ip_address(address.partition("%")[0]).is_loopback:
        return
    raise InputError(
        f"Other machines could reach {address} and do all that you may.",
        "Say who may with --access FILE (made by leatline access add NAME --role planner --access "
        "FILE), or, where a proxy before the service asks who comes, say --access-by-proxy.",
    )
