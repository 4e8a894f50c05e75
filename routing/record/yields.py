"""Catchment, intake and energy of a study as sections of ``study.json``."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.catchment_study import StudyCatchment
from routing.energy_study import EnergyResult
from routing.flow.intake import IntakeResult, Settling
from routing.rounding import fields_of
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
        **fields_of(catchment, "area_m2 at_least snapped_m method threshold_m2 lon lat"),
        "outline": [
            {"lon": list(lon), "lat": list(lat), "hole": hole} for lon, lat, hole in catchment.rings
        ],
    }


def _stream_flow(study: Study) -> dict[str, Any]:
    water, energy = study.water, study.settings.energy
    return {
        **fields_of(water, "mean_m3_s basis guess"),
        "residual_m3_s": water.settings.intake.residual,
        "area_ratio": water.ratio,
        "area_exponent": None if water.ratio is None else energy.area_exponent,
    }


def _intake(intake: IntakeResult) -> dict[str, Any]:
    share, mouth, screen = intake.share, intake.mouth, intake.screen
    return {
        **fields_of(intake, "residual_m3_s notch_angle_deg notch_head_m"),
        "gaugings": [
            {
                "weir": gauging.kind,
                **fields_of(gauging, "head_m flow_m3_s other_m3_s read_upstream_m"),
            }
            for gauging in intake.gaugings
        ],
        "share": None
        if share is None
        else fields_of(share, "residual_m3_s machine_m3_s spill_m3_s"),
        "mouth": None
        if mouth is None
        else {
            "depth_m": mouth.depth_m,
            **fields_of(mouth.depths, "least_m gordon_m prosser_m hydraulic_institute_m"),
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
        **fields_of(
            intake, "storage_m3 storage_least_m3 storage_advised_m3 crest_width_m crest_needed_m"
        ),
    }


def _settling(settling: Settling) -> dict[str, Any]:
    return fields_of(settling, "grain_m velocity_m_s needed_m2 built_m2 flushed_grain_m")


def _energy(energy: EnergyResult) -> dict[str, Any]:
    year, price = energy.year, energy.price_per_kwh
    worth = None if year is None or price is None else year.energy_kwh * price
    lost = None
    if year is not None and energy.lossless_kwh is not None:
        lost = energy.lossless_kwh - year.energy_kwh
    return {
        **fields_of(energy, "design_m3_s residual_m3_s availability"),
        "least_share": energy.machine.least_share,
        "days": energy.days,
        "curve": _curve(energy),
        "energy_kwh": None if year is None else year.energy_kwh,
        "lost_kwh": lost,
        **fields_of(year, "rated_kw rated_all_year_kwh capacity_factor running_share volume_m3"),
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
