"""What crews recorded of each thing, in words for its card, its sign and its row."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any

from routing.crew import Record, conflicts, last_words
from routing.papers.document import Document, at_station, plain, units_of
from routing.papers.facts import Facts
from routing.units import show

__all__ = ["CREW_LABELS", "crew_facts", "record_station"]

CREW_LABELS = frozenset(
    {"Done", "Not done", "Check", "Differs", "Noted", "As built", "Marks", "Photographs", "Read"}
)
"""What such facts are called."""


def crew_facts(doc: Document) -> Mapping[str, Facts]:
    """Return by name what was recorded of each thing; a thing of which nothing was has none."""
    found: dict[str, Facts] = {}
    for name, label, words in _said_of(doc, list(doc.get("records") or ())):
        if name is not None:
            found.setdefault(str(name), []).append((label, words))
    return found


def _said_of(doc: Document, records: list[Record]) -> Iterator[tuple[str | None, str, str]]:
    """Yield of what, what it is called and the words of everything that was recorded last."""
    for tick in last_words(records, "tick").values():
        yield tick["of"], *_tick(doc, tick)
    for conflict in conflicts(records):
        said = "; ".join(_said(doc, each) for each in conflict["says"])
        yield conflict["says"][0]["of"], "Differs", said
    for note in last_words(records, "note").values():
        if note["note"]:
            yield note["of"], "Noted", f"{plain(note['note'])} ({_when(note)})"
    for built in last_words(records, "asbuilt").values():
        for label, words in _built(doc, built):
            yield built["of"], label, words
    for reading in last_words(records, "reading").values():
        yield reading["of"], "Read", _reading(doc, reading)
    pictures = Counter(record["of"] for record in records if record.get("photo"))
    for name, count in pictures.items():
        yield name, "Photographs", str(count)


def _when(record: Record) -> str:
    return f"{str(record['time'])[:16].replace('T', ' ')} UTC, {plain(record['device'])}"


def _tick(doc: Document, tick: Record) -> tuple[str, str]:
    units = units_of(doc)
    if tick.get("was_m") is not None:
        was, now = (show(tick.get(key), "station", units) for key in ("was_m", "now_m"))
        place = f"was at {was}, now {now}" if tick.get("now_m") is not None else f"was at {was}"
        return "Check", f"{place}: {'done' if tick['done'] else 'not done'} there, {_when(tick)}"
    return ("Done" if tick["done"] else "Not done"), _when(tick)


def _said(doc: Document, record: Record) -> str:
    if record["kind"] == "tick":
        return f"{'done' if record['done'] else 'not done'} ({_when(record)})"
    level = show(record["invert_m"], "elevation", units_of(doc))
    return f"invert {level} ({_when(record)})"


def _built(doc: Document, built: Record) -> Facts:
    units = units_of(doc)
    facts: Facts = []
    level, station = built["invert_m"], built["station_m"]
    if level is not None:
        planned = None if station is None else at_station(doc, "invert_m", float(station))
        words = f"invert {show(level, 'elevation', units)}"
        if planned is not None and not doc.get("as_built"):
            off = show(abs(float(level) - planned), "depth", units)
            words += f", {off} {'above' if level >= planned else 'below'} the plan"
        facts.append(("As built", f"{words} ({_when(built)})"))
    marks = [plain(built[key]) for key in ("make", "serial", "who", "note") if built.get(key)]
    if built.get("rating_kpa") is not None:
        marks.append(show(float(built["rating_kpa"]) * 1e3, "pressure", units))
    if built.get("offset_m") is not None:
        side = "right" if float(built["offset_m"]) >= 0.0 else "left"
        marks.append(f"{show(abs(float(built['offset_m'])), 'length', units)} {side} of the line")
    return [*facts, ("Marks", ", ".join(marks))] if marks else facts


def _reading(doc: Document, reading: Record) -> str:
    units = units_of(doc)
    flow = reading["flow_m3_s"]
    state = f"at {show(flow, 'flow', units)}" if flow else "shut"
    return (
        f"{show(float(reading['gauge_kpa']) * 1e3, 'pressure', units)} {state} ({_when(reading)})"
    )


def record_station(record: Mapping[str, Any], stations: Mapping[str, float]) -> float:
    """Return the station at which a record is shown: where the thing stands now, else as said."""
    for at in (record.get("now_m"), record.get("station_m"), stations.get(str(record["of"]))):
        if at is not None:
            return float(at)
    return 0.0
