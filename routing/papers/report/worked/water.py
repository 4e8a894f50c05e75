"""Water at the intake and money: mouth, screen, settling, notch, energy of a year, cost."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.flow.empirical import head_loss_hazen_williams
from routing.flow.intake.mouth import GORDON_ASYMMETRIC, GORDON_SYMMETRIC
from routing.flow.intake.settling import (
    C_LAMINAR,
    C_TURBULENT,
    SUBMERGED_SPECIFIC_WEIGHT,
    settling_velocity_m_s,
)
from routing.flow.intake.trade_data import limit, v_notch_table
from routing.flow.intake.weir import v_notch_flow_m3_s
from routing.papers.document import Document
from routing.papers.report.worked.given import catalogued, study_water
from routing.water import STANDARD_GRAVITY_M_S2

__all__ = ["water_examples"]


def water_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the intake, as far as it was stated."""
    intake = doc.get("intake") or {}
    made: dict[str, Mapping[str, float | None]] = {}
    flow = (doc.get("flow") or {}).get("flow_m3_s")
    if intake.get("notch_head_m"):
        head, angle = float(intake["notch_head_m"]), float(intake["notch_angle_deg"])
        angles, coefficients, offsets = v_notch_table()
        made["notch"] = {
            "head_m": head,
            "angle_deg": angle,
            "flow_m3_s": v_notch_flow_m3_s(head, angle),
            "coefficient": float(np.interp(angle, angles, coefficients)),
            "offset_mm": 1000.0 * float(np.interp(angle, angles, offsets)),
            "gravity_m_s2": STANDARD_GRAVITY_M_S2,
        }
    if intake.get("mouth") and doc.get("pipes") and flow:
        bore = float(doc["pipes"][0]["inside_diameter_m"])
        speed = float(doc["flow"]["reaches"][0]["velocity_m_s"])
        straight = ((doc.get("settings") or {}).get("intake") or {}).get("straight_approach")
        made["mouth"] = {
            "factor": GORDON_SYMMETRIC if straight else GORDON_ASYMMETRIC,
            "bore_mm": bore * 1000.0,
            "velocity_m_s": speed,
            "gravity_m_s2": STANDARD_GRAVITY_M_S2,
            "froude": speed / math.sqrt(STANDARD_GRAVITY_M_S2 * bore),
            "gordon_m": intake["mouth"]["gordon_m"],
            "prosser_m": intake["mouth"]["prosser_m"],
            "institute_m": intake["mouth"]["hydraulic_institute_m"],
        }
    settling = intake.get("settling")
    if settling and flow:
        made["settling"] = {
            "grain_mm": float(settling["grain_m"]) * 1000.0,
            "velocity_m_s": settling_velocity_m_s(float(settling["grain_m"]), study_water(doc)),
            "lighter": SUBMERGED_SPECIFIC_WEIGHT,
            "gravity_m_s2": STANDARD_GRAVITY_M_S2,
            "laminar": C_LAMINAR,
            "turbulent": C_TURBULENT,
            "viscosity_m2_s": study_water(doc).kinematic_viscosity_m2_s,
            "factor": limit("basin_factor"),
            "flow_m3_s": flow,
            "area_m2": settling["needed_m2"],
        }
    if (doc.get("flow") or {}).get("hazen_williams_m") is not None:
        made |= _hazen_williams(doc)
    if flow and doc["flow"]["reaches"]:
        speed = float(doc["flow"]["reaches"][0]["velocity_m_s"])
        head = speed**2 / 2.0 / float(doc["water"]["gravity_m_s2"])
        made["local"] = {
            "entrance": float(doc["flow"]["entrance_m"]) / head,
            "bends": float(doc["flow"]["local_m"]) / head,
        }
    if doc.get("cost"):
        made["cost"] = _cost(doc["cost"])
    return made


def _hazen_williams(doc: Document) -> dict[str, Mapping[str, float | None]]:
    """Return the cross-check of the first run of pipe."""
    run, flow = doc["pipes"][0], float(doc["flow"]["flow_m3_s"])
    pipe = catalogued(run)
    if pipe is None or pipe.hazen_williams_c is None:
        return {}
    length, bore = float(run["length_m"]), float(run["inside_diameter_m"])
    return {
        "hazen_williams": {
            "length_m": length,
            "c": pipe.hazen_williams_c,
            "bore_mm": bore * 1000.0,
            "friction_m": head_loss_hazen_williams(
                flow_m3_s=flow, length_m=length, inside_diameter_m=bore, c=pipe.hazen_williams_c
            ),
        }
    }


def _cost(cost: Mapping[str, Any]) -> Mapping[str, float | None]:
    """Return the sum of what has a price and the share that is added to it."""
    added = float(cost["contingency"])
    sum_ = float(cost["total"]) - added
    return {"sum": sum_, "share": added / sum_ if sum_ else 0.0}
