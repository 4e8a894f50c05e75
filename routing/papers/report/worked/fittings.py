"""Vents and drains: air through an orifice, the jet of a drain, its push."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from routing.fittings.place.drain_words import jet_velocity
from routing.fittings.size.air_flow import air_bore_m, air_mass_flow_kg_s
from routing.fittings.size.limb import drain_constant
from routing.fittings.sizing_data import sizing
from routing.flow.air import atmosphere_pa
from routing.papers.document import Document, at_station
from routing.papers.report.worked.given import KILO

__all__ = ["fitting_examples"]


def fitting_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the first air valve that a case sizes, and of the deepest drain."""
    made: dict[str, Mapping[str, float | None]] = {}
    for size in doc.get("vent_sizes") or ():
        case = _governing(size)
        if case is not None and size["kind"] != "open vent":
            made["vent"] = _vent(doc, size, case)
            break
    drains = [each for each in doc.get("drain_sizes") or () if each.get("bore_mm")]
    if drains:
        made["drain"] = _drain(doc, max(drains, key=lambda each: float(each["jet_m_s"])))
    return made


def _governing(size: Mapping[str, Any]) -> Mapping[str, Any] | None:
    inward = [case for case in size.get("cases") or () if case["name"] in ("draining", "break")]
    return next((case for case in inward if case["name"] == size.get("governing")), None)


def _vent(
    doc: Document, size: Mapping[str, Any], case: Mapping[str, Any]
) -> Mapping[str, float | None]:
    numbers = sizing()
    ground = at_station(doc, "ground_m", float(size["station_m"])) or 0.0
    air = atmosphere_pa(ground)
    drop, flow = float(case["pressure_difference_kpa"]) * KILO, float(case["air_m3_s"])
    bore = air_bore_m(
        free_air_m3_s=flow,
        difference_pa=drop,
        atmosphere_pa=air,
        cd=numbers.large_orifice_cd,
        inward=True,
    )
    return {
        "station_m": float(size["station_m"]),
        "air_m3_s": flow,
        "discharge": numbers.large_orifice_cd,
        "outside_kpa": air / KILO,
        "inside_kpa": (air - drop) / KILO,
        "ratio": max((air - drop) / air, 0.5283),
        "heats": numbers.gas_ratio,
        "gas": numbers.gas_constant,
        "air_c": numbers.air_temperature_c,
        "mass": air_mass_flow_kg_s(
            cd=numbers.large_orifice_cd,
            bore_m=bore,
            before_pa=air,
            after_pa=air - drop,
            temperature_c=numbers.air_temperature_c,
        ),
        "orifice_mm": bore * KILO,
        "bore_mm": size.get("bore_mm"),
    }


def _drain(doc: Document, size: Mapping[str, Any]) -> Mapping[str, float | None]:
    water = doc["water"]
    gravity, density = float(water["gravity_m_s2"]), float(water["density_kg_m3"])
    bore, cd = float(size["bore_mm"]) / KILO, sizing().drain_cd
    area = math.pi / 4.0 * bore * bore
    head = at_station(doc, "static_head_m", float(size["station_m"])) or 0.0
    speed = jet_velocity(head, gravity)
    return {
        "station_m": float(size["station_m"]),
        "head_m": head,
        "gravity_m_s2": gravity,
        "jet_m_s": speed,
        "bore_mm": bore * KILO,
        "discharge": cd,
        "constant": drain_constant(bore, cd, gravity),
        "first_m3_s": math.sqrt(head / drain_constant(bore, cd, gravity)),
        "density_kg_m3": density,
        "jet_m3_s": cd * area * speed,
        "push_kn": density * cd * area * speed * speed / KILO,
    }
