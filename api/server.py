"""The running service: one socket, one process or several."""

from __future__ import annotations

import asyncio
import socket
import sqlite3
from ipaddress import ip_address
from pathlib import Path
from typing import Any

import h11
import typer
import uvicorn
from starlette.types import ASGIApp
from uvicorn.protocols.http.h11_impl import H11Protocol

from api.access.store import AccessFile
from api.app import create_app
from api.hands import Hands
from api.job_places import OnCluster
from api.processes import DeskAddress, run_processes
from api.settings import ServiceSettings
from api.storage import Storage
from api.volume import check_local
from api.watch import write_access_log
from routing.errors import InputError

__all__ = ["serve", "server_config"]

BACKLOG = 128
CONNECTIONS = 65_536
"""Files and connections to have open at a time, where the system allows as many [-]."""
BY_PROXY = "by-proxy"
"""Says that a proxy before the service asks who comes."""


def serve(host: str, port: int, settings: ServiceSettings, access: str = "") -> None:
    """Serve until a signal ends it; beyond this machine only to whom somebody lets in.

    ``access`` names the access file, or says that a proxy before the service lets in who may.
    """
    asked = Path(access) if access and access != BY_PROXY else None
    if asked is not None:
        AccessFile(asked)  # what is wrong with it is said before the service runs
    check_local(settings.data)
    _open_many()
    listening = _listen(host, port, guarded=bool(access))
    _check_data_folder(settings)
    if settings.scheduler:
        OnCluster(settings.scheduler).connect().close()
    address = listening.getsockname()
    shown = f"[{address[0]}]" if listening.family == socket.AF_INET6 else address[0]
    typer.echo(
        f"Leatline is at http://{shown}:{address[1]}{settings.root_path}/ with its data in "
        f"{settings.data} (stop it with Ctrl-C).",
        err=True,
    )
    if settings.processes > 1:
        run_processes(_serve_at, listening, settings, asked)
    else:
        _serve_at(listening, settings, asked, None)


def _serve_at(
    listening: socket.socket,
    settings: ServiceSettings,
    access: Path | None,
    desk: DeskAddress | None,
) -> None:
    """Serve in this process until a signal ends it."""
    if settings.access_log:
        write_access_log(settings.access_log)
    known = AccessFile(access) if access is not None else None
    app = create_app(settings, access=known, hands=Hands(), warm=True, desk=desk)
    config = server_config(app, settings, log_level="warning", timeout_graceful_shutdown=5)
    uvicorn.Server(config).run(sockets=[listening])


def server_config(app: ASGIApp, settings: ServiceSettings, **options: Any) -> uvicorn.Config:
    """Return how the service runs behind its socket; forwarded headers count when told so."""
    return uvicorn.Config(
        app,
        http=ImpatientProtocol,
        ws="none",
        access_log=False,
        proxy_headers=bool(settings.forwarded_allow),
        forwarded_allow_ips=settings.forwarded_allow or None,
        **options,
    )


class ImpatientProtocol(H11Protocol):
    """HTTP/1.1 that closes a connection whose next request does not come in whole in time."""

    header_seconds = 10.0
    _timer: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Begin to wait for the first request."""
        super().connection_made(transport)
        self._watch()

    def data_received(self, data: bytes) -> None:
        """Take in what came; go on waiting if it is not yet the head of a request."""
        super().data_received(data)
        self._watch()

    def connection_lost(self, exc: Exception | None) -> None:
        """Wait no more."""
        self._forget()
        super().connection_lost(exc)

    def _watch(self) -> None:
        if self.conn.their_state is not h11.IDLE:
            self._forget()
        elif self._timer is None:
            self._timer = self.loop.call_later(self.header_seconds, self._give_up)

    def _forget(self) -> None:
        if self._timer is not None:
            self._timer.cancel()
            self._timer = None

    def _give_up(self) -> None:
        self._timer = None
        if self.conn.their_state is h11.IDLE and (
            self.cycle is None or self.cycle.response_complete
        ):
            self.transport.close()


def _open_many() -> None:
    """Let this process and those it starts have many connections, so that idle ones bar nobody."""
    try:
        import resource
    except ImportError:  # a system without such limits
        return
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    wanted = CONNECTIONS if hard == resource.RLIM_INFINITY else min(hard, CONNECTIONS)
    if soft != resource.RLIM_INFINITY and soft < wanted:
        resource.setrlimit(resource.RLIMIT_NOFILE, (wanted, hard))


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
        "FILE), or, where a proxy before the service asks who comes, say --access by-proxy.",
    )
