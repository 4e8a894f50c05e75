"""What the examples take from a document: its water, its pipes as the catalogue knows them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.errors import LeatlineError
from routing.papers.document import Document
from routing.pipe import Pipe, load_catalogue
from routing.water import Water, water_at

__all__ = ["KILO", "catalogued", "deepest", "study_water"]

KILO = 1000.0


def study_water(doc: Document) -> Water:
    """Return the water of a study."""
    return water_at(float(doc["water"]["temperature_c"]))


def catalogued(run: Mapping[str, Any]) -> Pipe | None:
    """Return a run's pipe as the catalogue knows it; None for one that was given by hand."""
    try:
        return load_catalogue().find(str(run["id"])) if run.get("id") else None
    except LeatlineError:
        return None


def deepest(doc: Document) -> Mapping[str, Any] | None:
    """Return the run of pipe under the highest static pressure; None without a pipe."""
    at = float(doc["summary"].get("max_static_station_m") or 0.0)
    runs = list(doc.get("pipes") or ())
    under = [run for run in runs if float(run["from_m"]) <= at + 1e-6]
    return under[-1] if under else None
