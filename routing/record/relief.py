"""Relief valves as a part of ``study.json``: window, setting, place and where the jet goes."""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from routing.fittings import PlacedRelief
from routing.laid_line import LaidLine
from routing.line.ground.places import degree_m
from routing.rounding import fields_of
from routing.study import Study
from routing.works import spout_m

__all__ = ["relief_rows"]

BESIDE_M = 5.0
"""How far up and down the line its way is taken from [m]: our own choice."""


def relief_rows(study: Study) -> list[dict[str, Any]]:
    """Return the relief valves, those asked for or those proposed.

    The jet of one that was told no side goes square to the line, to where the ground falls.
    """
    sized = study.fittings.sized
    valves = () if sized is None else sized.relief_valves
    return [_row(study, valve, f"R{n}") for n, valve in enumerate(valves, start=1)]


def _row(study: Study, valve: PlacedRelief, name: str) -> dict[str, Any]:
    line = study.line
    side = valve.side or _falling_side(study, valve.station_m)
    turn = {"right": 90.0, "left": -90.0}[side]
    lon, lat = line.lonlat(valve.station_m)
    _, reach = spout_m(valve.jet_m_s, line.water.gravity_m_s2)
    return {
        "id": name,
        "station_m": valve.station_m,
        "lon": float(lon),
        "lat": float(lat),
        **fields_of(
            valve, "proposed reason static_kpa least_setting_kpa most_setting_kpa setting_kpa"
        ),
        "size_mm": valve.bore_m * 1e3,
        "flow_m3_s": valve.flow_m3_s,
        "jet_m_s": valve.jet_m_s,
        "jet_reach_m": reach,
        "jet_side": side,
        "jet_bearing_deg": (_way_deg(line, valve.station_m) + turn) % 360.0,
    }


def _falling_side(study: Study, station_m: float) -> str:
    """Return the side to which the ground falls, as seen down the line; the right where level."""
    if study.bench is None:
        return "right"
    slope = float(np.interp(station_m, study.line.station_m, study.bench.slope))
    return "left" if slope > 0.0 else "right"  # it rises to the right


def _way_deg(line: LaidLine, station_m: float) -> float:
    """Return the bearing of the line at a station, clockwise from true north [deg]."""
    at = np.clip([station_m - BESIDE_M, station_m + BESIDE_M], 0.0, float(line.station_m[-1]))
    lon, lat = (np.interp(at, line.station_m, each) for each in (line.lon_through, line.lat))
    wide, high = (float(each) for each in degree_m(float(lat.mean())))
    way = math.atan2(float(lon[1] - lon[0]) * wide, float(lat[1] - lat[0]) * high)
    return math.degrees(way) % 360.0
