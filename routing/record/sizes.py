"""Sizes of vents and drains as parts of ``study.json``."""

from __future__ import annotations

from typing import Any

from routing.fittings import DrainSize, SizedFittings, VentSize
from routing.rounding import kpa, metres, rounded

__all__ = ["size_sections", "with_sizes"]


def with_sizes(rows: list[dict[str, Any]], sized: SizedFittings | None) -> list[dict[str, Any]]:
    """Return rows of vents or drains with the bore, kind and height that the sizing found.

    The size of the table stays as ``least_mm``; ``size_mm`` is what to fit.
    """
    if sized is None:
        return [row | {"least_mm": row["size_mm"]} for row in rows]
    vents = {size.vent_id: size for size in sized.vents}
    drains = {size.drain_id: size for size in sized.drains}
    done = []
    for row in rows:
        row = row | {"least_mm": row["size_mm"]}
        if row["id"] in vents:
            row |= _vent(vents[row["id"]], row)
        elif row["id"] in drains:
            row |= _drain(drains[row["id"]], row)
        done.append(row)
    return done


def _mm(size_m: float | None) -> float | None:
    return None if size_m is None else rounded(size_m * 1000.0, 1)


def _vent(size: VentSize, row: dict[str, Any]) -> dict[str, Any]:
    case = next((case for case in size.cases if case.name == size.governing), None)
    source = row["size_source"] if case is None else f"{size.governing}: {case.source}"
    return {
        "kind": size.kind,
        "size_mm": _mm(size.bore_m),
        "size_source": source,
        "foot_size_mm": _mm(size.foot_m),
        "open_top_m": metres(size.open_top_m),
        "open_height_m": metres(size.open_height_m),
    }


def _drain(size: DrainSize, row: dict[str, Any]) -> dict[str, Any]:
    return {
        "size_mm": _mm(size.bore_m),
        "size_source": row["size_source"] if size.governing == "table" else size.governing,
        "drained_m3": metres(size.drained_m3),
    }


def size_sections(sized: SizedFittings | None) -> dict[str, Any]:
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
            for size in sized.vents
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
            for size in sized.drains
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
