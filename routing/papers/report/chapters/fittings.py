"""The chapter of vents and drains: where, why, how large, and how the sizes came about."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from routing.papers.document import Document, plain
from routing.papers.report.basis import Formula
from routing.papers.report.parts import Section, formula_list, listed, pairs, schedule, text
from routing.papers.schedule import schedules
from routing.papers.subject import AIR, with_air
from routing.papers.wording import worded

__all__ = ["fittings_chapter"]

MOST_REASONS = 16
"""Vents and drains whose reasons are printed in full; all stand in the workbook [-]."""


def fittings_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return the schedules of vents and drains, their sizing, and why each is there."""
    for made in schedules(doc):
        if made.title in ("Vents", "Drains"):
            yield schedule(doc, made, sheet=made.title.lower())
    yield listed(
        doc,
        "How the vents were sized",
        with_air(doc.get("vent_sizes") or ()),
        [
            ("vent_id", "vent", None),
            ("governing", "case that governs", None),
            ("needed_mm", "bore needed", 1),
            ("least_mm", "least by table", 0),
            ("bore_mm", "fitted", 0),
            ("release_mm", "small orifice", 1),
            (AIR, "air let in", 1),
            ("allowed_vacuum_kpa", "at a vacuum of", 1),
            ("rating_kpa", "must bear", 0),
            ("rating_basis", "because of", None),
        ],
        sheet="vent sizes",
    )  # fmt: skip
    yield listed(
        doc,
        "How the drains empty their stretch",
        doc.get("drain_sizes") or (),
        [
            ("drain_id", "drain", None),
            ("bore_mm", "bore", 0),
            ("governing", "set by", None),
            ("drained_m3", "water", 2),
            ("shortest_s", "empties in", 0),
            ("longest_s", "to", 0),
            ("first_flow_m3_s", "first flow", 1),
            ("flush_bore_mm", "flushes from", 0),
            ("jet_m_s", "jet", 1),
            ("reaction_n", "push", 0),
            ("safe_opening", "open at most", 2),
        ],
        sheet="drain sizes",
    )
    yield formula_list("Worked examples", formulas)
    yield listed(
        doc,
        "Air trapped without the vents",
        doc.get("air") or (),
        [
            ("vent_id", "vent", None),
            ("station_m", "station", 1),
            ("needed_m", "held back", 2),
            ("available_m", "available", 2),
            ("verdict", "the line", None),
        ],
        sheet="air",
    )
    yield listed(
        doc,
        "Does the flow carry air down",
        doc.get("air_carry") or (),
        [
            ("vent_id", "below vent", None),
            ("from_m", "from", 1),
            ("to_m", "to", 1),
            ("angle_deg", "falls at", 1),
            ("critical_m_s", "carries from", 2),
            ("velocity_m_s", "velocity", 2),
            ("carries", "carried", None),
        ],
        sheet="air carry",
    )
    rows = [*doc["vents"], *doc["drains"]]
    yield pairs(
        "Why each vent and drain",
        [(plain(each["id"]), _why(doc, each)) for each in rows[:MOST_REASONS]],
    )
    left = len(rows) - MOST_REASONS
    if left > 0:
        yield text(f"The reasons of {left} more stand in the workbook, sheets vents and drains.")
    folded = len(doc.get("advised_folded") or ())
    if folded:
        yield text(
            f"{folded} more places where the pipe steepens have no vent: too little is lost there; "
            "they stand in the workbook."
        )


def _why(doc: Document, item: Mapping[str, Any]) -> str:
    told = worded(item["reason"])
    if item.get("size_source"):
        told += f" Size: {worded(plain(item['size_source']))}."
    return told
