"""Studies of the sample terrain that between them say most of what a study can say."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator
from copy import deepcopy
from typing import Any

import sample_dem

__all__ = ["OF_LINES", "OF_RASTERS", "sample_documents"]

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
BARE: tuple[dict[str, Any], ...] = (
    {},
    {"flow": {"design": "12 L/s"}, "pipe": [{"catalogue": "STEEL-B3610-STD-3in"}]},
    {
        "terrain": {"rmse": "5 m", "unit": "ft"},
        "flow": {"design": "12 L/s"},
        "pipe": [{"catalogue": "PE100-SDR26-200"}],
        "prices": {"date": "2026-11-02", "trench_per_m3": 30.0},
        "turbine": {"kind": "pelton"},
    },
)
"""Settings of somebody who has given little yet."""
OF_RASTERS = (
    "Nothing in {1} states the unit of its elevations; metres were assumed.",
    'If they are feet, set unit = "ft" or "US survey foot" under [terrain].',
    "If they are feet, set the unit of the raster's heights to ft or US survey foot.",
    "{1} states its coordinate system as {2}; {3}, which the settings name, was used instead.",
    "Nothing states the vertical datum of the raster: take the intake and the outlet from the same "
    "source, or name it as vertical_datum under [terrain].",
    "Nothing states the vertical datum of the raster: take the intake and the outlet from the same "
    "source, or name it as the datum of the raster.",
    "The raster's cell of {1} is coarse for a trench: the profile is interpolated, and levels "
    "along the trench must be taken before laying.",
    "metre (assumed)", "foot (setting)", "not stated: as in the raster",
)  # fmt: skip
"""What is said of a raster that states little; the sample's states all."""
OF_LINES = (
    "At {1} the pressure at rest is {2}, above the {3} that {4} holds in water of {5}.",
    "Take a stronger class here.",
    "Relief shaded from the study's own raster, {1} to {2}.",
    "{1} has no pressure rating, so whether it holds was not checked.",
    "Give pipe.pressure_rating from the maker's sheet.",
    "Give its pressure rating from the maker's sheet.",
    "From {1} to {2} the water runs at {3}, below {4}: sediment settles and air stays.",
    "Take a smaller pipe, or provide for flushing.",
    "The pipe falls more steeply than {1} {2} near station {3}, where it is hard to lay and to "
    "anchor.",
    "Draw the line across the slope, or keep it above ground on anchors.",
    "By what the elevations can tell the summit at {1} may not be there: {2} stands out by {3}, "
    "{4} likely.",
    "Take levels there before you buy; until then keep the vent.",
    "{1} fitting stands nearer than {2} bores to a bend, and the place leaves no room",
    "{1} fittings stand nearer than {2} bores to a bend, and the place leaves no room",
    "{1} at {2} and {3} more", "{1} at {2} and {3} at {4}", "Flowing –",
    "Keep a straight piece for the tee.",
    "steepening {1}", "flat reach ends {1}", "flatter climb {1}", "spacing {1}", "summit {1}",
    "{1} deeper saves {2} vent for {3}", "{1} deeper saves {2} drain for {3}",
    "none is added", "and {1} shorter", "above the pipe's rating", "blank end", "joint, welded",
)  # fmt: skip
"""What lines say that differ from the sample in slope, pressure or number of fittings."""


def _changed(given: dict[str, Any], change: dict[str, Any]) -> dict[str, Any]:
    """Return settings with tables changed as a row of ``CHANGES`` says."""
    settings = deepcopy(given)
    for table, keys in change.items():
        if keys is None:
            settings.pop(table, None)
        else:
            settings[table] = {**settings.get(table, {}), **keys} if keys else {}
    return settings


def sample_documents() -> Iterator[dict[str, Any]]:
    """Yield the study of the sample under each of these changes."""
    from routing.errors import LeatlineError
    from routing.line import read_route
    from routing.record import study_document
    from routing.settings import settings_from_mapping
    from routing.study import open_study_terrain, run_study

    sample = sample_dem.sample_paths()
    given = tomllib.loads(sample.settings.read_text(encoding="utf-8"))
    for settings in (*(_changed(given, change) for change in CHANGES), *BARE):
        try:
            read = settings_from_mapping(settings)
            opened = open_study_terrain([sample.terrain], read)
            yield study_document(run_study(opened, read_route(sample.line), read))
        except LeatlineError:
            continue  # what such a study is refused with stands in the messages of the guide
