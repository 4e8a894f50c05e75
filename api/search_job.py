"""Searches and screenings in a job's own process."""

from __future__ import annotations

import gc
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

import orjson

from api.compute import terrain_named
from api.jobs import Report
from routing.abreast import idle_cores
from routing.compiled import prefer_compiled
from routing.record import to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain
from routing.value import dataclass

if TYPE_CHECKING:
    from routing.search.ends import End

__all__ = ["TerrainRequest", "run_screen", "run_search"]


@dataclass(frozen=True, slots=True, kw_only=True)
class TerrainRequest:
    """A terrain with its files looked up, and settings; it crosses to job processes."""

    settings: Mapping[str, Any]
    names: tuple[str, ...]
    paths: tuple[Path, ...]


def run_search(asked: TerrainRequest, start: End, end: End, report: Report) -> dict[str, Any]:
    """Return ``search.json`` with the document of each study in it."""
    from routing.search import propose, search_document

    prefer_compiled()
    settings = settings_from_mapping(asked.settings)
    with terrain_named(asked):
        terrain = open_study_terrain(asked.paths, settings)
        found = propose(terrain, start, end, settings, report=report, copies=idle_cores())
        document = search_document(found, idle_cores())
    for each in document["alternatives"]:
        each["study"]["terrain"]["files"] = list(asked.names)
    plain: dict[str, Any] = orjson.loads(to_json(document))
    return plain


def _get_ready() -> None:
    """Load or compile all that a search takes, by one for a single line of the sample."""
    import sample_dem
    from routing.line import read_route
    from routing.search import propose, search_document
    from routing.settings import read_settings

    prefer_compiled()
    sample = sample_dem.sample_paths()
    given = read_settings(sample.settings).given
    settings = settings_from_mapping({**given, "search": {"alternatives": 1}})
    terrain = open_study_terrain([sample.terrain], settings)
    line = read_route(sample.line)
    start, end = ((float(line.lon[at]), float(line.lat[at])) for at in (0, -1))
    found = propose(terrain, start, end, settings, tries=1)
    to_json(search_document(found))
    gc.collect()
    gc.freeze()  # what was loaded stays, and need not be looked through


run_search.ready = _get_ready  # type: ignore[attr-defined]


@cache
def _get_ready_to_screen() -> None:
    """Load or compile all that a screening takes, by a short one of the sample; once."""
    import sample_dem
    from routing.search.valley import screen_document, screen_valley

    _get_ready()
    told = {"catchment": {"specific_yield": "30 L/s/km2"}, "screen": {"sample": 1, "top": 0}}
    paths = [sample_dem.sample_paths().terrain]
    to_json(screen_document(screen_valley(paths, settings_from_mapping(told), workers=1)))


def run_screen(asked: TerrainRequest, report: Report) -> dict[str, Any]:
    """Return ``screen.json`` with the document of each study in it."""
    from routing.search.valley import best_studies, screen_document, screen_valley

    prefer_compiled()
    settings = settings_from_mapping(asked.settings)
    with terrain_named(asked):
        screened = screen_valley(asked.paths, settings, report=report, workers=1)
        document = screen_document(screened)
        for each, study in best_studies(screened, document, report):
            study["terrain"]["files"] = list(asked.names)
            each["study"] = study
    found: dict[str, Any] = orjson.loads(to_json(document))
    return found


run_screen.first = _get_ready_to_screen  # type: ignore[attr-defined]
