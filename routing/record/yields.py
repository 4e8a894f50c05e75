"""Intake and energy of a study as sections of ``study.json``."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.energy_study import EnergyResult
from routing.flow.intake import IntakeResult, Settling
from routing.rounding import metres, rounded
from routing.study import Study

__all__ = ["yield_sections"]

CURVE_POINTS = 101
"""Points of a flow-duration curve that are told, one for each hundredth of the year."""


def yield_sections(study: Study) -> dict[str, Any]:
    """Return the sections ``intake`` and ``energy``, each only where it was asked for."""
    sections: dict[str, Any] = {}
    if study.stream.intake is not None:
        sections["intake"] = _intake(study.stream.intake)
    if study.stream.energy is not None:
        sections["energy"] = _energy(study.stream.energy)
    return sections


def _intake(intake: IntakeResult) -> dict[str, Any]:
    share, mouth, screen = intake.share, intake.mouth, intake.screen
    return {
        "residual_m3_s": rounded(intake.residual_m3_s, 6),
        "notch_angle_deg": intake.notch_angle_deg,
        "notch_head_m": metres(intake.notch_head_m),
        "gaugings": [
            {
                "weir": gauging.kind,
                "head_m": metres(gauging.head_m),
                "flow_m3_s": rounded(gauging.flow_m3_s, 6),
                "other_m3_s": rounded(gauging.other_m3_s, 6),
                "read_upstream_m": metres(gauging.read_upstream_m),
            }
            for gauging in intake.gaugings
        ],
        "share": None
        if share is None
        else {
            "residual_m3_s": rounded(share.residual_m3_s, 6),
            "machine_m3_s": rounded(share.machine_m3_s, 6),
            "spill_m3_s": rounded(share.spill_m3_s, 6),
        },
        "mouth": None
        if mouth is None
        else {
            "depth_m": metres(mouth.depth_m),
            "least_m": metres(mouth.depths.least_m),
            "gordon_m": metres(mouth.depths.gordon_m),
            "prosser_m": metres(mouth.depths.prosser_m),
            "hydraulic_institute_m": metres(mouth.depths.hydraulic_institute_m),
            "margin_m": metres(mouth.margin_m),
        },
        "screen": None
        if screen is None
        else {
            "net_m2": rounded(screen.net_m2, 4),
            "gross_m2": rounded(screen.gross_m2, 4),
            "built_m2": rounded(intake.screen_built_m2, 4),
            "velocity_m_s": screen.velocity_m_s,
            "clogged_share": screen.clogged_share,
        },
        "bar_gap_m": metres(intake.bar_gap_m),
        "widest_gap_m": metres(intake.widest_gap_m),
        "settling": None if intake.settling is None else _settling(intake.settling),
        "storage_m3": rounded(intake.storage_m3, 3),
        "storage_least_m3": rounded(intake.storage_least_m3, 3),
        "storage_advised_m3": rounded(intake.storage_advised_m3, 3),
        "crest_width_m": metres(intake.crest_width_m),
        "crest_needed_m": metres(intake.crest_needed_m),
    }


def _settling(settling: Settling) -> dict[str, Any]:
    return {
        "grain_m": rounded(settling.grain_m, 7),
        "velocity_m_s": rounded(settling.velocity_m_s, 6),
        "needed_m2": rounded(settling.needed_m2, 3),
        "built_m2": rounded(settling.built_m2, 3),
        "flushed_grain_m": rounded(settling.flushed_grain_m, 6),
    }


def _energy(energy: EnergyResult) -> dict[str, Any]:
    year, price = energy.year, energy.price_per_kwh
    worth = None if year is None or price is None else year.energy_kwh * price
    lost = None
    if year is not None and energy.lossless_kwh is not None:
        lost = energy.lossless_kwh - year.energy_kwh
    return {
        "design_m3_s": rounded(energy.design_m3_s, 9),
        "residual_m3_s": rounded(energy.residual_m3_s, 6),
        "availability": rounded(energy.availability, 6),
        "least_share": rounded(energy.machine.least_share, 6),
        "days": energy.days,
        "curve": _curve(energy),
        "energy_kwh": None if year is None else rounded(year.energy_kwh, 1),
        "lost_kwh": rounded(lost, 1),
        "rated_kw": None if year is None else rounded(year.rated_kw, 4),
        "rated_all_year_kwh": None if year is None else rounded(year.rated_all_year_kwh, 1),
        "capacity_factor": None if year is None else rounded(year.capacity_factor, 6),
        "running_share": None if year is None else rounded(year.running_share, 6),
        "volume_m3": None if year is None else rounded(year.volume_m3, 1),
        "price_per_kwh": price,
        "worth_per_year": rounded(worth, 2),
    }


def _curve(energy: EnergyResult) -> dict[str, Any] | None:
    if energy.curve is None:
        return None
    share = np.linspace(0.0, 1.0, CURVE_POINTS)
    return {
        "exceeded_share": [round(value, 2) for value in share.tolist()],
        "flow_m3_s": [round(value, 6) for value in energy.curve.at(share).tolist()],
    }
