"""What a person needs to know to set a block, an anchor, a support, a valve or a gauge tap."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.papers.cast import unsized_words
from routing.papers.document import Document, at_station, plain, units_of
from routing.papers.facts import Facts, bears_facts, place_text
from routing.papers.schedule import block_sides, raised_text
from routing.trade_table import trade_table
from routing.units import show, unit_of
from routing.us_units import in_system

__all__ = [
    "anchor_facts",
    "bend_beside",
    "block_facts",
    "card_caution",
    "force_text",
    "item_place",
    "relief_facts",
    "sides_text",
    "support_facts",
    "valve_facts",
]


SLIGHT_BEND_DEG = 5.0
"""Turns below this do not disturb a tee or saddle [deg]: common practice, no source."""
CLEAR_BORES = 5.0
"""Straight pipe between a bend and a tee or saddle, in bores: common practice, no source."""


def sides_text(doc: Document, item: Mapping[str, Any]) -> str:
    """Return width, height and length of what is cast, as it is set out."""
    return f"{' × '.join(block_sides(doc, item))} {unit_of('depth', units_of(doc))}"


def bend_beside(doc: Document, item: Mapping[str, Any]) -> Facts:
    """Return on which side the nearest bend lies and how far: a tee or saddle wants straight pipe.

    Five bores from a bend, common practice.
    """
    station, units = float(item["station_m"]), units_of(doc)
    bends = [bend for bend in doc.get("bends") or () if bend["deflection_deg"] >= SLIGHT_BEND_DEG]
    if not bends:
        return []
    near = min(bends, key=lambda bend: abs(float(bend["station_m"]) - station))
    away = float(near["station_m"]) - station
    bore = max((float(pipe["inside_diameter_m"]) for pipe in doc.get("pipes") or ()), default=0.2)
    side = "downstream" if away > 0.0 else "upstream"
    words = f"{plain(near['id'])}, {show(abs(away), 'length', units)} {side}"
    clear = CLEAR_BORES * bore
    if abs(away) < clear:
        words += f": set the tee {show(clear, 'length', units)} clear of it"
    return [("Nearest bend", words)]


def force_text(doc: Document, force_kn: float) -> str:
    """Return a force in the reader's units."""
    unit, factor = in_system("kN", units_of(doc))
    return f"{force_kn * factor:.{1 if factor == 1.0 else 0}f} {unit}"


def item_place(doc: Document, item: Mapping[str, Any]) -> tuple[float, float]:
    """Return longitude and latitude of an item, from the line where it states none."""
    station = float(item["station_m"])
    lon, lat = (item.get(key) for key in ("lon", "lat"))
    return (
        float(at_station(doc, "lon", station) or 0.0) if lon is None else float(lon),
        float(at_station(doc, "lat", station) or 0.0) if lat is None else float(lat),
    )


def card_caution(doc: Document, kind: str) -> Facts:
    """Return the caution that stands where this kind of thing is set, none for the ends."""
    cure = next((item["cure_days"] for item in doc.get("blocks") or () if item["cure_days"]), 10)
    return [
        ("Caution", row["text"].format(cure_days=f"{float(cure):.0f}"))
        for row in trade_table(__file__, "card_cautions.csv")
        if row["kind"] == kind
    ]


def block_facts(doc: Document, block: Mapping[str, Any]) -> Facts:
    """Return what a mason needs of a block."""
    units = units_of(doc)
    facts = [
        *_where(doc, block),
        ("Holds", " ".join(plain(block[key]) for key in ("place", "bend_id") if block.get(key))),
        ("As", plain(block["hold"])),
    ]
    if reason := unsized_words(doc, block):
        facts.append(("Left open", f"{plain(block['id'])} {reason}"))
    elif block.get("length_m"):
        area, factor = in_system("m²", units)
        facts += [
            ("Wide × high × long", sides_text(doc, block)),
            ("Concrete", show(block["volume_m3"], "concrete", units)),
        ]
        facts += [
            (label, f"{float(block[key]) * factor:.2f} {area}")
            for label, key in (("Face against the ground", "face_m2"), ("Floor", "floor_m2"))
            if block.get(key)
        ]
    elif block.get("restrained_m"):
        facts.append(
            ("Hold joints together", show(block["restrained_m"], "length", units) + " on each side")
        )
    facts.append(
        ("Pushed towards", f"{float(block['bearing_deg']):.0f}° from north, {plain(block['up'])}")
    )
    facts.append(("Thrust", force_text(doc, float(block["thrust_kn"]))))
    if block["up"] != "level":
        facts.append((f"Pushes {plain(block['up'])}", force_text(doc, abs(float(block["up_kn"])))))
    soil = block.get("soil")
    facts.append(("Soil", f"{plain(soil)}, as named" if soil else "not named: taken as weak"))
    return facts


def anchor_facts(doc: Document, anchor: Mapping[str, Any]) -> Facts:
    """Return what is to be cast around the pipe on steep ground."""
    units = units_of(doc)
    return [
        *_where(doc, anchor),
        ("Holds", "the pipe against creeping downhill"),
        ("Wide × high × long", sides_text(doc, anchor)),
        ("Concrete", show(anchor["volume_m3"], "concrete", units)),
        ("Grade", f"{100.0 * float(anchor['grade']):.0f} %"),
        ("Next no further than", show(anchor["centres_m"], "length", units) + " along the slope"),
    ]


def support_facts(doc: Document, support: Mapping[str, Any]) -> Facts:
    """Return how high a support stands, what it carries, and on how much ground."""
    units = units_of(doc)
    area, factor = in_system("m²", units)
    floor = support.get("floor_m2")
    return [
        *_where(doc, support),
        ("Ground to underside of pipe", show(support["height_m"], "depth", units)),
        ("Carries", force_text(doc, float(support["load_kn"])) + ", the pipe full"),
        ("Saddle", f"{float(support['saddle_deg']):.0f}° of the pipe"),
        (
            "Footing, least",
            "the ground bears nothing: an engineer must found it"
            if floor is None
            else f"{raised_text(float(floor) * factor)} {area}, "
            f"{show(support['founded_m'], 'depth', units)} deep",
        ),
    ]


def valve_facts(doc: Document, item: Mapping[str, Any]) -> Facts:
    """Return the place of a valve or gauge tap and the pressure there."""
    units, station = units_of(doc), float(item["station_m"])
    static = at_station(doc, "static_pressure_kpa", station)
    facts = [
        *_where(doc, item),
        ("Dig to invert", show(at_station(doc, "depth_m", station), "depth", units)),
        ("Static pressure", show(None if static is None else static * 1e3, "pressure", units)),
        *bears_facts(doc, item),
    ]
    return [*facts, ("Why", plain(item["reason"]))] if item.get("reason") else facts


def relief_facts(doc: Document, item: Mapping[str, Any]) -> Facts:
    """Return what a relief valve is set to, what it passes, where its jet goes; its yearly test."""
    units, most = units_of(doc), item["most_setting_kpa"]
    window = show(item["least_setting_kpa"] * 1e3, "pressure", units)
    side, bearing = plain(item["jet_side"]), float(item["jet_bearing_deg"])
    return [
        *valve_facts(doc, item),
        ("Set to", show(item["setting_kpa"] * 1e3, "pressure", units)),
        (
            "May be set",
            f"from {window} up, no rating known"
            if most is None
            else f"{window} to {show(most * 1e3, 'pressure', units)}",
        ),
        ("Passes", show(item["flow_m3_s"], "flow", units)),
        (
            "Its jet",
            f"{show(item['jet_m_s'], 'velocity', units)}, to the {side} of the line, {bearing:.0f}°"
            f" from north; free it flies {show(item['jet_reach_m'], 'length', units)}: lead it "
            "through an anchored pipe with a stilling piece back to the stream",
        ),
        ("Each year", "lift it by hand or by pump, note the pressure at which it opened"),
    ]


def _where(doc: Document, item: Mapping[str, Any]) -> Facts:
    units, station = units_of(doc), float(item["station_m"])
    ground, pipe = (
        at_station(doc, name, station) if item.get(name) is None else float(item[name])
        for name in ("ground_m", "pipe_m")
    )
    return [
        ("Station", show(station, "station", units)),
        ("Where", place_text(*item_place(doc, item))),
        ("Ground", show(ground, "elevation", units)),
        ("Pipe centre", show(pipe, "elevation", units)),
    ]
