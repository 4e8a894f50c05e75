"""The schedules of sheets and report: what to buy and where to put it, in words and figures."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from typing import Any

from routing.fittings import size_text
from routing.papers.cast import unsized_words
from routing.papers.deeper import deeper_everywhere, dug_through
from routing.papers.document import Document, at_station, plain, units_of
from routing.papers.facts import need_words
from routing.papers.schedule_form import Schedule, head, shown
from routing.papers.spare import SPARE_SHARE, bought_m
from routing.units import convert
from routing.us_units import in_system

__all__ = [
    "block_sides",
    "cast_blocks",
    "raised_text",
    "schedules",
    "to_set",
]

_LIKELY = "Need: in % how likely the {turn} is there once the ground is known."
_SIDES = ("width_m", "height_m", "length_m")


def schedules(doc: Document) -> list[Schedule]:
    """Return the schedules that a study has something for."""
    made = [
        *(_pipes(doc), _vents(doc), _drains(doc), _bends(doc)),
        *(_blocks(doc), _anchors(doc), _supports(doc), _spans(doc), dug_through(doc)),
        deeper_everywhere(doc),
    ]
    return [table for table in made if table.rows]


def _pipes(doc: Document) -> Schedule:
    """Return lengths along the slope by pipe, with spare; equal pipes are bought together."""
    lengths: dict[str, list[Any]] = {}
    for pipe in doc.get("pipes") or ():
        entry = lengths.setdefault(plain(pipe["label"]), [pipe, 0.0])
        entry[1] += float(pipe["length_m"])
    rows = []
    for label, (pipe, length) in lengths.items():
        mass = pipe.get("mass_kg_m")
        weight = in_system("kg", units_of(doc))[1]
        rating = pipe.get("derated_rating_kpa")
        rows.append(
            [
                label,
                shown(pipe["outside_diameter_m"], "diameter", doc),
                shown(pipe["inside_diameter_m"], "diameter", doc),
                shown(None if rating is None else rating * 1e3, "pressure", doc),
                shown(length, "length", doc),
                shown(bought_m(length), "length", doc),
                "–" if mass is None else f"{mass * length * weight:.0f}",
            ]
        )
    return Schedule(
        "Pipe",
        [
            "pipe",
            head("outside", "diameter", doc),
            head("bore", "diameter", doc),
            head("rated", "pressure", doc),
            head("along slope", "length", doc),
            head("with spare", "length", doc),
            f"mass, {in_system('kg', units_of(doc))[0]}",
        ],
        rows,
        [False, True, True, True, True, True, True],
        f"Spare: {100 * SPARE_SHARE:g} % for cuts and damage (common practice). The rating is at "
        "the water's temperature.",
    )


def _fitting_row(doc: Document, item: Mapping[str, Any], rated: bool) -> list[str]:
    pressure = at_station(doc, "static_pressure_kpa", float(item["station_m"]))
    size, bears = item.get("size_mm"), item.get("rating_kpa")
    return [
        plain(item["id"]),
        shown(item["station_m"], "station", doc),
        plain(item.get("kind") or ""),
        "–" if size is None else size_text(size / 1e3, units_of(doc)),
        need_words(item, short=True),
        ", ".join(plain(rule) for rule in item.get("rules") or [item["rule"]]),
        shown(item["ground_m"], "elevation", doc),
        shown(item["pipe_m"], "elevation", doc),
        shown(item.get("depth_m"), "depth", doc),
        shown(None if pressure is None else pressure * 1e3, "pressure", doc),
        *([shown(None if bears is None else bears * 1e3, "pressure", doc)] if rated else []),
    ]


def _rated(doc: Document, key: str) -> bool:
    return any(item.get("rating_kpa") is not None for item in doc[key])


def _fitting_heads(doc: Document, rated: bool) -> tuple[list[str], list[bool]]:
    heads = [
        "no.",
        head("station", "station", doc),
        "kind",
        "size, least",
        "need",
        "rule",
        head("ground", "elevation", doc),
        head("centre", "elevation", doc),
        head("to invert", "depth", doc),
        head("static", "pressure", doc),
        *([head("must bear", "pressure", doc)] if rated else []),
    ]
    return heads, [False, True, False, True, False, False, *[True] * (len(heads) - 6)]


def _vents(doc: Document) -> Schedule:
    rated = _rated(doc, "vents")
    heads, numeric = _fitting_heads(doc, rated)
    rows = [_fitting_row(doc, item, rated) for item in doc["vents"]]
    return Schedule("Vents", heads, rows, numeric, _LIKELY.format(turn="summit"))


def _drains(doc: Document) -> Schedule:
    rated = _rated(doc, "drains")
    heads, numeric = _fitting_heads(doc, rated)
    heads.append(head("drains", "water", doc))
    rows = [
        [*_fitting_row(doc, item, rated), shown(item.get("drained_m3"), "water", doc)]
        for item in doc["drains"]
    ]
    return Schedule("Drains", heads, rows, [*numeric, True], _LIKELY.format(turn="sag"))


def _bends(doc: Document) -> Schedule:
    rows = []
    for item in doc.get("bends") or ():
        turn = float(item["plan_deg"])
        side = "" if abs(turn) < 0.05 else (" R" if turn > 0 else " L")
        rows.append(
            [
                plain(item["id"]),
                shown(item["station_m"], "station", doc),
                f"{abs(turn):.1f}{side}",
                _signed(float(item["vertical_deg"])),
                f"{float(item['deflection_deg']):.1f}",
                shown(item.get("pipe_m"), "elevation", doc),
            ]
        )
    heads = [
        "no.",
        head("station", "station", doc),
        "in plan, °",
        "in profile, °",
        "in space, °",
        head("centre", "elevation", doc),
    ]
    return Schedule(
        "Bends",
        heads,
        rows,
        [False, True, True, True, True, True],
        "L and R as seen down the line; in profile + turns up. Smaller ones are left to the "
        "joints.",
    )


def _signed(angle_deg: float) -> str:
    return "0.0" if abs(angle_deg) < 0.05 else f"{angle_deg:+.1f}".replace("-", "−")


def to_set(doc: Document, key: str) -> list[Mapping[str, Any]]:
    """Return the rows of a section that are to be set: blocks only where something is built."""
    rows = list(doc.get(key) or ())
    if key == "blocks":
        return [item for item in rows if item["hold"] not in ("pipe", "joint")]
    return rows


def cast_blocks(doc: Document) -> list[Mapping[str, Any]]:
    """Return the fittings that are held by a block of concrete, by station."""
    return [item for item in to_set(doc, "blocks") if item.get("length_m")]


def block_sides(doc: Document, item: Mapping[str, Any]) -> list[str]:
    """Return width, height and length of a block as it is set out, never less than it asks for."""
    return [raised_text(convert(float(item[key]), "depth", units_of(doc))) for key in _SIDES]


def raised_text(value: float) -> str:
    """Return a figure with two decimals that is never less than the value.

    >>> raised_text(0.0036), raised_text(1.25)
    ('0.01', '1.25')
    """
    return f"{math.ceil(100.0 * value - 1e-6) / 100.0:.2f}"


def _blocks(doc: Document) -> Schedule:
    """Return what a mason needs of every block: where, how large, which way it is pushed."""
    cast = cast_blocks(doc)
    kilo, _ = in_system("kN", units_of(doc))
    rows = [
        [
            plain(item["id"]),
            shown(item["station_m"], "station", doc),
            " ".join(plain(item[key]) for key in ("place", "bend_id") if item.get(key)),
            plain(item["hold"]),
            f"{float(item['bearing_deg']):.0f}",
            plain(item["up"]),
            *_cast_cells(doc, item),
        ]
        for item in cast
    ]
    heads = [
        "no.",
        head("station", "station", doc),
        "at",
        "holds as",
        "pushed towards, °",
        "and",
        head("wide", "depth", doc),
        head("high", "depth", doc),
        head("long", "depth", doc),
        head("concrete", "volume", doc),
        f"weight, {kilo}",
    ]
    numeric = [False, True, False, False, True, False, *[True] * 5]
    return Schedule("Blocks", heads, rows, numeric, _block_note(doc, cast))


def _cast_cells(doc: Document, item: Mapping[str, Any]) -> list[str]:
    """Return sides, concrete and weight of a block; a block left open has none of them."""
    if unsized_words(doc, item):
        return ["left open", *["–"] * 4]
    _, factor = in_system("kN", units_of(doc))
    weight = f"{float(item['weight_kn']) * factor:.{1 if factor == 1.0 else 0}f}"
    return [*block_sides(doc, item), shown(item["volume_m3"], "concrete", doc), weight]


def _block_note(doc: Document, cast: Sequence[Mapping[str, Any]]) -> str:
    """Return what holds for all blocks: concrete, curing, ground, and how the sides lie."""
    if not cast:
        return ""
    first = cast[0]
    stress, factor = in_system("MPa", units_of(doc))
    soil = first.get("soil")
    ground = f"{plain(soil)}, as named" if soil else "weak ground, because no soil was named"
    unsized = [(plain(item["id"]), unsized_words(doc, item)) for item in cast]
    left = "".join(f" {name} {words}." for name, words in unsized if words)
    return (
        "Clockwise from true north. Wide is square to the push, long in its way; centred on the "
        "line of the push, against undisturbed ground or on it. Concrete of at least "
        f"{float(first['concrete_mpa']) * factor:.0f} {stress}, cured for "
        f"{float(first['cure_days']):.0f} days before the test. Sized for {ground}.{left}"
    )


def _anchors(doc: Document) -> Schedule:
    """Return the walls of concrete that keep pipe on steep ground from creeping."""
    rows = [
        [
            plain(item["id"]),
            shown(item["station_m"], "station", doc),
            f"{100.0 * float(item['grade']):.0f}",
            *block_sides(doc, item),
            shown(item["volume_m3"], "concrete", doc),
        ]
        for item in to_set(doc, "anchors")
    ]
    heads = [
        "no.",
        head("station", "station", doc),
        "grade, %",
        head("wide", "depth", doc),
        head("high", "depth", doc),
        head("thick", "depth", doc),
        head("concrete", "volume", doc),
    ]
    note = "Around the pipe, keyed into undisturbed ground; sizes are common practice, not judged."
    return Schedule("Slope anchors", heads, rows, [False, *[True] * 6], note)


def _supports(doc: Document) -> Schedule:
    """Return the supports of pipe above ground, one by one."""
    force, factor = in_system("kN", units_of(doc))
    area, areas = in_system("m²", units_of(doc))
    rows = [
        [
            plain(item["id"]),
            shown(item["station_m"], "station", doc),
            shown(item["ground_m"], "elevation", doc),
            shown(item["pipe_m"], "elevation", doc),
            shown(item["height_m"], "depth", doc),
            f"{float(item['load_kn']) * factor:.{1 if factor == 1.0 else 0}f}",
            "–" if item["floor_m2"] is None else raised_text(float(item["floor_m2"]) * areas),
        ]
        for item in to_set(doc, "supports")
    ]
    heads = [
        "no.",
        head("station", "station", doc),
        head("ground", "elevation", doc),
        head("centre", "elevation", doc),
        head("to underside", "depth", doc),
        f"carries, {force}",
        f"footing, {area}",
    ]
    note = "Load of the full pipe without wind; the structure is for a licensed engineer to design."
    return Schedule("Supports", heads, rows, [False, *[True] * 6], note)


def _spans(doc: Document) -> Schedule:
    rows = [
        [
            shown(item["from_m"], "station", doc),
            shown(item["to_m"], "station", doc),
            shown(item["to_m"] - item["from_m"], "length", doc),
            shown(item.get("clearance_m"), "depth", doc),
        ]
        for item in (doc.get("trench") or {}).get("spans") or ()
    ]
    heads = [
        head("from", "station", doc),
        head("to", "station", doc),
        head("length in plan", "length", doc),
        head("highest above ground", "depth", doc),
    ]
    return Schedule("Pipe above ground", heads, rows, [True] * 4)
