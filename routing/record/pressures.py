"""The pressure side of a study as sections of ``study.json``."""

from __future__ import annotations

from collections.abc import Set
from typing import Any

from routing.anchors import Anchorage, Block, SpanCheck, anchor_limits
from routing.check import Check
from routing.flow.surge import SafeClosing, SurgeCase
from routing.judge.pressure_side import PressureSide
from routing.rounding import kpa, metres, rounded
from routing.study import Study

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
            "factor": rounded(side.strength.test.factor, 3),
            "rule": side.strength.test.rule,
        },
        **_anchorage(study, side.anchorage),
    }


def _anchorage(study: Study, held: Anchorage) -> dict[str, Any]:
    return {
        "blocks": [_block(study, block) for block in held.blocks],
        "curves": [
            {
                "bend_id": curve.bend_id,
                "station_m": metres(curve.station_m),
                "deflection_deg": rounded(curve.deflection_deg, 3),
                "verdict": curve.verdict,
                "fittings_deg": None if curve.made is None else list(curve.made.fittings_deg),
                "rest_deg": None if curve.made is None else rounded(curve.made.rest_deg, 3),
                "cuts": curve.cuts,
                "available_radius_m": metres(curve.available_radius_m),
                "least_radius_m": metres(curve.least_radius_m),
                "allowance_deg": rounded(curve.allowance_deg, 3),
                "joint_turn_deg": rounded(curve.joint_turn_deg, 3),
                "offset_m": metres(curve.offset_m),
            }
            for curve in held.curves
        ],
        "slope_anchors": [
            {
                "id": anchor.id,
                "station_m": metres(anchor.station_m),
                "grade": rounded(anchor.grade, 4),
                "centres_m": metres(anchor.centres_m),
            }
            for anchor in held.slope_anchors
        ],
        "floating": [
            {
                "from_m": metres(reach.from_m),
                "to_m": metres(reach.to_m),
                "station_m": metres(reach.station_m),
                "cover_m": metres(reach.cover_m),
                "needed_cover_m": metres(reach.needed_cover_m),
                "factor": rounded(reach.factor, 3),
            }
            for reach in held.floating
        ],
        "supports": [_span(span) for span in held.spans],
    }


def check_rows(checks: tuple[Check, ...], waived: Set[str]) -> list[dict[str, Any]]:
    """Return the checks as rows, in the order given."""
    return [
        {
            "subject": check.subject,
            "place": check.place,
            "demand": rounded(check.demand, 6),
            "limit": rounded(check.limit, 6),
            "unit": check.unit,
            "sense": "at most" if check.at_most else "at least",
            "margin": rounded(check.margin, 6),
            "passed": check.passed,
            "severity": check.severity,
            "code": check.code,
            "waived": check.code in waived,
            "station_m": metres(check.station_m),
            "rule": check.rule,
            "source": check.source,
            "status": check.status,
        }
        for check in checks
    ]


def _surge(case: SurgeCase) -> dict[str, Any]:
    bound, result = case.bound, case.result
    section: dict[str, Any] = {
        "case": case.name,
        "state": case.state,
        "emergency": case.emergency,
        "recurring": case.recurring,
        "closing_s": rounded(bound.closing_s, 4),
        "critical_s": rounded(bound.critical_s, 4),
        "bound_rise_m": metres(bound.rise_m),
        "governs": bound.governs,
        "joukowsky_m": metres(bound.joukowsky_m),
        "pipeline_constant": rounded(bound.pipeline_constant, 6),
        "highest_rise_m": metres(float(case.rise_m.max())),
        "whole_rise_m": metres(float(case.whole_rise_m.max())),
        "parted_rise_m": None
        if case.parted_rise_m is None
        else metres(float(case.parted_rise_m.max())),
        "judged_by": case.governs,
        "followed": result is not None,
    }
    if result is not None:
        section |= {
            "peak_rise_m": metres(result.rise_m),
            "peak_time_s": rounded(result.peak_time_s, 4),
            "wave_speeds_m_s": [rounded(speed, 2) for speed in result.wave_speed_m_s.tolist()],
            "segments": result.segments,
            "parted_s": rounded(result.parted_s, 4),
        }
    return section


def _safe_closing(closing: SafeClosing | None) -> dict[str, Any] | None:
    if closing is None:
        return None
    return {
        "time_s": rounded(closing.time_s, 3),
        "station_m": metres(closing.station_m),
        "margin_kpa": kpa(closing.margin_pa),
        "monotonic": closing.monotonic,
        "runs": closing.runs,
    }


def _vacuum(side: PressureSide) -> dict[str, Any]:
    vacuum = side.strength.vacuum
    return {
        "vents_may_freeze": vacuum.vents_may_freeze,
        "least_limit_kpa": kpa(float(vacuum.limit_pa.min())) if vacuum.limit_pa.size else None,
        "full_vacuum_kpa": kpa(float(vacuum.demand_pa.max())),
    }


def _block(study: Study, block: Block) -> dict[str, Any]:
    cast, numbers = block.cast, anchor_limits()
    weight = block.cast_weight_n
    return {
        "id": block.id,
        "place": block.place,
        "bend_id": block.bend_id,
        "station_m": metres(block.station_m),
        "lon": rounded(float(study.line.lon[block.index]), 9),
        "lat": rounded(float(study.line.lat[block.index]), 9),
        "deflection_deg": rounded(block.deflection_deg, 3),
        "pressure_kpa": kpa(block.pressure_pa),
        "thrust_kn": rounded(block.thrust.total_n / 1000.0, 3),
        "bearing_deg": rounded(block.bearing_deg, 1),
        "up": block.up,
        "up_kn": rounded(block.thrust.up_n / 1000.0, 3),
        "east_kn": rounded(block.thrust.east_n / 1000.0, 3),
        "north_kn": rounded(block.thrust.north_n / 1000.0, 3),
        "hold": block.hold,
        "width_m": None if cast is None else metres(cast.width_m),
        "height_m": None if cast is None else metres(cast.height_m),
        "length_m": None if cast is None else metres(cast.length_m),
        "volume_m3": None if cast is None else rounded(cast.volume_m3, 4),
        "face_m2": None if cast is None else rounded(cast.face_m2, 4),
        "floor_m2": None if cast is None else rounded(cast.floor_m2, 4),
        "least_face_m2": rounded(block.least_face_m2, 4),
        "weight_kn": None if weight is None else rounded(weight / 1000.0, 3),
        "concrete_mpa": None if cast is None else numbers.block_concrete_mpa,
        "cure_days": None if cast is None else numbers.block_cure_days,
        "soil": block.bearing.soil,
        "bearing_kpa": kpa(block.bearing.bearing_pa),
        "bearing_source": block.bearing.source,
        "restrained_m": metres(block.restrained_m),
        "remedy": block.remedy,
        "other_soil_tables": [
            {"table": name, "face_m2": rounded(face, 3)} for name, face in block.others
        ],
        "formulas": list(block.formulas),
    }


def _span(span: SpanCheck) -> dict[str, Any]:
    rope = span.rope
    return {
        "from_m": metres(span.from_m),
        "to_m": metres(span.to_m),
        "length_m": metres(span.length_m),
        "bays": span.bays,
        "bay_m": metres(span.bay_m),
        "longest_bay_m": metres(span.longest_m),
        "published_bay_m": metres(span.published_m),
        "weight_n_m": rounded(span.weight_n_m, 1),
        "load_n_m": rounded(span.load_n_m, 1),
        "movement_m": metres(span.movement_m),
        "expansion_joints": span.expansion_joints,
        "joint_opening_m": metres(span.joint_opening_m),
        "rope_level_kn": None if rope is None else rounded(rope.horizontal_n / 1000.0, 3),
        "rope_pull_kn": None if rope is None else rounded(rope.greatest_n / 1000.0, 3),
        "rope_breaking_kn": None if rope is None else rounded(rope.breaking_n / 1000.0, 3),
        "passed": span.passed,
    }
