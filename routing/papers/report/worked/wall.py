"""The wall of the pipe: its class with surge, its ring under a vacuum, the test of the line."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from routing.errors import LeatlineError
from routing.papers.document import Document, at_station, column
from routing.papers.report.worked.given import KILO, catalogued, deepest
from routing.pipe import Pipe
from routing.strength.ring import least_wall_m, ring_collapse_pa
from routing.strength.rules import allowance, surge_rule
from routing.strength.vacuum import vacuum_strength
from routing.works.holds import end_thrust_n

__all__ = ["wall_examples"]

MEGA = 1e6


def wall_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of class, ring and end thrust for the pipe under the highest pressure."""
    made: dict[str, Mapping[str, float | None]] = {}
    run = deepest(doc)
    pipe = catalogued(run) if run is not None else None
    if run is not None and pipe is not None:
        made |= _class(doc, run, pipe)
        made |= _ring(doc, pipe)
    works = doc.get("works") or {}
    if works.get("ends"):
        end = max(works["ends"], key=lambda each: float(each["test_kn"]))
        pressure = _test_kpa(doc, works.get("tests") or (), float(end["station_m"]))
        if pressure is not None:
            outside = float(end["outside_diameter_mm"]) / KILO
            made["end"] = {
                "station_m": float(end["station_m"]),
                "pressure_kpa": pressure,
                "outside_diameter_mm": float(end["outside_diameter_mm"]),
                "thrust_kn": end_thrust_n(pressure * KILO, outside) / KILO,
            }
    return made


def _test_kpa(doc: Document, tests: Sequence[Mapping[str, Any]], at_m: float) -> float | None:
    """Return the highest pressure that the tests bring to a station; None where none reaches it."""
    level, water = at_station(doc, "pipe_m", at_m), doc["water"]
    weight = float(water["density_kg_m3"]) * float(water["gravity_m_s2"]) / KILO
    found = []
    for test in tests:
        bottom = at_station(doc, "pipe_m", float(test["bottom_station_m"]))
        if level is None or bottom is None or not test["from_m"] <= at_m <= test["to_m"]:
            continue
        found.append(float(test["bottom_kpa"]) - (level - bottom) * weight)
    return max(found, default=None)


def _class(
    doc: Document, run: Mapping[str, Any], pipe: Pipe
) -> dict[str, Mapping[str, float | None]]:
    try:
        allowed = allowance(pipe, float(doc["water"]["temperature_c"]))
    except LeatlineError:
        return {}
    if allowed.static_pa is None or allowed.total_pa is None:
        return {}
    rule = surge_rule(pipe)
    static, highest = column(doc, "static_pressure_kpa"), column(doc, "surge_max_kpa")
    at = float(static.max())
    surge = float(highest[int(static.argmax())])
    return {
        "class": {
            "static_kpa": at,
            "rated_kpa": run.get("rating_kpa"),
            "temperature_factor": run.get("derating_factor"),
            "surge_factor": rule.factor(recurring=False),
            "addition_kpa": rule.addition_pa / KILO,
            "surge_kpa": surge - at if surge == surge else None,
            "with_surge_kpa": surge if surge == surge else None,
            "allowed_rest_kpa": allowed.static_pa / KILO,
            "allowed_surge_kpa": allowed.total_pa / KILO,
        }
    }


def _ring(doc: Document, pipe: Pipe) -> dict[str, Mapping[str, float | None]]:
    if pipe.elastic_short_pa is None or pipe.poisson is None:
        return {}
    wall = least_wall_m(pipe)
    freeze = bool((doc.get("vacuum") or {}).get("vents_may_freeze"))
    strength = vacuum_strength(pipe, vents_may_freeze=freeze)
    return {
        "ring": {
            "elastic_mpa": pipe.elastic_short_pa / MEGA,
            "poisson": pipe.poisson,
            "wall_mm": wall * KILO,
            "outside_diameter_mm": pipe.outside_diameter_m * KILO,
            "mean_diameter_mm": (pipe.outside_diameter_m - wall) * KILO,
            "collapse_kpa": ring_collapse_pa(
                elastic_pa=pipe.elastic_short_pa,
                poisson=pipe.poisson,
                outside_diameter_m=pipe.outside_diameter_m,
                wall_m=wall,
            )
            / KILO,
            "safety": None if strength is None else strength.safety,
            "allowed_kpa": None if strength is None else strength.limit_pa / KILO,
        }
    }
