"""Vents and drains as they are to be built, and their sizes, as parts of ``study.json``."""

from __future__ import annotations

from typing import Any

from routing.fitting_study import FittingSide
from routing.fittings import Advised, Drain, Lost, SizedFittings, Vent
from routing.rounding import kpa
from routing.trench import DigOffer

__all__ = ["fitting_sections", "offer_saves"]


def fitting_sections(fittings: FittingSide) -> dict[str, Any]:
    """Return the sections of vents, drains and trapped air, and of their sizes where sized."""
    return {
        "vents": [_vent(vent) for vent in fittings.vents],
        "advised_folded": [_folded(vent) for vent in fittings.folded],
        "drains": [_drain(drain) for drain in fittings.drains],
        "air": [
            {
                "vent_id": pocket.vent_id,
                "station_m": pocket.station_m,
                "needed_m": pocket.needed_m,
                "available_m": pocket.available_m,
                "compressed_m": pocket.compressed_m,
                "verdict": pocket.verdict,
            }
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
        "ground_m": fitting.ground_m,
        "pipe_m": fitting.pipe_m,
        "depth_m": fitting.depth_m,
        "static_head_m": fitting.static_head_m,
        "flowing_head_m": fitting.flowing_head_m,
    }


def _vent(vent: Vent) -> dict[str, Any]:
    return {
        "id": vent.id,
        **_where(vent),
        "rule": vent.rule,
        "rules": list(vent.rules),
        "need": vent.need,
        "rank": vent.rank,
        "lost": _lost(vent.lost),
        "reason": vent.reason,
        "kind": vent.kind,
        "size_mm": _mm(vent.size_m),
        "least_mm": _mm(vent.least_m),
        "size_source": vent.size_source,
        "foot_size_mm": _mm(vent.foot_size_m),
        "open_top_m": vent.open_top_m,
        "open_height_m": vent.open_height_m,
        "rating_kpa": kpa(vent.rating_pa),
        "rating_basis": vent.rating_basis,
        "prominence_m": vent.prominence_m,
        "minor": vent.minor,
        "probability": vent.probability,
    }


def _folded(vent: Advised) -> dict[str, Any]:
    return {
        "station_m": vent.station_m,
        "lon": round(vent.lon, 9),
        "lat": round(vent.lat, 9),
        "rule": vent.rule,
        "rules": list(vent.rules),
        "reason": vent.reason,
    }


def _lost(lost: Lost) -> dict[str, Any]:
    return {
        "air_m3": lost.air_m3,
        "head_m": lost.head_m,
        "vacuum_kpa": kpa(lost.vacuum_pa),
        "allowed_kpa": kpa(lost.allowed_pa),
    }


def _drain(drain: Drain) -> dict[str, Any]:
    return {
        "id": drain.id,
        **_where(drain),
        "rule": drain.rule,
        "need": drain.need,
        "reason": drain.reason,
        "kind": drain.kind,
        "size_mm": _mm(drain.size_m),
        "least_mm": _mm(drain.least_m),
        "size_source": drain.size_source,
        "flush_size_mm": _mm(drain.flush_size_m),
        "drained_m3": drain.drained_m3,
        "left_m3": drain.left_m3,
        "probability": drain.probability,
    }


def _size_sections(sized: SizedFittings | None) -> dict[str, Any]:
    """Return the sections vent_sizes, drain_sizes, air_carry and relief; none without a pipe."""
    if sized is None:
        return {}
    relief = sized.relief
    return {
        "vent_sizes": [
            {
                "vent_id": size.vent_id,
                "station_m": size.station_m,
                "kind": size.kind,
                "bore_mm": _mm(size.bore_m),
                "needed_mm": _mm(size.needed_m),
                "least_mm": _mm(size.least_m),
                "governing": size.governing,
                "cases": [
                    {
                        "name": case.name,
                        "air_m3_s": case.air_m3_s,
                        "pressure_difference_kpa": kpa(case.pressure_difference_pa),
                        "bore_mm": _mm(case.bore_m),
                        "source": case.source,
                    }
                    for case in size.cases
                ],
                "release_mm": _mm(size.release_m),
                "capacity_m3_s": size.capacity_m3_s,
                "allowed_vacuum_kpa": kpa(size.allowed_vacuum_pa),
                "vacuum_source": size.vacuum_source,
                "rating_kpa": kpa(size.rating_pa),
                "rating_basis": size.rating_basis,
                "seals": size.seals,
                "support": size.support,
                "frost_note": size.frost_note,
            }
            for size in sized.vent_sizes
        ],
        "drain_sizes": [
            {
                "drain_id": size.drain_id,
                "station_m": size.station_m,
                "bore_mm": _mm(size.bore_m),
                "governing": size.governing,
                "flush_bore_mm": _mm(size.flush_bore_m),
                "flush_flow_m3_s": size.flush_flow_m3_s,
                "time_s": size.time_s,
                "shortest_s": size.shortest_s,
                "longest_s": size.longest_s,
                "first_flow_m3_s": size.first_flow_m3_s,
                "drained_m3": size.drained_m3,
                "jet_m_s": size.jet_m_s,
                "jet_flow_m3_s": size.jet_flow_m3_s,
                "reaction_n": size.reaction_n,
                "safe_opening": size.safe_opening,
            }
            for size in sized.drain_sizes
        ],
        "air_carry": [
            {
                "vent_id": reach.vent_id,
                "from_m": reach.from_m,
                "to_m": reach.to_m,
                "angle_deg": reach.angle_deg,
                "critical_m_s": reach.critical_m_s,
                "sanks_m_s": reach.sanks_m_s,
                "velocity_m_s": reach.velocity_m_s,
                "carries": reach.carries,
            }
            for reach in sized.air_carry
        ],
        "relief": None
        if relief is None
        else {
            "station_m": relief.station_m,
            "static_kpa": kpa(relief.static_pa),
            "least_setting_kpa": kpa(relief.least_setting_pa),
            "most_setting_kpa": kpa(relief.most_setting_pa),
            "can_be_set": relief.can_be_set,
            "bore_mm": _mm(relief.bore_m),
            "flow_m3_s": relief.flow_m3_s,
            "stages": [
                {
                    "setting_kpa": kpa(stage.setting_pa),
                    "bore_mm": _mm(stage.bore_m),
                    "flow_m3_s": stage.flow_m3_s,
                    "jet_m_s": stage.jet_m_s,
                }
                for stage in relief.stages
            ],
        },
    }
