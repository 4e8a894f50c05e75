"""The preview's short form: for a line being dragged, under 100 KiB for two thousand stations.

Columns go as base64 text of little-endian numbers, which a browser turns into typed arrays without
parsing. What follows from other values exactly (depth from ground, pipe and bore; pressures from
heads and the water) is left for the page to work out.
"""

from __future__ import annotations

import base64
from collections.abc import Mapping
from typing import Any

import numpy as np
import orjson

__all__ = [
    "COLUMNS",
    "SENT",
    "compact_json",
    "compact_schema",
    "line_json",
    "line_schema",
    "shortened",
]

COLUMNS = (
    "station_m",
    "lon_from_origin",
    "lat_from_origin",
    "ground_m",
    "pipe_m",
    "flowing_head_m",
    "surge_max_kpa",
    "surge_min_kpa",
)
"""The columns that are sent as 32-bit floats, as far as the study has them; NaN where it has null.

Places count from the intake: an offset keeps a place to a centimetre over a hundred kilometres.
"""

FITTING_KEYS = (
    "id",
    "station_m",
    "lon",
    "lat",
    "ground_m",
    "pipe_m",
    "static_head_m",
    "flowing_head_m",
    "rule",
    "need",
    "reason",
    "kind",
    "size_mm",
    "depth_m",
)
VENT_KEYS = (*FITTING_KEYS, "open_top_m", "open_height_m", "prominence_m", "minor", "probability")
DRAIN_KEYS = (*FITTING_KEYS, "drained_m3", "left_m3", "probability")
BEND_KEYS = (
    "id",
    "station_m",
    "lon",
    "lat",
    "pipe_m",
    "plan_deg",
    "vertical_deg",
    "deflection_deg",
)
PIPE_KEYS = (
    "from_m",
    "to_m",
    "length_m",
    "id",
    "label",
    "material",
    "outside_diameter_m",
    "inside_diameter_m",
    "wall_m",
    "rating_kpa",
    "derated_rating_kpa",
    "mass_kg_m",
)
CROSSING_KEYS = (
    "id",
    "station_m",
    "to_m",
    "kind",
    "name",
    "angle_deg",
    "length_m",
    "asks",
    "relation",
    "consent",
    "cover_m",
    "lon",
    "lat",
)
GRADE_KEYS = ("from_m", "to_m", "grade")
LISTS: Mapping[str, tuple[str, tuple[str, ...]]] = {
    "vents": ("Vent", VENT_KEYS),
    "drains": ("Drain", DRAIN_KEYS),
    "bends": ("Bend", BEND_KEYS),
    "pipes": ("Pipe", PIPE_KEYS),
    "crossings": ("Crossing", CROSSING_KEYS),
    "grades": ("Grade", GRADE_KEYS),
}
"""Lists of which only some members are sent, with the schema of a whole entry."""

PARTS = (
    "name",
    "units",
    "summary",
    "verdict",
    "cost",
    "water",
    "trench",
    "flow",
    "air",
    "doubt",
    "levels_to_shoot",
    "assumptions",
    "cautions",
)
"""Parts of the study that are sent as they are."""

ON_DEMAND = ("energy",)
"""Parts that a study has only if it was asked for them."""

OPTIONAL = ("flowing_head_m", "surge_max_kpa", "surge_min_kpa")
"""Columns that a study has only with a flow, or with a surge."""

SENT = (*PARTS, *ON_DEMAND, *LISTS, "warnings", "stations")
"""Members of the study that the short form is made of."""

AT_REST = ("bends", "grades", "cautions", "assumptions")
"""Members that a line being dragged goes without: the page keeps those of the line at rest."""

DRAGGED = tuple(name for name in SENT if name not in AT_REST)
"""Members that the short form of a line being dragged is made of."""

OF_LINE = ("name", "units", "summary", "water", "trench", "flow", "pipes", "stations")
"""Members of the first look at such a line: where it lies and what flows, before its fittings."""

OF_FITTINGS = {
    "summary": (
        "vent_count",
        "drain_count",
        "expected_vents",
        "cost",
        "cost_per_kwh",
        "payback_years",
    ),
    "trench": ("offers",),
}
"""What hangs on fittings in those members; a first look has none of it."""

MOST_BENDS = 30
"""Bends sent, the sharpest ones [-]; a long line has hundreds of slight ones."""

MOST_NOTES = 40
"""Warnings of each severity sent [-]; ``warning_count`` counts them all."""


def shortened(document: dict[str, Any]) -> dict[str, Any]:
    """Return a study's members with the lists cut to what the short form sends of them."""
    lists = {name: document[name] for name in LISTS if name in document}
    counted: dict[str, Any] = {}
    if (bends := lists.get("bends")) is not None:
        counted["bend_count"] = len(bends)
        if len(bends) > MOST_BENDS:
            sharpest = sorted(bends, key=lambda bend: -float(bend["deflection_deg"]))[:MOST_BENDS]
            lists["bends"] = sorted(sharpest, key=lambda bend: float(bend["station_m"]))
    return {
        **document,
        **counted,
        **{
            name: [{key: item[key] for key in LISTS[name][1]} for item in items]
            for name, items in lists.items()
        },
    }


def line_json(document: Mapping[str, Any]) -> bytes:
    """Return the first look at a line being dragged, from a document without fittings."""
    look = {
        key: {name: each for name, each in value.items() if name not in OF_FITTINGS[key]}
        if key in OF_FITTINGS
        else value
        for key, value in document.items()
    }
    short = {**look, "fitted": False, "stations": _stations(document["stations"])}
    return orjson.dumps(short, option=orjson.OPT_SERIALIZE_NUMPY)


def compact_json(document: Mapping[str, Any], *, pressures: bool) -> bytes:
    """Return a fresh, shortened study document in its short form.

    ``pressures`` says how it was computed.
    """
    found = document["warnings"]
    short: dict[str, Any] = {
        **document,
        "pressures": pressures,
        "warnings": [
            item
            for severity in ("fault", "warning", "note")
            for item in [each for each in found if each["severity"] == severity][:MOST_NOTES]
        ],
        "warning_count": len(found),
        "stations": _stations(document["stations"]),
    }
    return orjson.dumps(short, option=orjson.OPT_SERIALIZE_NUMPY)


def _stations(stations: Mapping[str, Any]) -> dict[str, Any]:
    """Return the columns as text."""
    lon = np.asarray(stations["lon"], dtype=np.float64)
    lat = np.asarray(stations["lat"], dtype=np.float64)
    offsets = {"lon_from_origin": lon - lon[0], "lat_from_origin": lat - lat[0]}
    values = {**stations, **offsets}
    return {
        "n": len(lon),
        "origin": {"lon": float(lon[0]), "lat": float(lat[0])},
        "columns": {name: _packed(values[name]) for name in COLUMNS if name in values},
    }


def _packed(values: Any) -> str:
    return base64.b64encode(np.asarray(values, dtype="<f4").tobytes()).decode("ascii")


def compact_schema(study: Mapping[str, Any], parts: Mapping[str, Any]) -> dict[str, Any]:
    """Return the JSON Schema of the short form, from that of the study and of its parts."""
    members = study["properties"]
    known = {
        **members["stations"]["properties"],
        "lon_from_origin": {"description": "Longitude less the first station's [deg]."},
        "lat_from_origin": {"description": "Latitude less the first station's [deg]."},
    }
    columns = {
        name: {
            "type": "string",
            "contentEncoding": "base64",
            "description": f"{known[name]['description']} Little-endian 32-bit floats.",
        }
        for name in COLUMNS
    }
    count = {"type": "integer", "minimum": 0}
    place = {"lon": {"type": "number"}, "lat": {"type": "number"}}
    stations = {
        "n": {**count, "description": "Stations."},
        "origin": {
            **_closed(place),
            "description": "The first station, WGS 84 [deg]; places count from it.",
        },
        "columns": {
            **_closed(columns),
            "required": [name for name in COLUMNS if name not in OPTIONAL],
        },
    }
    lists = {
        name: {
            "type": "array",
            "description": members[name]["description"],
            "items": _closed({key: parts[part]["properties"][key] for key in keys}),
        }
        for name, (part, keys) in LISTS.items()
    }
    whole = _closed(
        {
            **{name: members[name] for name in (*PARTS, *ON_DEMAND)},
            **lists,
            "warnings": members["warnings"],
            "warning_count": {**count, "description": "Warnings of the study, sent or not."},
            "bend_count": {**count, "description": "Bends of the study, sent or not."},
            "pressures": {
                "type": "boolean",
                "description": "Whether surge, class, vacuum, thrust and spans were computed; "
                "if not, their warnings are missing.",
            },
            "stations": _closed(stations),
        }
    )
    whole["required"] = [
        name for name in whole["required"] if name not in (*ON_DEMAND, *AT_REST, "bend_count")
    ]
    return {
        "title": "Study in short",
        "description": "A preview's short form: columns as base64; depth, cover, static head and "
        "the pressures follow from what is sent.",
        **whole,
    }


def line_schema(short: Mapping[str, Any]) -> dict[str, Any]:
    """Return the JSON Schema of the first look, from that of the short form."""
    members = {name: short["properties"][name] for name in OF_LINE}
    for name, absent in OF_FITTINGS.items():
        kept = {key: each for key, each in members[name]["properties"].items() if key not in absent}
        needed = [key for key in members[name]["required"] if key not in absent]
        members[name] = {**members[name], "properties": kept, "required": needed}
    return {
        "title": "First look at a line",
        "description": "A preview's first answer: the line without fittings, findings and cost, "
        "which the short form has.",
        **_closed({**members, "fitted": {"const": False, "description": "None were placed."}}),
    }


def _closed(members: dict[str, Any]) -> dict[str, Any]:
    """Return the schema of an object that has all of these members and no others."""
    return {
        "type": "object",
        "additionalProperties": False,
        "required": list(members),
        "properties": members,
    }
