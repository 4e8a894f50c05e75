"""The sample's study document as its file holds it; the study is run once for all tests."""

from __future__ import annotations

from functools import cache
from typing import Any

import orjson

from routing.line import read_route
from routing.record import study_document, to_json
from routing.settings import read_settings
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

__all__ = ["sample_document"]


def sample_document() -> dict[str, Any]:
    """Return the document, anew each time, so that a test may change its own."""
    found: dict[str, Any] = orjson.loads(_written())
    return found


@cache
def _written() -> bytes:
    paths = sample_paths()
    settings = read_settings(paths.settings)
    terrain = open_study_terrain([paths.terrain], settings)
    return to_json(study_document(run_study(terrain, read_route(paths.line), settings)))
