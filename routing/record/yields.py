"""Catchment, intake and energy of a study as sections of ``study.json``."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.energy_study import EnergyResult
from routing.flow.intake import IntakeResult, Settling
from routing.stream_study import StudyCatchment
from routing.study import Study

__all__ = ["yield_sections"]

CURVE_POINTS = 101
"""Points of a flow-duration curve that are told, one for each hundredth of the year."""


def yield_sections(study: Study) -> dict[str, Any]:
    """Return catchment, flow of the stream, intake and energy, each where it was asked for."""
    sections: dict[str, Any] = {}
    if study.water.catchment is not None:
        sections["catchment"] = _catchment(study.water.catchment)
    if study.water.mean_m3_s is not None:
        sections["stream_flow"] = _stream_flow(study)
    if study.stream.intake is not None:
        sections["intake"] = _intake(study.stream.intake)
    if study.stream.energy is not None:
        sections["energy"] = _energy(study.stream.energy)
    return sections


def _catchment(catchment: StudyCatchment) -> dict[str, Any]:
    return {
        "area_m2": catchment.area_m2,
        "at_least": catchment.at_least,
        "snapped_m": catchment.snapped_m,
        "method": catchment.method,
        "threshold_m2": catchment.threshold_m2,
        "lon": catchment.lon,
        "lat": catchment.lat,
        "outline": [
            {"lon": list(lon), "lat": list(lat), "hole": hole} for lon, lat, hole in catchment.rings
        ],
    }


def _stream_flow(study: Study) -> dict[str, Any]:
    water, energy = study.water, study.settings.energy
    return {
        "mean_m3_s": water.mean_m3_s,
        "basis": water.basis,
        "guess": water.guess,
        "residual_m3_s": water.settings.intake.residual,
        "area_ratio": water.ratio,
        "area_exponent": None if water.ratio is None else energy.area_exponent,
    }


def _intake(intake: IntakeResult) -> dict[str, Any]:
    share, mouth, screen = intake.share, intake.mouth, intake.screen
    return {
        "residual_m3_s": intake.residual_m3_s,
        "notch_angle_deg": intake.notch_angle_deg,
        "notch_head_m": intake.notch_head_m,
        "gaugings": [
            {
                "weir": gauging.kind,
                "head_m": gauging.head_m,
                "flow_m3_s": gauging.flow_m3_s,
                "other_m3_s": gauging.other_m3_s,
                "read_upstream_m": gauging.read_upstream_m,
            }
            for gauging in intake.gaugings
        ],
        "share": None
        if share is None
        else {
            "residual_m3_s": share.residual_m3_s,
            "machine_m3_s": share.machine_m3_s,
            "spill_m3_s": share.spill_m3_s,
        },
        "mouth": None
        if mouth is None
        else {
            "depth_m": mouth.depth_m,
            "least_m": mouth.depths.least_m,
            "gordon_m": mouth.depths.gordon_m,
            "prosser_m": mouth.depths.prosser_m,
            "hydraulic_institute_m": mouth.depths.hydraulic_institute_m,
            "margin_m": mouth.margin_m,
        },
        "screen": None
        if screen is None
        else {
            "net_m2": screen.net_m2,
            "gross_m2": screen.gross_m2,
            "built_m2": intake.screen_built_m2,
            "velocity_m_s": screen.velocity_m_s,
            "clogged_share": screen.clogged_share,
        },
        "bar_gap_m": intake.bar_gap_m,
        "widest_gap_m": intake.widest_gap_m,
        "settling": None if intake.settling is None else _settling(intake.settling),
        "storage_m3": intake.storage_m3,
        "storage_least_m3": intake.storage_least_m3,
        "storage_advised_m3": intake.storage_advised_m3,
        "crest_width_m": intake.crest_width_m,
        "crest_needed_m": intake.crest_needed_m,
    }


def _settling(settling: Settling) -> dict[str, Any]:
    return {
        "grain_m": settling.grain_m,
        "velocity_m_s": settling.velocity_m_s,
        "needed_m2": settling.needed_m2,
        "built_m2": settling.built_m2,
        "flushed_grain_m": settling.flushed_grain_m,
    }


def _energy(energy: EnergyResult) -> dict[str, Any]:
    year, price = energy.year, energy.price_per_kwh
    worth = None if year is None or price is None else year.energy_kwh * price
    lost = None
    if year is not None and energy.lossless_kwh is not None:
        lost = energy.lossless_kwh - year.energy_kwh
    return {
        "design_m3_s": energy.design_m3_s,
        "residual_m3_s": energy.residual_m3_s,
        "availability": energy.availability,
        "least_share": energy.machine.least_share,
        "days": energy.days,
        "curve": _curve(energy),
        "energy_kwh": None if year is None else year.energy_kwh,
        "lost_kwh": lost,
        "rated_kw": None if year is None else year.rated_kw,
        "rated_all_year_kwh": None if year is None else year.rated_all_year_kwh,
        "capacity_factor": None if year is None else year.capacity_factor,
        "running_share": None if year is None else year.running_share,
        "volume_m3": None if year is None else year.volume_m3,
        "price_per_kwh": price,
        "worth_per_year": worth,
    }


def _curve(energy: EnergyResult) -> dict[str, Any] | None:
    if energy.curve is None:
        return None
    share = np.linspace(0.0, 1.0, CURVE_POINTS)
    return {
        "exceeded_share": [round(value, 2) for value in share.tolist()],
        "flow_m3_s": [round(value, 6) for value in energy.curve.at(share).tolist()],
    }
