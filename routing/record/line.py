"""The laid line as sections of ``study.json``: ground, survey, trench, bends, pipes, flow."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable
from typing import Any

import numpy as np

from routing.anchors import check_breaks
from routing.land import asks_of
from routing.land.measure import least_cover
from routing.line import Extreme
from routing.pipe import derating
from routing.record.fittings import offer_saves
from routing.rounding import fields_of, kpa
from routing.study import Study
from routing.survey import disagreeing
from routing.us_units import in_units

__all__ = ["line_sections"]


def line_sections(study: Study, members: Collection[str] | None = None) -> dict[str, Any]:
    """Return the sections that follow the line from the ground to the flow.

    ``members`` names those that are wanted, None for all.
    """
    made: dict[str, Callable[[Study], Any]] = {
        "ground": _ground,
        "survey": _survey,
        "trench": _trench,
        "grades": _grades,
        "bends": _bends,
        "pipes": _pipes,
        "crossings": _crossings,
        "flow": _flow,
    }
    return {key: make(study) for key, make in made.items() if members is None or key in members}


def _place(study: Study, index: int) -> dict[str, float]:
    return {
        "lon": round(float(study.profile.lon[index]), 9),
        "lat": round(float(study.profile.lat[index]), 9),
    }


def _ground(study: Study) -> dict[str, Any]:
    def points(extremes: Iterable[Extreme]) -> list[dict[str, Any]]:
        return [
            {
                "station_m": point.station_m,
                **_place(study, point.index),
                "ground_m": point.height_m,
                "prominence_m": point.prominence_m,
            }
            for point in extremes
        ]

    return {
        "length_m": study.profile.ground_length_m,
        "highs": points(study.highs),
        "lows": points(study.lows),
    }


def _survey(study: Study) -> dict[str, Any] | None:
    survey = study.survey
    if survey is None:
        return None
    wrong, allowed = disagreeing(survey, study.terrain.rmse_m)
    return {
        "fade_m": survey.fade_m,
        "vertical_datum": study.settings.survey.vertical_datum,
        "points": [
            {
                "name": point.name,
                "station_m": float(survey.station_m[at]),
                "offset_m": float(survey.offset_m[at]),
                "lon": float(survey.lon[at]),
                "lat": float(survey.lat[at]),
                "survey_m": point.elevation_m,
                "raster_m": float(survey.raster_m[at]),
                "difference_m": float(survey.difference_m[at]),
                "accuracy_m": point.error_m,
                "allowed_m": float(allowed[at]),
                "disagrees": bool(wrong[at]),
                "use": survey.use[at],
            }
            for at, point in enumerate(survey.points)
        ],
    }


def _trench(study: Study) -> dict[str, Any]:
    pipe, limits, dug = study.line.pipe, study.line.pipe.limits, study.line.pipe.excavation
    deepest = int(np.argmax(dug.depth_m))
    return {
        **fields_of(
            limits, "outside_diameter_m cover_m max_depth_m bedding_m min_grade min_grade_falling"
        ),
        "limits": [fields_of(each, "from_m to_m max_depth_m cover_m") for each in limits.stretches],
        "ground": [
            {"from_m": each.from_, "to_m": each.to, "kind": each.kind}
            for each in study.settings.trench.ground
        ],
        "break_price_m3": limits.break_price_m3,
        "least_piece_m": limits.least_piece_m,
        "grade_choices": [
            fields_of(each, "name break_price_m3 grades volume_m3 deepest_m")
            for each in study.choices
        ],
        **fields_of(dug, "width_m volume_m3 sloped_volume_m3"),
        "deepest_m": float(dug.depth_m[deepest]),
        "deepest_station_m": float(pipe.station_m[deepest]),
        "bench": _bench(study),
        "spans": [
            {
                "from_m": span.from_m,
                "to_m": span.to_m,
                "clearance_m": _clearance(study, span.from_m, span.to_m),
            }
            for span in pipe.spans
        ],
        "below_grade": [fields_of(p, "from_m to_m grade") for p in pipe.below_grade],
        "offers": [
            {
                **offer_saves(study.fittings, offer),
                "station_m": offer.station_m,
                **_place(study, int(np.searchsorted(pipe.station_m, offer.station_m - 1e-9))),
                **fields_of(offer, "from_m to_m extra_depth_m depth_m"),
                "extra_volume_m3": offer.extra_area_m2 * dug.width_m,
            }
            for offer in pipe.offers
        ],
    }


def _bench(study: Study) -> dict[str, Any] | None:
    bench = study.bench
    if bench is None:
        return None
    return {
        "width_m": bench.width_m,
        "volume_m3": bench.volume_m3,
        "stretches": [
            fields_of(each, "from_m to_m steepest steepest_station_m volume_m3")
            for each in bench.stretches
        ],
    }


def _clearance(study: Study, from_m: float, to_m: float) -> float | None:
    """Return the greatest height of the pipe's centreline above ground within a span [m]."""
    station = study.line.pipe.station_m
    inside = (station >= from_m - 1e-6) & (station <= to_m + 1e-6)
    return float(np.max((study.line.pipe.pipe_m - study.profile.ground_m)[inside]))


def _grades(study: Study) -> list[dict[str, Any]]:
    made = {each.station_m: each for each in check_breaks(study.line)}
    rows = []
    for each in study.line.pipe.grades:
        end = made.get(each.to_m)
        rows.append(
            {
                **fields_of(each, "from_m to_m from_z_m to_z_m grade"),
                **fields_of(end, "made_as radius_m plan_radius_m"),
            }
        )
    return rows


def _bends(study: Study) -> list[dict[str, Any]]:
    return [
        {
            "id": bend.id,
            "station_m": bend.station_m,
            **_place(study, bend.index),
            "pipe_m": float(study.line.pipe.pipe_m[bend.index]),
            **fields_of(bend, "plan_deg vertical_deg deflection_deg"),
        }
        for bend in study.line.bends
    ]


def _crossings(study: Study) -> list[dict[str, Any]]:
    line, units = study.line, study.settings.study.units
    rows = []
    for each in study.crossings:
        lon, lat = line.lonlat(each.from_m)
        rows.append(
            {
                "id": each.id,
                "station_m": each.from_m,
                **fields_of(each, "to_m kind name angle_deg length_m"),
                "asks": [in_units(words, units) for words in asks_of(line, each)],
                **fields_of(each, "relation width_m consent"),
                "cover_m": least_cover(line, each)[0],
                "top_m": each.top_m,
                "lon": float(lon),
                "lat": float(lat),
                "ground_m": float(np.interp(each.from_m, line.station_m, line.ground_m)),
                "pipe_m": float(np.interp(each.from_m, line.station_m, line.pipe_m)),
            }
        )
    return rows


def _pipes(study: Study) -> list[dict[str, Any]]:
    if study.line.schedule is None:
        return []
    station, slope = study.line.pipe.station_m, study.line.pipe.slope_station_m
    units, rows = study.settings.study.units, []
    for run in study.line.schedule.runs:
        pipe = run.pipe
        derated = derating(pipe, study.line.water.temperature_c)
        start, end = np.interp([run.from_m, run.to_m], station, slope)
        rated = None if pipe.rating_pa is None else pipe.rating_pa * derated.factor
        rows.append(
            {
                "from_m": run.from_m,
                "to_m": run.to_m,
                "length_m": float(end - start),
                **fields_of(pipe, "id label material standard series nominal"),
                "joint": pipe.jointing.joint.name,
                "stick_m": pipe.jointing.stick_m,
                **fields_of(pipe, "outside_diameter_m inside_diameter_m wall_m roughness_m"),
                "roughness_source": in_units(pipe.roughness_source, units),
                "rating_kpa": kpa(pipe.rating_pa),
                "rating_reference_c": pipe.rating_reference_c,
                "rating_basis": in_units(pipe.rating_basis or "", units) or None,
                "derating_factor": derated.factor,
                "derating_table": derated.table,
                "derated_rating_kpa": kpa(rated),
                **fields_of(pipe, "mass_kg_m dimension_status dimension_source rating_status"),
                "rating_source": in_units(pipe.rating_source, units),
            }
        )
    return rows


def _flow(study: Study) -> dict[str, Any] | None:
    flow = study.flow
    if flow is None:
        return None
    return {
        **fields_of(flow.aged, "flow_m3_s entrance_m friction_m local_m head_loss_m"),
        "head_loss_new_m": flow.new.head_loss_m,
        **fields_of(
            flow, "hazen_williams_m capacity_m3_s efficiency efficiency_source turbine_kind"
        ),
        "reaches": [
            {
                **fields_of(reach, "from_m to_m velocity_m_s reynolds friction_factor friction_m"),
                "gradient_m_km": reach.gradient * 1000.0,
            }
            for reach in flow.aged.reaches
        ],
    }
