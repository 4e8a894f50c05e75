"""Studies of the sample terrain that between them say most of what a study can say."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import sample_dem

__all__ = ["sample_documents"]

CHANGES: tuple[dict[str, Any], ...] = (
    {},
    {"study": {"reverse": True}},
    {"trench": {"max_depth": "0.95 m"}},
    {"flow": {"design": "60 L/s"}},
    {"terrain": {}},
    {"flow": None, "pipe": None, "turbine": None},
    {"pipe": None},
    {"intake": {"level_above_ground": "-12 m"}},
    {"study": {"units": "us"}},
    {"site": {"vents_may_freeze": True, "soil": "soft clay"}},
    {"prices": {"date": "2026-11-02", "drain": 90.0}},
    {"turbine": {"kind": "pelton", "efficiency": "70 %", "closure_time": "2 s"}},
    {"turbine": {"efficiency": "64 %", "closure_time": "0.2 s"}},
)
"""What each study changes in the sample's settings: a table replaced, or None for without it."""


def sample_documents() -> Iterator[dict[str, Any]]:
    """Yield the study of the sample under each of these changes."""
    from routing.errors import LeatlineError
    from routing.line import read_route
    from routing.record import study_document
    from routing.settings import settings_from_mapping
    from routing.study import open_study_terrain, run_study

    sample = sample_dem.sample_paths()
    given = tomllib.loads(sample.settings.read_text(encoding="utf-8"))
    for change in CHANGES:
        settings = deepcopy(given)
        for table, keys in change.items():
            if keys is None:
                settings.pop(table, None)
            else:
                settings[table] = {**settings.get(table, {}), **keys} if keys else {}
        try:
            read = settings_from_mapping(settings)
            opened = open_study_terrain([sample.terrain], read)
            yield study_document(run_study(opened, read_route(sample.line), read))
        except LeatlineError:
            continue  # what such a study is refused with stands in the messages of the guide
