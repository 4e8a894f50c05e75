"""Pipe in the ground: thrust, block, joints that hold, curves, uplift."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from routing.anchors.arc import arc_departure_m
from routing.anchors.block import bearing_area_m2
from routing.anchors.flotation import flotation_factor, least_cover_against_uplift_m
from routing.anchors.thrust import arm_force_n, bend_thrust_n
from routing.anchors.trade_data import anchor_limits
from routing.papers.cast import unsized_words
from routing.papers.document import Document, column
from routing.papers.report.worked.given import KILO, study_water

__all__ = ["ground_examples"]


def ground_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the greatest thrust, the largest block, a curve and the uplift."""
    made: dict[str, Mapping[str, float | None]] = {}
    blocks = [each for each in doc.get("blocks") or () if each.get("deflection_deg")]
    if blocks and doc.get("pipes"):
        made["thrust"] = _thrust(doc, max(blocks, key=lambda each: float(each["thrust_kn"])))
    cast = [each for each in doc.get("blocks") or () if each.get("least_face_m2")]
    cast = [each for each in cast if not unsized_words(doc, each)]
    if cast:
        made["block"] = _block(max(cast, key=lambda each: float(each["least_face_m2"])))
    curves = [each for each in doc.get("curves") or () if each.get("least_radius_m")]
    if curves and doc.get("pipes"):
        made["curve"] = _curve(doc, max(curves, key=lambda each: float(each["deflection_deg"])))
    if doc.get("pipes"):
        made |= _uplift(doc)
    return made


def _run_at(doc: Document, station_m: float) -> Mapping[str, Any]:
    """Return the pipe that lies at a station, the lower one where two meet."""
    runs = list(doc["pipes"])
    found: Mapping[str, Any] = [run for run in runs if float(run["from_m"]) <= station_m + 1e-6][-1]
    return found


def _thrust(doc: Document, block: Mapping[str, Any]) -> Mapping[str, float | None]:
    run = _run_at(doc, float(block["station_m"]))
    density = float(doc["water"]["density_kg_m3"])
    flow = (doc.get("flow") or {}).get("flow_m3_s")
    bore = float(run["inside_diameter_m"])
    area = math.pi / 4.0 * bore**2
    velocity = anchor_limits().velocity_m_s if flow is None else float(flow) / area
    pressure = float(block["pressure_kpa"])
    force = arm_force_n(pressure * KILO, float(run["outside_diameter_m"]), bore, velocity, density)
    angle = float(block["deflection_deg"])
    return {
        "station_m": float(block["station_m"]),
        "pressure_kpa": pressure,
        "outside_diameter_mm": float(run["outside_diameter_m"]) * KILO,
        "bore_mm": bore * KILO,
        "density_kg_m3": density,
        "velocity_m_s": velocity,
        "arm_kn": force / KILO,
        "angle_deg": angle,
        "thrust_kn": bend_thrust_n(force, angle) / KILO,
    }


def _block(block: Mapping[str, Any]) -> Mapping[str, float | None]:
    safety = anchor_limits().block_safety
    bears = float(block["bearing_kpa"])
    thrust = float(block["least_face_m2"]) * bears / safety
    return {
        "station_m": float(block["station_m"]),
        "safety": safety,
        "thrust_kn": thrust,
        "bearing_kpa": bears,
        "face_m2": bearing_area_m2(thrust * KILO, bears * KILO),
        "built_m2": block.get("face_m2"),
    }


def _curve(doc: Document, curve: Mapping[str, Any]) -> Mapping[str, float | None]:
    run = _run_at(doc, float(curve["station_m"]))
    outside, radius = float(run["outside_diameter_m"]), float(curve["least_radius_m"])
    angle = float(curve["deflection_deg"])
    return {
        "station_m": float(curve["station_m"]),
        "diameters": radius / outside,
        "outside_diameter_mm": outside * KILO,
        "radius_m": radius,
        "angle_deg": angle,
        "departure_m": arc_departure_m(radius, angle),
    }


def _uplift(doc: Document) -> dict[str, Mapping[str, float | None]]:
    """Return the uplift of the emptied pipe where the study judged it."""
    check = next(
        (each for each in doc.get("checks") or () if each["subject"].startswith("uplift")), None
    )
    if check is None or check.get("station_m") is None:
        return {}
    run, water = _run_at(doc, float(check["station_m"])), study_water(doc)
    outside = float(run["outside_diameter_m"])
    weight = float(run.get("mass_kg_m") or 0.0) * water.gravity_m_s2
    numbers, soil = anchor_limits(), 0.0
    for soil in (numbers.saturated_n_m3, numbers.peat_n_m3):
        needed = least_cover_against_uplift_m(
            outside_diameter_m=outside,
            pipe_n_m=weight,
            saturated_n_m3=soil,
            water_n_m3=water.weight_n_m3,
        )
        if abs(needed - float(check["limit"])) < 0.005:
            break
    else:
        return {}
    cover = float(check["demand"])
    return {
        "uplift": {
            "station_m": float(check["station_m"]),
            "cover_m": cover,
            "outside_diameter_mm": outside * KILO,
            "pipe_n_m": weight,
            "soil_kn_m3": soil / KILO,
            "water_kn_m3": water.weight_n_m3 / KILO,
            "safety": numbers.flotation_safety,
            "needed_m": needed,
            "factor": flotation_factor(
                cover_m=max(cover, 0.0),
                outside_diameter_m=outside,
                pipe_n_m=weight,
                saturated_n_m3=soil,
                water_n_m3=water.weight_n_m3,
            ),
            "least_cover_m": float(column(doc, "cover_m").min()),
        }
    }
