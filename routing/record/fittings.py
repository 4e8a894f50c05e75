"""Vents and drains as they are to be built, and their sizes, as parts of ``study.json``."""

from __future__ import annotations

from typing import Any

from routing.fitting_study import FittingSide
from routing.fittings import Advised, Drain, Lost, SizedFittings, Vent
from routing.rounding import fields_of
from routing.trench import DigOffer

__all__ = ["fitting_sections", "offer_saves"]


def fitting_sections(fittings: FittingSide) -> dict[str, Any]:
    """Return the sections of vents, drains and trapped air, and of their sizes where sized."""
    return {
        "vents": [_vent(vent) for vent in fittings.vents],
        "advised_folded": [_folded(vent) for vent in fittings.folded],
        "drains": [_drain(drain) for drain in fittings.drains],
        "air": [
            fields_of(pocket, "vent_id station_m needed_m available_m compressed_m verdict")
            for pocket in fittings.air
        ],
        **_size_sections(fittings.sized),
    }


def offer_saves(fittings: FittingSide, offer: DigOffer) -> dict[str, Any]:
    """Return what digging through a hump saves: a vent, a drain, their pits, trapped air.

    The drain is the one of the sag before the hump, where there is one: without the summit the two
    sags beside it become one.
    """
    vent = next((v for v in fittings.vents if abs(v.serves_m - offer.station_m) < 1e-3), None)
    before = [drain for drain in fittings.drains if drain.serves_m < offer.station_m]
    sag = before[-1] if before and before[-1].rule in ("sag", "crossing") else None
    return {
        "vent_id": None if vent is None else vent.id,
        "drain_id": None if sag is None else sag.id,
        "pits": (vent is not None) + (sag is not None),
        "air_m3": None if vent is None else vent.lost.air_m3,
        "probability": None if vent is None else vent.probability,
    }


def _mm(size_m: float | None) -> float | None:
    return None if size_m is None else size_m * 1000.0


def _where(fitting: Vent | Drain) -> dict[str, Any]:
    return {
        "station_m": fitting.station_m,
        "serves_m": fitting.serves_m,
        "lon": round(fitting.lon, 9),
        "lat": round(fitting.lat, 9),
        **fields_of(fitting, "ground_m pipe_m depth_m static_head_m flowing_head_m"),
    }


def _vent(vent: Vent) -> dict[str, Any]:
    return {
        "id": vent.id,
        **_where(vent),
        **fields_of(vent, "rule rules need rank"),
        "lost": _lost(vent.lost),
        **fields_of(
            vent,
            "reason kind size_mm least_mm size_source foot_size_mm open_top_m open_height_m "
            "rating_kpa rating_basis prominence_m minor probability",
        ),
    }


def _folded(vent: Advised) -> dict[str, Any]:
    return {
        "station_m": vent.station_m,
        "lon": round(vent.lon, 9),
        "lat": round(vent.lat, 9),
        **fields_of(vent, "rule rules reason"),
    }


def _lost(lost: Lost) -> dict[str, Any]:
    return fields_of(lost, "air_m3 head_m vacuum_kpa allowed_kpa")


def _drain(drain: Drain) -> dict[str, Any]:
    return {
        "id": drain.id,
        **_where(drain),
        **fields_of(
            drain,
            "rule need reason kind size_mm least_mm size_source flush_size_mm drained_m3 "
            "left_m3 probability",
        ),
    }


def _size_sections(sized: SizedFittings | None) -> dict[str, Any]:
    """Return the sections vent_sizes, drain_sizes, air_carry and relief; none without a pipe."""
    if sized is None:
        return {}
    relief = sized.relief
    return {
        "vent_sizes": [
            {
                **fields_of(size, "vent_id station_m kind bore_mm needed_mm least_mm governing"),
                "cases": [
                    fields_of(case, "name air_m3_s pressure_difference_kpa bore_mm source")
                    for case in size.cases
                ],
                **fields_of(
                    size,
                    "release_mm capacity_m3_s allowed_vacuum_kpa vacuum_source rating_kpa "
                    "rating_basis seals support frost_note",
                ),
            }
            for size in sized.vent_sizes
        ],
        "drain_sizes": [
            fields_of(
                size,
                "drain_id station_m bore_mm governing flush_bore_mm flush_flow_m3_s time_s "
                "shortest_s longest_s first_flow_m3_s drained_m3 jet_m_s jet_flow_m3_s "
                "reaction_n safe_opening",
            )
            for size in sized.drain_sizes
        ],
        "air_carry": [
            fields_of(
                reach, "vent_id from_m to_m angle_deg critical_m_s sanks_m_s velocity_m_s carries"
            )
            for reach in sized.air_carry
        ],
        "relief": None
        if relief is None
        else {
            **fields_of(
                relief,
                "station_m static_kpa least_setting_kpa most_setting_kpa can_be_set bore_mm "
                "flow_m3_s",
            ),
            "stages": [
                fields_of(stage, "setting_kpa bore_mm flow_m3_s jet_m_s") for stage in relief.stages
            ],
        },
    }
