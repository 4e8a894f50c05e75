"""What is asked of the service, written down for whoever runs it: access log and measurements."""

from __future__ import annotations

import logging
import re
import sys
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from logging.handlers import WatchedFileHandler
from pathlib import Path
from time import monotonic
from typing import Any
from urllib.parse import quote

from starlette.types import ASGIApp, Message, Receive, Scope, Send

from api.access.admit import local_path
from api.access.operations import operation_of
from api.access.tokens import TOKEN

__all__ = ["METRICS_MEDIA", "Counts", "Watch", "metrics_text", "write_access_log"]

METRICS_MEDIA = "application/openmetrics-text; version=1.0.0; charset=utf-8"
"""Media type of the OpenMetrics text format, version 1.0."""
BOUNDS_S = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0, 30.0)
"""Upper ends of the classes that times are counted in [s]."""
log = logging.getLogger("leatline.requests")
log.propagate = False


def write_access_log(place: str) -> None:
    """Write one line a request to a file, which may be moved away meanwhile; ``-``: to stderr."""
    where = logging.StreamHandler(sys.stderr) if place == "-" else WatchedFileHandler(Path(place))
    where.setFormatter(logging.Formatter("%(message)s"))
    log.addHandler(where)
    log.setLevel(logging.INFO)


class Watch:
    """ASGI middleware: counts and times requests, and logs them in the common log format."""

    def __init__(self, app: ASGIApp, *, counts: Counts) -> None:
        self.app = app
        self.counts = counts

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass one request on, watched."""
        if scope["type"] != "http":
            await self.app(scope, receive, send)
            return
        scope.setdefault("state", {})
        status, size, begun = 500, 0, monotonic()

        async def sending(message: Message) -> None:
            nonlocal status, size
            if message["type"] == "http.response.start":
                status = message["status"]
            size += len(message.get("body", b""))
            await send(message)

        try:
            await self.app(scope, receive, sending)
        finally:
            seconds = monotonic() - begun
            path = local_path(scope)
            operation = operation_of(scope["method"], path)
            named = operation.path if operation is not None else "other"
            lane = operation.lane if operation is not None else ""
            self.counts.add(scope["method"], named, status, lane or "other", seconds)
            if log.handlers:
                log.info(_line(scope, status, size, seconds))


def _line(scope: Scope, status: int, size: int, seconds: float) -> str:
    """Return a request in the common log format, with the seconds it took; secrets left out."""
    person = scope["state"].get("person")
    name = quote(person.name) if person is not None and person.name else "-"
    path = quote(re.sub(TOKEN.pattern, r"\1", scope["path"]))
    time = datetime.now(UTC).strftime("%d/%b/%Y:%H:%M:%S +0000")
    address = scope["client"][0] if scope["client"] else "-"
    return (
        f'{address} - {name} [{time}] "{scope["method"]} {path} HTTP/{scope["http_version"]}" '
        f"{status} {size} {seconds:.3f}"
    )


class Counts:
    """How many requests of each kind there were, and how long they took."""

    def __init__(self) -> None:
        self.requests: Counter[tuple[str, str, int]] = Counter()
        self.classes: dict[str, Counter[float]] = defaultdict(Counter)
        self.seconds: dict[str, float] = defaultdict(float)

    @classmethod
    def of_all(cls, several: Iterable[Counts]) -> Counts:
        """Return what several processes counted together."""
        whole = cls()
        for each in several:
            whole.requests.update(each.requests)
            for lane, classes in each.classes.items():
                whole.classes[lane].update(classes)
                whole.seconds[lane] += each.seconds[lane]
        return whole

    def add(self, method: str, operation: str, status: int, lane: str, seconds: float) -> None:
        """Count one request."""
        known = method if method in ("GET", "HEAD", "POST", "PUT", "DELETE") else "other"
        self.requests[known, operation, status] += 1
        self.seconds[lane] += seconds
        for bound in (*BOUNDS_S, float("inf")):
            self.classes[lane][bound] += seconds <= bound


def metrics_text(counts: Counts, gauges: Mapping[str, Mapping[str, float]]) -> str:
    """Return counts and gauges in the OpenMetrics text format.

    ``gauges`` holds the value of each by its labels as they are written.
    """
    return "\n".join([*_counted(counts), *_timed(counts), *_gauged(gauges), "# EOF\n"])


def _counted(counts: Counts) -> Iterator[str]:
    yield "# TYPE leatline_requests counter"
    yield "# HELP leatline_requests Requests answered."
    for (method, operation, status), count in sorted(counts.requests.items()):
        labels = f'method="{method}",operation="{operation}",status="{status}"'
        yield f"leatline_requests_total{{{labels}}} {count}"


def _timed(counts: Counts) -> Iterator[str]:
    yield "# TYPE leatline_request_seconds histogram"
    yield "# UNIT leatline_request_seconds seconds"
    yield "# HELP leatline_request_seconds From the head of a request to the end of its answer."
    for lane, classes in sorted(counts.classes.items()):
        for bound, count in sorted(classes.items()):
            end = "+Inf" if bound == float("inf") else f"{bound:g}"
            yield f'leatline_request_seconds_bucket{{lane="{lane}",le="{end}"}} {count}'
        whole = classes[float("inf")]
        yield f'leatline_request_seconds_count{{lane="{lane}"}} {whole}'
        yield f'leatline_request_seconds_sum{{lane="{lane}"}} {counts.seconds[lane]:.6f}'


def _gauged(gauges: Mapping[str, Mapping[str, Any]]) -> Iterator[str]:
    for name, values in sorted(gauges.items()):
        yield f"# TYPE leatline_{name} gauge"
        for labels, value in sorted(values.items()):
            yield f"leatline_{name}{f'{{{labels}}}' if labels else ''} {value:g}"
