"""Several lines in one study: each line's figures, held by the same judge, side by side."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

__all__ = ["ROW_MEMBERS", "line_row", "rows_of_lines", "with_lines"]

ROW_MEMBERS = ("name", "summary", "verdict", "cost", "route", "stations", "crossings")
"""Members of a document that a row is made of."""


def line_row(document: Mapping[str, Any], name: str | None = None) -> dict[str, Any]:
    """Return what a study says of its line, as a row beside other lines.

    The figures, the verdict and the cost are the document's own, so that a comparison cannot say
    anything else than the study of that line alone. ``name`` replaces that of the route.
    """
    route, stations, cost = document["route"], document["stations"], document.get("cost")
    station = np.asarray(stations["station_m"], dtype=np.float64)
    at = np.asarray(route["station_m"], dtype=np.float64)
    level = np.interp(at, station, np.asarray(stations["pipe_m"], dtype=np.float64))
    crossings = document.get("crossings") or ()
    lacking = [each for each in crossings if each["consent"] is None]
    return {
        "name": name or route.get("name") or document["name"],
        "summary": document["summary"],
        "verdict": document["verdict"],
        "cost": None
        if cost is None
        else {key: cost[key] for key in ("total", "currency", "date", "not_priced")},
        "crossing_count": len(crossings),
        "consents_lacking": len(lacking),
        "route": {
            "lon": route["lon"],
            "lat": route["lat"],
            "station_m": route["station_m"],
            "pipe_m": np.round(level, 4),
        },
        "problem": None,
    }


def rows_of_lines(document: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return the rows of a study's lines; of one line alone its own."""
    return list(document.get("lines") or (line_row(document),))


def with_lines(document: Mapping[str, Any], others: Sequence[Mapping[str, Any]]) -> dict[str, Any]:
    """Return a document with its ``lines``: its own first, then the others; as it is without any.

    ``others`` are rows of :func:`line_row`, or a name and the problem that keeps a line from being
    computed.
    """
    if not others:
        return dict(document)
    empty = {"summary": None, "verdict": None, "cost": None, "route": None}
    counts = {"crossing_count": None, "consents_lacking": None}
    rows = [line_row(document), *({**empty, **counts, **other} for other in others)]
    return {**document, "lines": rows}
