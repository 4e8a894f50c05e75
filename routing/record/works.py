"""The plan of commissioning, as parts of ``study.json``."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from typing import Any

from routing.anchors import anchor_limits
from routing.commissioning_study import WorksSide
from routing.laid_line import LaidLine
from routing.rounding import fields_of, kpa
from routing.works import (
    Filling,
    HoldPoint,
    IsolatingValve,
    LossTable,
    WaterFront,
    with_section_valves,
)

__all__ = ["works_sections"]

_WHY = {
    "below the intake": "Shows the water level at the intake.",
    "sag": "Shows air in the limbs beside it.",
    "powerhouse": "Shows the whole head, at rest and running.",
    "as given": "Asked for in the settings.",
}
_KPA = ("gauge_pa", "tolerance_pa", "pump_pa", "bottom_pa", "top_pa", "lowest_pa",
        "start_pa", "end_pa", "least_pa", "most_pa")  # fmt: skip


def _place(line: LaidLine, station_m: float) -> dict[str, float]:
    """Return where a station of the line lies, WGS 84 [deg]."""
    lon, lat = line.lonlat(station_m)
    return {"lon": float(lon), "lat": float(lat)}


def works_sections(
    side: WorksSide | None, valves: Sequence[IsolatingValve], line: LaidLine
) -> dict[str, Any]:
    """Return the sections taps, valves and works; no works without a pipe."""
    cuts = () if side is None else [at for section in side.tests for at in section.proposed]
    listed = [
        {
            "id": f"G{count}",
            "station_m": each.station_m,
            **_place(line, each.station_m),
            **fields_of(each, "place proposed reason"),
        }
        for count, each in enumerate(with_section_valves(valves, cuts), start=1)
    ]
    if side is None:
        return {"taps": [], "valves": listed, "works": None}
    return {
        "taps": [
            {
                "id": tap.id,
                "station_m": tap.station_m,
                **_place(line, tap.station_m),
                "level_m": tap.level_m,
                "place": tap.place,
                "reason": _WHY[tap.place],
                **fields_of(tap, "static_kpa full_scale_kpa level_sd_m"),
            }
            for tap in side.taps
        ],
        "valves": listed,
        "works": {
            "hold_points": [
                {"id": name, **each._asdict()} for name, each in _in_order_of_work(side.holds)
            ],
            "ends": [
                fields_of(end, "station_m what outside_diameter_mm filling_kn test_kn")
                for end in side.ends
            ],
            "filling": {**_filling(side.filling), "front": _front(side.front, line)},
            "spouts": [each._asdict() for each in side.spouts],
            "flushing": [
                {
                    **_plain(each, "bore_m", "turning"),
                    "bore_mm": each.bore_m * 1e3,
                    **each.turning._asdict(),
                }
                for each in side.flushing
            ],
            "tests": [
                {
                    "id": f"Q{n}",
                    **_plain(each, "proposed", "phases"),
                    "proposed_m": list(each.proposed),
                }
                for n, each in enumerate(side.tests, start=1)
            ],
            "test_phases": [
                {"test": f"Q{n}", **_plain(phase)}
                for n, each in enumerate(side.tests, start=1)
                for phase in each.phases
            ],
            "diagnosis": [
                {
                    "tap": each.tap.id,
                    "station_m": each.tap.station_m,
                    **fields_of(each, "flow_m3_s gauge_kpa tolerance_kpa"),
                }
                for each in side.expected
            ],
            "losses": _losses(side.losses),
            "drain_down": {
                "steps": [
                    {**_plain(step, "turning"), **step.turning._asdict()}
                    for step in side.drain_down
                ],
                "water_left": [_plain(each) for each in side.water_left],
                "refill": fields_of(side.filling, "rate_m3_s volume_m3 time_s"),
                "cure_days": anchor_limits().block_cure_days,
            },
        },
    }


def _in_order_of_work(holds: Sequence[HoldPoint]) -> list[tuple[str, HoldPoint]]:
    """Return hold points by when they are due; a name stays with its point, wherever it stands."""
    due = list(dict.fromkeys(each.when for each in holds))
    named = [(f"W{n}", each) for n, each in enumerate(holds, start=1)]
    return sorted(named, key=lambda pair: due.index(pair[1].when))


def _losses(table: LossTable) -> dict[str, Any]:
    return {
        "flow_m3_s": table.flow_m3_s.tolist(),
        "at_m": table.at_m.tolist(),
        "lost_m": [{"at_flow_m": row.tolist()} for row in table.lost_m],
        "area_m2": table.area_m2.tolist(),
        "static_m": table.static_m.tolist(),
        "limbs": [dataclasses.asdict(limb) for limb in table.limbs],
    }


def _front(front: Sequence[WaterFront], line: LaidLine) -> list[dict[str, Any]]:
    """Return what a reading at the outlet tells of the water front, lowest first."""
    weight, outlet = line.water.weight_n_m3, line.levels.outlet_m
    return [{"gauge_kpa": kpa((row.level_m - outlet) * weight), **row._asdict()} for row in front]


def _filling(filling: Filling) -> dict[str, Any]:
    return {
        **fields_of(filling, "rate_m3_s limited_by volume_m3 time_s full"),
        "stages": [
            {
                "id": f"F{n}",
                **_plain(step, "readings", "vents_hissing", "vents_shut"),
                "readings": [
                    {
                        "tap": reading.tap.id,
                        "station_m": reading.tap.station_m,
                        "gauge_kpa": kpa(reading.gauge_pa),
                        "tolerance_kpa": kpa(reading.tolerance_pa),
                    }
                    for reading in step.readings
                ],
                "vents_hissing": list(step.vents_hissing),
                "vents_shut": list(step.vents_shut),
            }
            for n, step in enumerate(filling.steps, start=1)
        ],
    }


def _plain(value: Any, *without: str) -> Mapping[str, Any]:
    """Return the fields of a part, its pressures in kPa."""
    found = {}
    for field in dataclasses.fields(value):
        name, held = field.name, getattr(value, field.name)
        if name in without:
            continue
        found[name.replace("_pa", "_kpa") if name in _KPA else name] = (
            kpa(held) if name in _KPA else held
        )
    return found
