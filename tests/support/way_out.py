"""A way to the service that a test can cut, as a phone that leaves the net.

A browser's own flight mode reaches its workers a moment after its pages, so that a request made in
that moment still goes out. A cut way lets nothing through, whoever asks.
"""

from __future__ import annotations

import contextlib
import socket
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from urllib.parse import urlsplit


class WayOut:
    """Connections handed on to a service until the way is cut; ``url`` is where it begins."""

    def __init__(self, service: str) -> None:
        parts = urlsplit(service)
        self._service = (parts.hostname or "127.0.0.1", parts.port or 80)
        self._listening = socket.create_server(("127.0.0.1", 0))
        self._open: set[socket.socket] = set()
        self._lock = threading.Lock()
        self._cut = False
        self.url = f"http://127.0.0.1:{self._listening.getsockname()[1]}"
        threading.Thread(target=self._accept, daemon=True).start()

    def cut(self) -> None:
        """Close every connection, and each new one as it comes."""
        with self._lock:
            self._cut = True
            for end in self._open:
                hang_up(end)
            self._open.clear()

    def mend(self) -> None:
        """Let new connections through again."""
        with self._lock:
            self._cut = False

    def close(self) -> None:
        """Cut the way for good."""
        self.cut()
        hang_up(self._listening)

    def _accept(self) -> None:
        with contextlib.suppress(OSError):
            while True:
                near, _ = self._listening.accept()
                threading.Thread(target=self._join, args=(near,), daemon=True).start()

    def _join(self, near: socket.socket) -> None:
        try:
            far = socket.create_connection(self._service, timeout=10)
        except OSError:
            hang_up(near)
            return
        far.settimeout(None)
        with self._lock:
            if self._cut:
                hang_up(near)
                hang_up(far)
                return
            self._open |= {near, far}
        threading.Thread(target=hand_on, args=(near, far), daemon=True).start()
        hand_on(far, near)
        with self._lock:
            self._open -= {near, far}


def hand_on(source: socket.socket, target: socket.socket) -> None:
    """Pass on what comes until either end is closed, then close both."""
    with contextlib.suppress(OSError):
        while piece := source.recv(65536):
            target.sendall(piece)
    hang_up(source)
    hang_up(target)


def hang_up(end: socket.socket) -> None:
    """Close a socket, waking whoever reads from it."""
    with contextlib.suppress(OSError):
        end.shutdown(socket.SHUT_RDWR)
    end.close()


@contextmanager
def way_out(service: str) -> Iterator[WayOut]:
    """Yield a way to ``service``, open at first and closed at the end."""
    way = WayOut(service)
    try:
        yield way
    finally:
        way.close()
