"""Water at the intake and money: mouth, screen, settling, notch, energy of a year, cost."""

from __future__ import annotations

from collections.abc import Mapping

from routing.flow.intake.settling import settling_velocity_m_s
from routing.flow.intake.weir import v_notch_flow_m3_s
from routing.papers.document import Document
from routing.papers.report.worked.given import study_water

__all__ = ["water_examples"]


def water_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the intake, as far as it was stated."""
    intake, made = doc.get("intake") or {}, {}
    flow = (doc.get("flow") or {}).get("flow_m3_s")
    if intake.get("notch_head_m"):
        head, angle = float(intake["notch_head_m"]), float(intake["notch_angle_deg"])
        made["notch"] = {
            "head_m": head,
            "angle_deg": angle,
            "flow_m3_s": v_notch_flow_m3_s(head, angle),
        }
    if intake.get("mouth") and doc.get("pipes") and flow:
        run = doc["pipes"][0]
        made["mouth"] = {
            "bore_mm": float(run["inside_diameter_m"]) * 1000.0,
            "velocity_m_s": float(doc["flow"]["reaches"][0]["velocity_m_s"]),
            "gordon_m": intake["mouth"]["gordon_m"],
            "prosser_m": intake["mouth"]["prosser_m"],
            "institute_m": intake["mouth"]["hydraulic_institute_m"],
        }
    settling = intake.get("settling")
    if settling and flow:
        made["settling"] = {
            "grain_mm": float(settling["grain_m"]) * 1000.0,
            "velocity_m_s": settling_velocity_m_s(float(settling["grain_m"]), study_water(doc)),
            "flow_m3_s": flow,
            "area_m2": settling["needed_m2"],
        }
    return made
