"""Pipe above ground: its weight, bending, sag and swing between supports, heat and cold."""

from __future__ import annotations

import math
from collections.abc import Mapping

from routing.anchors.beam import Support, frequency_hz, moment_n_m, sag_m
from routing.anchors.span import body_of
from routing.anchors.support import gap_expansion_per_c
from routing.papers.document import Document
from routing.papers.report.worked.given import KILO, catalogued

__all__ = ["span_examples"]

MEGA = 1e6


def span_examples(doc: Document) -> Mapping[str, Mapping[str, float | None]]:
    """Return the numbers of the longest span; nothing where all pipe lies in the ground."""
    bridges = list(doc.get("bridges") or ())
    if not bridges or not doc.get("pipes"):
        return {}
    bridge = max(bridges, key=lambda each: float(each["bay_m"]))
    runs = [each for each in doc["pipes"] if each["from_m"] <= float(bridge["from_m"]) + 1e-6]
    pipe = catalogued(runs[-1]) if runs else None
    body = body_of(pipe) if pipe is not None else None
    if body is None:
        return {}
    section, gravity = body.section, float(doc["water"]["gravity_m_s2"])
    bay, weight, load = (float(bridge[key]) for key in ("bay_m", "weight_n_m", "load_n_m"))
    support: Support = "continuous" if int(bridge["bays"]) >= 3 else "simple"
    moment = moment_n_m(load, bay, support)
    expansion = gap_expansion_per_c(body)
    return {
        "span": {
            "from_m": float(bridge["from_m"]),
            "outside_diameter_mm": section.outside_diameter_m * KILO,
            "bore_mm": section.inside_diameter_m * KILO,
            "pipe_kg_m3": body.density_kg_m3,
            "water_kg_m3": float(doc["water"]["density_kg_m3"]),
            "gravity_m_s2": gravity,
            "weight_n_m": weight,
            "load_n_m": load,
            "bay_m": bay,
            "moment_knm": moment / KILO,
            "modulus": section.modulus_m3 * 1e6,
            "bending_mpa": moment / section.modulus_m3 / MEGA,
            "elastic_mpa": body.elastic_long_pa / MEGA,
            "inertia": section.inertia_m4 * 1e8,
            "sag_mm": sag_m(weight, bay, body.elastic_long_pa * section.inertia_m4, support) * KILO,
            "mass_kg_m": weight / gravity,
            "rigidity": body.elastic_short_pa * section.inertia_m4 / KILO,
            "mode": frequency_hz(1.0, math.sqrt(math.pi), 1.0, support),
            "swing": frequency_hz(
                weight / gravity, bay, body.elastic_short_pa * section.inertia_m4, support
            ),
            "length_m": float(bridge["length_m"]),
            "expansion_mm": expansion * KILO,
            "change_k": round(
                float(bridge["movement_m"]) / float(bridge["length_m"]) / expansion, 1
            ),
            "movement_m": float(bridge["movement_m"]),
            "opening_m": float(bridge["joint_opening_m"]),
        }
    }
