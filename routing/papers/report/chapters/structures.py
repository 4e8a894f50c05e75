"""The chapter of structures: thrusts and what takes them, anchors, spans, curves, uplift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from routing.papers.document import Document, plain
from routing.papers.report.basis import Formula
from routing.papers.report.parts import Section, formula_list, items, listed, schedule, text
from routing.papers.report.turns import left_to_pipe, needing, thrusts_table
from routing.papers.schedule import schedules

__all__ = ["structures_chapter"]

_SHEETS = {
    "Bends": "bends",
    "Blocks": "blocks",
    "Slope anchors": "anchors",
    "Supports": "supports",
    "Pipe above ground": "trench spans",
}


def structures_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return what is built against thrust, creep, weight and uplift, and why."""
    for made in schedules(doc):
        if made.title in _SHEETS:
            yield schedule(doc, made, sheet=_SHEETS[made.title])
    yield thrusts_table(doc)
    yield items("Turns left to the pipe", left_to_pipe(doc))
    kept = needing(doc)
    yield listed(
        doc,
        "Turns that need fittings",
        kept.get("curves") or (),
        [
            ("bend_id", "bend", None),
            ("station_m", "station", 1),
            ("deflection_deg", "turn", 1),
            ("verdict", "made by", None),
            ("fittings_deg", "made fittings, °", 1),
            ("rest_deg", "left to joints", 1),
            ("cuts", "mitre cuts", 0),
            ("available_radius_m", "radius there is room for", 1),
            ("least_radius_m", "least radius", 1),
        ],
        sheet="curves",
    )
    yield listed(
        doc,
        "Spans as structures",
        doc.get("bridges") or (),
        [
            ("from_m", "from", 1),
            ("to_m", "to", 1),
            ("bays", "bays", 0),
            ("bay_m", "bay", 2),
            ("longest_bay_m", "longest that holds", 2),
            ("weight_n_m", "weight", 0),
            ("load_n_m", "with wind", 0),
            ("movement_m", "movement", 3),
            ("expansion_joints", "expansion joints", 0),
            ("joint_opening_m", "their gap", 3),
        ],
        "The structure is for a licensed engineer to design.",
    )
    yield listed(
        doc,
        "Reaches that would float empty",
        doc.get("floating") or (),
        [
            ("from_m", "from", 1),
            ("to_m", "to", 1),
            ("cover_m", "cover", 2),
            ("needed_cover_m", "cover that holds", 2),
            ("factor", "hold-down over uplift", 2),
        ],
    )
    yield formula_list("Worked examples", formulas)
    soils = {plain(each.get("soil") or "") for each in doc.get("blocks") or ()}
    if "" in soils and doc.get("blocks"):
        yield text(
            "No soil was named: the ground was taken as weak. A soil report comes before blocks."
        )
