"""What a person at the trench needs to know of each place, in words and the user's units."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from routing.doubt import likely_words
from routing.fittings import size_text
from routing.papers.document import Document, at_station, plain, units_of
from routing.units import show
from routing.words import said

__all__ = [
    "Facts",
    "bears_facts",
    "bend_facts",
    "count_words",
    "drain_facts",
    "high_facts",
    "intake_facts",
    "level_facts",
    "level_words",
    "need_words",
    "outlet_facts",
    "place_text",
    "pressure_text",
    "vent_facts",
]

Facts = list[tuple[str, str]]
"""Label and value, in reading order."""

NEED_WORDS = {"must": "needed", "level": "take a level first", "advise": "advised"}
"""How much a fitting is needed, in the words of all papers."""


def place_text(lon: float, lat: float) -> str:
    """Return a position as people read it, to a decimetre.

    >>> place_text(-3.1234567, 54.5)
    '54.500000° N, 3.123457° W'
    """
    lon = (lon + 180.0) % 360.0 - 180.0
    north, east = ("N" if lat >= 0 else "S"), ("E" if lon >= 0 else "W")
    return f"{abs(lat):.6f}° {north}, {abs(lon):.6f}° {east}"


def count_words(fittings: Sequence[Mapping[str, Any]]) -> str:
    """Return how many fittings are needed, wait for a level, and are advised.

    >>> count_words([{"need": "must"}, {"need": "must"}, {"need": "advise"}])
    '2 needed, 1 advised'
    """
    needs = [fitting["need"] for fitting in fittings]
    counts = ((needs.count(need), need, words) for need, words in NEED_WORDS.items())
    return ", ".join(f"{count} {words}" for count, need, words in counts if count or need == "must")


def need_words(fitting: Mapping[str, Any], *, short: bool = False) -> str:
    """Return how much a vent or drain is needed, and how likely its summit or sag is.

    >>> need_words({"need": "level", "probability": 0.6367, "prominence_m": 0.4})
    'take a level first, summit 60 % likely'
    """
    need = str(fitting["need"])
    words, chance = NEED_WORDS.get(need, plain(need)), fitting.get("probability")
    if chance is None:
        return words
    turn = "summit" if "prominence_m" in fitting else "sag"
    if short:
        return f"{words}, {likely_words(float(chance)).replace('more than', '>')}"
    return f"{words}, {turn} {likely_words(float(chance))} likely"


def level_words(doc: Document, level: Mapping[str, Any]) -> str:
    """Return where to take a level and what it settles, in one line."""
    at = show(level["station_m"], "station", units_of(doc))
    settles = ", ".join(plain(each) for each in level["settles"])
    why = f"{said('settles')} {settles}" if settles else said("needed together with the next one")
    return f"{said(f'Take a level at {at} before buying')}: {why}"


def level_facts(doc: Document, level: Mapping[str, Any]) -> Facts:
    """Return the place of a level to take, and why."""
    units, at = units_of(doc), float(level["station_m"])
    return [
        ("Station", show(at, "station", units)),
        ("Where", place_text(level["lon"], level["lat"])),
        ("Ground by the raster", show(at_station(doc, "ground_m", at), "elevation", units)),
        ("Settles", ", ".join(plain(each) for each in level["settles"]) or "with its neighbour"),
        ("Why", plain(level["reason"])),
    ]


def vent_facts(doc: Document, vent: Mapping[str, Any]) -> Facts:
    """Return what an installer needs to place a vent."""
    units = units_of(doc)
    facts = [*_what(doc, vent), *_where(doc, vent), *_pressures(doc, vent)]
    if vent.get("open_top_m") is not None:
        base = "pipe" if at_station(doc, "span", float(vent["station_m"])) else "ground"
        above = f"{show(vent.get('open_height_m'), 'depth', units)} above the {base}"
        facts.append(
            (
                "Open top at",
                f"{show(vent['open_top_m'], 'elevation', units)} ({above})",
            )
        )
    facts += bears_facts(doc, vent)
    if vent.get("foot_size_mm") is not None:
        facts.append(("Bore at its foot", size_text(vent["foot_size_mm"] / 1e3, units)))
    if vent.get("prominence_m") is not None:
        minor = ", minor: lower than one bore" if vent.get("minor") else ""
        facts.append(
            ("Rises", f"{show(vent['prominence_m'], 'depth', units)} above its sag{minor}")
        )
    return [*facts, *_why(vent)]


def bears_facts(doc: Document, item: Mapping[str, Any]) -> Facts:
    """Return the one pressure that a thing must bear where it stands, and what asks for it."""
    if item.get("rating_kpa") is None:
        return []
    basis = plain(item.get("rating_basis") or "")
    return [("Must bear", f"{pressure_text(item['rating_kpa'], doc)} ({basis})")]


def drain_facts(doc: Document, drain: Mapping[str, Any]) -> Facts:
    """Return what an installer needs to place a drain."""
    units = units_of(doc)
    facts = [*_what(doc, drain), *_where(doc, drain), *_pressures(doc, drain)]
    facts += bears_facts(doc, drain)
    if drain.get("drained_m3") is not None:
        facts.append(("Drains", show(drain["drained_m3"], "water", units)))
    if drain.get("left_m3") is not None:
        facts.append(("Stays without it", show(drain["left_m3"], "water", units)))
    return [*facts, *_why(drain)]


def bend_facts(doc: Document, bend: Mapping[str, Any]) -> Facts:
    """Return a bend's place and its angles."""
    units = units_of(doc)
    return [
        ("Station", show(bend["station_m"], "station", units)),
        ("Where", place_text(bend["lon"], bend["lat"])),
        ("Turns", f"{bend['deflection_deg']:.1f}° in space"),
        ("of that", f"{bend['plan_deg']:.1f}° in plan, {bend['vertical_deg']:.1f}° in profile"),
        ("Pipe centre", show(bend.get("pipe_m"), "elevation", units)),
    ]


def high_facts(doc: Document, point: Mapping[str, Any]) -> Facts:
    """Return the place of a high or low of the ground, and how much it stands out."""
    units = units_of(doc)
    return [
        ("Station", show(point["station_m"], "station", units)),
        ("Where", place_text(point["lon"], point["lat"])),
        ("Ground", show(point["ground_m"], "elevation", units)),
        ("Prominence", show(point["prominence_m"], "depth", units)),
    ]


def intake_facts(doc: Document) -> Facts:
    """Return what is to be known of the intake."""
    units, stations = units_of(doc), doc["stations"]
    return [
        ("Where", place_text(stations["lon"][0], stations["lat"][0])),
        ("Water level", show(doc["summary"]["intake_level_m"], "elevation", units)),
        ("Ground", show(stations["ground_m"][0], "elevation", units)),
        ("Pipe centre", show(stations["pipe_m"][0], "elevation", units)),
        ("Depth to invert", show(stations["depth_m"][0], "depth", units)),
    ]


def outlet_facts(doc: Document) -> Facts:
    """Return what is to be known of the powerhouse end."""
    units, stations, summary = units_of(doc), doc["stations"], doc["summary"]
    facts = [
        ("Station", show(stations["station_m"][-1], "station", units)),
        ("Where", place_text(stations["lon"][-1], stations["lat"][-1])),
        ("Outlet level", show(summary["outlet_level_m"], "elevation", units)),
        ("Ground", show(stations["ground_m"][-1], "elevation", units)),
        ("Depth to invert", show(stations["depth_m"][-1], "depth", units)),
        ("Static pressure", pressure_text(summary.get("static_pressure_kpa"), doc)),
    ]
    if summary.get("flowing_pressure_kpa") is not None:
        facts.append(("Flowing pressure", pressure_text(summary["flowing_pressure_kpa"], doc)))
    return facts


def _what(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    size = fitting.get("size_mm")
    facts = [("Kind", plain(fitting.get("kind") or "to be chosen"))]
    if size is not None:
        facts.append(("Size", f"at least {size_text(size / 1e3, units_of(doc))}"))
        if fitting.get("size_source"):
            facts.append(("Size after", plain(fitting["size_source"])))
    return facts


def _where(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    units, station = units_of(doc), float(fitting["station_m"])
    depth = fitting.get("depth_m")
    depth = at_station(doc, "depth_m", station) if depth is None else depth
    above = depth is not None and depth < 0
    return [
        ("Station", show(station, "station", units)),
        ("Where", place_text(fitting["lon"], fitting["lat"])),
        ("Ground", show(fitting["ground_m"], "elevation", units)),
        (
            "Invert above ground" if above else "Dig to invert",
            show(abs(depth) if depth is not None else None, "depth", units),
        ),
        ("Pipe centre", show(fitting["pipe_m"], "elevation", units)),
    ]


def _pressures(doc: Document, fitting: Mapping[str, Any]) -> Facts:
    units, station = units_of(doc), float(fitting["station_m"])
    static = pressure_text(at_station(doc, "static_pressure_kpa", station), doc)
    facts = [("Static pressure", f"{static} ({show(fitting['static_head_m'], 'head', units)})")]
    flowing = at_station(doc, "flowing_pressure_kpa", station)
    if flowing is not None:
        head = at_station(doc, "flowing_head_m", station)
        facts.append(
            ("Flowing pressure", f"{pressure_text(flowing, doc)} ({show(head, 'head', units)})")
        )
    rating = at_station(doc, "rating_kpa", station)
    if rating is not None:
        facts.append(("Pipe is rated", pressure_text(rating, doc)))
    return facts


def _why(fitting: Mapping[str, Any]) -> Facts:
    rules = ", ".join(plain(rule) for rule in fitting.get("rules") or [fitting["rule"]])
    return [("Need", need_words(fitting)), ("Why", plain(fitting["reason"])), ("Rule", rules)]


def pressure_text(pressure: float | None, doc: Document) -> str:
    """Return a pressure of the document [kPa] in the user's units."""
    return show(None if pressure is None else pressure * 1e3, "pressure", units_of(doc))
