"""The pressure side of a study as sections of ``study.json``."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

import numpy as np

from routing.anchors import Anchorage, Block, SpanCheck, anchor_limits
from routing.check import Check
from routing.flow.surge import SafeClosing, SurgeCase
from routing.pressure_study import PressureSide
from routing.rounding import fields_of, kpa
from routing.study import Study
from routing.units import UnitSystem
from routing.us_units import in_units

__all__ = ["check_rows", "pressure_sections"]


def pressure_sections(study: Study) -> dict[str, Any]:
    """Return the sections of the pressure side, none without a pipe."""
    side = study.pressures
    if side is None:
        return {}
    return {
        "surge": [_surge(case) for case in side.surges],
        "safe_closing": _safe_closing(side.safe_closing),
        "vacuum": _vacuum(side),
        "test": {
            "bottom_pressure_kpa": kpa(side.strength.test.bottom_pa),
            "factor": side.strength.test.factor,
            "rule": side.strength.test.rule,
        },
        **_anchorage(study, side.anchorage),
    }


def _anchorage(study: Study, held: Anchorage) -> dict[str, Any]:
    return {
        "blocks": [_block(study, block) for block in held.blocks],
        "curves": [
            {
                **fields_of(curve, "bend_id station_m deflection_deg verdict"),
                "fittings_deg": None if curve.made is None else list(curve.made.fittings_deg),
                "rest_deg": None if curve.made is None else curve.made.rest_deg,
                **fields_of(
                    curve,
                    "cuts available_radius_m least_radius_m allowance_deg joint_turn_deg offset_m",
                ),
            }
            for curve in held.curves
        ],
        "anchors": [
            {
                "id": anchor.id,
                **_place(study, anchor.station_m),
                **fields_of(anchor, "grade centres_m width_m height_m length_m volume_m3"),
            }
            for anchor in held.slope_anchors
        ],
        "floating": [
            fields_of(reach, "from_m to_m station_m cover_m needed_cover_m factor")
            for reach in held.floating
        ],
        "bridges": [_span(span) for span in held.spans],
        "supports": [
            {
                "id": stand.id,
                **_place(study, stand.station_m),
                **fields_of(stand, "span_from_m height_m load_kn saddle_deg floor_m2"),
                "founded_m": anchor_limits().footing_depth_m,
            }
            for stand in held.stands
        ],
    }


def check_rows(
    checks: tuple[Check, ...], waived: Set[str], units: UnitSystem
) -> list[dict[str, Any]]:
    """Return the checks as rows, in the order given; their words in the units of the reader."""
    return [
        {
            "subject": check.subject,
            "place": in_units(check.place, units),
            "demand": check.demand,
            "limit": check.limit,
            "unit": check.unit,
            "sense": "at most" if check.at_most else "at least",
            "margin": check.margin,
            "passed": check.passed,
            "severity": check.severity,
            "code": check.code,
            "waived": check.code in waived,
            "station_m": check.station_m,
            "rule": in_units(check.rule, units),
            "source": check.source,
            "status": check.status,
        }
        for check in checks
    ]


def _surge(case: SurgeCase) -> dict[str, Any]:
    bound, result = case.bound, case.result
    section: dict[str, Any] = {
        "case": case.name,
        **fields_of(case, "state emergency recurring"),
        "closing_s": bound.closing_s,
        "critical_s": bound.critical_s,
        "bound_rise_m": bound.rise_m,
        **fields_of(bound, "governs joukowsky_m pipeline_constant"),
        "highest_rise_m": float(case.rise_m.max()),
        "whole_rise_m": float(case.whole_rise_m.max()),
        "parted_rise_m": None if case.parted_rise_m is None else float(case.parted_rise_m.max()),
        "judged_by": case.governs,
        "followed": result is not None,
    }
    if result is not None:
        section |= {
            "peak_rise_m": result.rise_m,
            "peak_time_s": result.peak_time_s,
            "wave_speeds_m_s": result.wave_speed_m_s.tolist(),
            "segments": result.segments,
            "parted_s": result.parted_s,
        }
    return section


def _safe_closing(closing: SafeClosing | None) -> dict[str, Any] | None:
    if closing is None:
        return None
    return fields_of(closing, "time_s station_m margin_kpa monotonic runs")


def _vacuum(side: PressureSide) -> dict[str, Any]:
    vacuum = side.strength.vacuum
    return {
        "vents_may_freeze": vacuum.vents_may_freeze,
        "least_limit_kpa": kpa(float(vacuum.limit_pa.min())) if vacuum.limit_pa.size else None,
        "full_vacuum_kpa": kpa(float(vacuum.demand_pa.max())),
    }


def _place(study: Study, station_m: float) -> dict[str, Any]:
    """Return where a station lies, between two stations too."""
    line = study.line
    lon, lat = line.lonlat(station_m)
    return {
        "station_m": station_m,
        "lon": float(lon),
        "lat": float(lat),
        "ground_m": float(np.interp(station_m, line.station_m, line.ground_m)),
        "pipe_m": float(np.interp(station_m, line.station_m, line.pipe_m)),
    }


def _block(study: Study, block: Block) -> dict[str, Any]:
    cast, numbers = block.cast, anchor_limits()
    weight = block.cast_weight_n
    return {
        **fields_of(block, "id place bend_id"),
        **_place(study, block.station_m),
        "deflection_deg": block.deflection_deg,
        "pressure_kpa": kpa(block.pressure_pa),
        "thrust_kn": block.thrust.total_n / 1000.0,
        "bearing_deg": block.bearing_deg,
        "up": block.up,
        **fields_of(block.thrust, "up_kn east_kn north_kn"),
        "hold": block.hold,
        **fields_of(cast, "width_m height_m length_m volume_m3 face_m2 floor_m2"),
        "least_face_m2": block.least_face_m2,
        "weight_kn": None if weight is None else weight / 1000.0,
        "concrete_mpa": None if cast is None else numbers.block_concrete_mpa,
        "cure_days": None if cast is None else numbers.block_cure_days,
        "soil": block.bearing.soil,
        "bearing_kpa": kpa(block.bearing.bearing_pa),
        "bearing_source": block.bearing.source,
        "restrained_m": block.restrained_m,
        "remedy": block.remedy,
        "other_soil_tables": [{"table": name, "face_m2": face} for name, face in block.others],
        "formulas": list(block.formulas),
    }


def _span(span: SpanCheck) -> dict[str, Any]:
    rope = span.rope
    return {
        **fields_of(span, "from_m to_m length_m bays bay_m"),
        "longest_bay_m": span.longest_m,
        "published_bay_m": span.published_m,
        "weight_n_m": span.weight_n_m,
        "empty_n_m": span.empty_n_m,
        **dict(zip(("sag_empty_m", "sag_full_m", "sag_years_m"), span.sags_m, strict=True)),
        **fields_of(span, "load_n_m movement_m expansion_joints joint_opening_m"),
        "rope_level_kn": None if rope is None else rope.horizontal_n / 1000.0,
        "rope_pull_kn": None if rope is None else rope.greatest_n / 1000.0,
        "rope_breaking_kn": None if rope is None else rope.breaking_n / 1000.0,
        "passed": span.passed,
    }
