"""Vents and drains as they are to be built, and their sizes, as parts of ``study.json``."""

from __future__ import annotations

from typing import Any

from routing.fittings import Drain, Lost, SizedFittings, Vent
from routing.judge.fitting_side import FittingSide
from routing.rounding import kpa, metres, rounded
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
                "station_m": metres(pocket.station_m),
                "needed_m": metres(pocket.needed_m),
                "available_m": metres(pocket.available_m),
                "compressed_m": metres(pocket.compressed_m),
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
        "air_m3": None if vent is None else metres(vent.lost.air_m3),
        "probability": None if vent is None else metres(vent.probability),
    }


def _mm(size_m: float | None) -> float | None:
    return None if size_m is None else rounded(size_m * 1000.0, 1)


def _where(fitting: Vent | Drain) -> dict[str, Any]:
    return {
        "station_m": metres(fitting.station_m),
        "serves_m": metres(fitting.serves_m),
        "lon": round(fitting.lon, 9),
        "lat": round(fitting.lat, 9),
        "ground_m": metres(fitting.ground_m),
        "pipe_m": metres(fitting.pipe_m),
        "depth_m": metres(fitting.depth_m),
        "static_head_m": metres(fitting.static_head_m),
        "flowing_head_m": metres(fitting.flowing_head_m),
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
        "open_top_m": metres(vent.open_top_m),
        "open_height_m": metres(vent.open_height_m),
        "rating_kpa": kpa(vent.rating_pa),
        "rating_basis": vent.rating_basis,
        "prominence_m": metres(vent.prominence_m),
        "minor": vent.minor,
        "probability": metres(vent.probability),
    }


def _folded(vent: Vent) -> dict[str, Any]:
    return {
        "station_m": metres(vent.station_m),
        "lon": round(vent.lon, 9),
        "lat": round(vent.lat, 9),
        "rule": vent.rule,
        "rules": list(vent.rules),
        "reason": vent.why,
    }


def _lost(lost: Lost) -> dict[str, Any]:
    return {
        "air_m3": metres(lost.air_m3),
        "head_m": metres(lost.head_m),
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
        "drained_m3": metres(drain.drained_m3),
        "left_m3": metres(drain.left_m3),
        "probability": metres(drain.probability),
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
                "station_m": metres(size.station_m),
                "kind": size.kind,
                "bore_mm": _mm(size.bore_m),
                "needed_mm": _mm(size.needed_m),
                "least_mm": _mm(size.least_m),
                "governing": size.governing,
                "cases": [
                    {
                        "name": case.name,
                        "air_m3_s": rounded(case.air_m3_s, 6),
                        "pressure_difference_kpa": kpa(case.pressure_difference_pa),
                        "bore_mm": _mm(case.bore_m),
                        "source": case.source,
                    }
                    for case in size.cases
                ],
                "release_mm": _mm(size.release_m),
                "capacity_m3_s": rounded(size.capacity_m3_s, 6),
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
                "station_m": metres(size.station_m),
                "bore_mm": _mm(size.bore_m),
                "governing": size.governing,
                "flush_bore_mm": _mm(size.flush_bore_m),
                "flush_flow_m3_s": rounded(size.flush_flow_m3_s, 6),
                "time_s": rounded(size.time_s, 0),
                "shortest_s": rounded(size.shortest_s, 0),
                "longest_s": rounded(size.longest_s, 0),
                "first_flow_m3_s": rounded(size.first_flow_m3_s, 6),
                "drained_m3": metres(size.drained_m3),
                "jet_m_s": rounded(size.jet_m_s, 3),
                "jet_flow_m3_s": rounded(size.jet_flow_m3_s, 6),
                "reaction_n": rounded(size.reaction_n, 1),
                "safe_opening": rounded(size.safe_opening, 4),
            }
            for size in sized.drain_sizes
        ],
        "air_carry": [
            {
                "vent_id": reach.vent_id,
                "from_m": metres(reach.from_m),
                "to_m": metres(reach.to_m),
                "angle_deg": rounded(reach.angle_deg, 3),
                "critical_m_s": rounded(reach.critical_m_s, 4),
                "sanks_m_s": rounded(reach.sanks_m_s, 4),
                "velocity_m_s": rounded(reach.velocity_m_s, 4),
                "carries": reach.carries,
            }
            for reach in sized.air_carry
        ],
        "relief": None
        if relief is None
        else {
            "station_m": metres(relief.station_m),
            "static_kpa": kpa(relief.static_pa),
            "least_setting_kpa": kpa(relief.least_setting_pa),
            "most_setting_kpa": kpa(relief.most_setting_pa),
            "can_be_set": relief.can_be_set,
            "bore_mm": _mm(relief.bore_m),
            "flow_m3_s": rounded(relief.flow_m3_s, 6),
        },
    }
