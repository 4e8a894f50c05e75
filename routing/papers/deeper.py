"""The schedules of what a deeper trench saves: hump by hump, and everywhere."""

from __future__ import annotations

from routing.papers.document import Document, plain
from routing.papers.schedule_form import Schedule, head, shown
from routing.papers.study_facts import money

__all__ = ["deeper_everywhere", "dug_through"]


def dug_through(doc: Document) -> Schedule:
    """Return the humps that could be dug through, and what that saves and digs."""
    rows = [
        [
            ", ".join(plain(item[key]) for key in ("vent_id", "drain_id") if item.get(key)) or "–",
            shown(item["from_m"], "station", doc),
            shown(item["to_m"], "station", doc),
            shown(item["extra_depth_m"], "depth", doc),
            shown(item["extra_volume_m3"], "volume", doc),
            shown(item.get("air_m3"), "volume", doc),
            "–" if item.get("probability") is None else f"{100.0 * item['probability']:.0f} %",
        ]
        for item in (doc.get("trench") or {}).get("offers") or ()
    ]
    heads = [
        "saves",
        head("from", "station", doc),
        head("to", "station", doc),
        head("deeper by", "depth", doc),
        head("more to dig", "volume", doc),
        head("air no longer held", "volume", doc),
        "hump is real",
    ]
    return Schedule("Humps that could be dug through", heads, rows, [False, *[True] * 6])


def deeper_everywhere(doc: Document) -> Schedule:
    """Return what a trench that may be deeper everywhere saves and digs."""
    depths = list((doc.get("doubt") or {}).get("depths") or ())
    rows = [
        [
            shown(each["max_depth_m"], "depth", doc),
            str(each["summits"]),
            "–" if each["expected"] is None else f"{each['expected']:.1f}",
            str(depths[0]["summits"] - each["summits"]),
            shown(each["extra_volume_m3"], "volume", doc),
            money(doc, each) or "–",
        ]
        for each in depths
    ]
    heads = [
        head("deepest", "depth", doc),
        "summits",
        "to expect",
        "vents saved",
        head("more to dig", "volume", doc),
        "price of it",
    ]
    return Schedule(
        "Depth against vents",
        heads,
        rows if depths and depths[0]["summits"] else [],
        [True] * 6,
        "To expect: once the ground is known. Nobody enters a trench that is deeper than the local "
        "rules allow unless it is shored or sloped back.",
    )
