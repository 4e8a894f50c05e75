"""What a detail is, and the pipe where it is drawn."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from routing.papers.document import Document
from routing.papers.sheet.sketch import Sketch

__all__ = ["Detail", "bore_at"]


class Detail(NamedTuple):
    """A detail: its title, how it is drawn, and what is said below it."""

    title: str
    draw: Callable[[Sketch], None]
    notes: Sequence[str]


def bore_at(doc: Document, station_m: float) -> tuple[float, float]:
    """Return outside diameter and bore of the pipe at a station [m]."""
    runs = [run for run in doc.get("pipes") or () if float(run["from_m"]) <= station_m + 1e-6]
    if not runs:
        outside = float((doc.get("trench") or {}).get("outside_diameter_m") or 0.2)
        return outside, 0.9 * outside
    return float(runs[-1]["outside_diameter_m"]), float(runs[-1]["inside_diameter_m"])
