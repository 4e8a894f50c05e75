"""What a person needs to know where the line crosses a road, stream, parcel or area."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from routing.land import KINDS
from routing.papers.document import Document, plain, units_of
from routing.papers.facts import Facts, place_text
from routing.units import show

__all__ = ["crossing_brief", "crossing_facts", "crossing_line", "crossing_words"]

_HOW = {"inside": "", "crosses": "", "touches": ", touched", "along": ", alongside"}


def crossing_words(item: Mapping[str, Any]) -> str:
    """Return what is crossed: its kind and its name.

    >>> crossing_words({"kind": "road", "name": "mill track", "relation": "touches"})
    'road mill track, touched'
    """
    words = [KINDS[item["kind"]].words, *([plain(item["name"])] if item["name"] else [])]
    return " ".join(words) + _HOW[item["relation"]]


def crossing_brief(doc: Document, item: Mapping[str, Any]) -> str:
    """Return what is crossed, over which length or at which angle."""
    words = crossing_words(item)
    if item["length_m"]:
        words += f", {show(item['length_m'], 'length', units_of(doc))}"
    if item["angle_deg"] is not None:
        words += f", at {item['angle_deg']:.0f}°"
    return words


def crossing_line(doc: Document, item: Mapping[str, Any]) -> str:
    """Return a crossing in one sentence: its name, where it is, what it is, and its consent."""
    consent = plain(item["consent"]) if item["consent"] else "none named"
    at = show(item["station_m"], "station", units_of(doc))
    return f"{plain(item['id'])} at {at}: {crossing_brief(doc, item)}; consent: {consent}."


def crossing_facts(doc: Document, item: Mapping[str, Any]) -> Facts:
    """Return where a crossing begins and ends, how the pipe lies there, and what it asks."""
    units = units_of(doc)
    facts = [
        ("Station", show(item["station_m"], "station", units)),
        ("Where", place_text(float(item["lon"]), float(item["lat"]))),
    ]
    if item["length_m"]:
        facts += [
            ("To station", show(item["to_m"], "station", units)),
            ("Length", show(item["length_m"], "length", units)),
        ]
    if item["angle_deg"] is not None:
        facts.append(("Angle", f"{item['angle_deg']:.0f}°"))
    if item["kind"] in ("road", "stream", "service"):
        facts.append(("Least cover", show(item["cover_m"], "depth", units)))
    facts += [("Asks", plain(words)) for words in item["asks"]]
    return [*facts, ("Consent", plain(item["consent"] or "none named"))]
