"""The tables and notes of a set of sheets: every schedule, then what holds for all sheets."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from routing.fittings import size_text
from routing.papers.document import Document, at_station, grade_words, plain, units_of
from routing.papers.given import sheet_features, sheet_text, standing
from routing.papers.land_facts import crossing_words
from routing.papers.schedule import schedules
from routing.papers.schedule_form import Schedule
from routing.papers.sheet.galley import Legend, Listing, Notes
from routing.papers.sheet.legend import legend
from routing.papers.sheet.revision import SIGN, changed, changes
from routing.papers.shopping import shopping
from routing.papers.station import plus_station, station_text
from routing.papers.wording import worded
from routing.trade_table import trade_table
from routing.units import Kind, UnitSystem, show, unit_of
from routing.words import Said, caution_lines, said

__all__ = ["front_blocks", "sheet_blocks"]


def sheet_blocks(doc: Document) -> list[Listing | Notes]:
    """Return the schedules, warnings, assumptions and cautions of a study in reading order."""
    units = units_of(doc)
    made = [changes(doc), *schedules(doc), *_more(doc), shopping(doc)]
    listings = [_listing(doc, each, units) for each in made if each.rows]
    blocks = [_told(each) if len(each.rows) == 1 else each for each in listings]
    return [*blocks, *(Notes(title=title, items=items) for title, items in _warned(doc) if items)]


def front_blocks(doc: Document) -> list[Listing | Notes | Legend]:
    """Return what a reader of the drawings needs first: notes, legend, abbreviations."""
    spans = bool((doc.get("trench") or {}).get("spans"))
    holds = {"always": True, "surge": bool(doc.get("surge")), "spans": spans}
    general = [row["text"] for row in trade_table(__file__, "notes.csv") if holds[row["when"]]]
    short = [[row["short"], row["words"]] for row in trade_table(__file__, "abbreviations.csv")]
    words = Listing(
        title="Abbreviations", heads=["short", "stands for"], rows=short, numeric=[False, False]
    )
    return [legend(doc), Notes(title="General notes", items=general), words]


def _listing(doc: Document, made: Schedule, units: UnitSystem) -> Listing:
    """Return a schedule with its stations as the sheets write them."""
    plainly = sheet_text(doc, "stations") == "plain"
    unit = unit_of("station", units)
    named = {f"{word}, {unit}" for word in ("station", "from", "to", "was at", "is at")}
    stations = [head in named for head in made.heads]
    news = changed(doc) if made.title != changes(doc).title else {}
    rows = [
        [
            plus_station(float(cell), units, len(cell.partition(".")[2]))
            if at and not plainly and _is_number(cell)
            else cell
            for cell, at in zip(row, stations, strict=True)
        ]
        for row in made.rows
    ]
    rows = [
        [f"{row[0]} {SIGN}", *row[1:]] if made.heads[0] == "no." and row[0] in news else row
        for row in rows
    ]
    heads = [
        head.partition(",")[0] if at and not plainly else head
        for head, at in zip(made.heads, stations, strict=True)
    ]
    return Listing(
        title=made.title, heads=heads, rows=rows, numeric=made.numeric, note=made.note
    )  # fmt: skip


def _told(listing: Listing) -> Notes:
    """Return a table of one row as a sentence, each figure after what it is.

    >>> _told(Listing(title="Blocks", heads=["no.", "wide, m", "and"], rows=[["T1", "1.10", "up"]],
    ...               numeric=[False, True, False])).items
    ['T1; wide 1.10 m; and up']
    """
    parts = []
    for head, cell in zip(listing.heads, listing.rows[0], strict=True):
        words, _, unit = head.rpartition(", ")
        named = f"{said(words or head)} {said(cell)} {unit if words else ''}".rstrip()
        parts.append(said(cell) if head in ("no.", "what", "pipe") else named)
    items = [Said("; ".join(parts)), listing.note]
    return Notes(title=listing.title, items=[item for item in items if item])


def _is_number(text: str) -> bool:
    return text.replace(".", "", 1).isdigit()


def _more(doc: Document) -> Iterator[Schedule]:
    """Return what only the sheets schedule: crossings, valves, taps, levels, straights."""
    units = units_of(doc)

    def head(words: str, kind: Kind) -> str:
        return f"{words}, {unit_of(kind, units)}"

    def number(value: Any, kind: Kind) -> str:
        return show(None if value is None else float(value), kind, units, unit=False)

    station, depth = head("station", "station"), head("cover", "depth")
    level = head("ground", "elevation")
    yield Schedule(
        "Crossings",
        ["no.", station, head("to", "station"), "what", "angle, °", depth, "owner's consent"],
        [
            [
                plain(each["id"]),
                number(each["station_m"], "station"),
                number(each["to_m"], "station"),
                crossing_words(each),
                "–" if each.get("angle_deg") is None else f"{float(each['angle_deg']):.0f}",
                number(each.get("cover_m"), "depth"),
                plain(each.get("consent") or "none named"),
            ]
            for each in doc.get("crossings") or ()
        ],
        [False, True, True, False, True, True, False],
    )
    yield Schedule(
        "Parcels and land",
        ["kind", "name"],
        [list(row) for row in _parcels(doc)],
        [False, False],
    )
    for title, key in (("Isolating valves", "valves"), ("Gauge taps", "taps")):
        rows = [
            [
                plain(each["id"]),
                number(each["station_m"], "station"),
                number(at_station(doc, "ground_m", float(each["station_m"])), "elevation"),
                number(at_station(doc, "pipe_m", float(each["station_m"])), "elevation"),
                number(_pressure(doc, each), "pressure"),
            ]
            for each in doc.get(key) or ()
        ]
        heads = ["no.", station, level, head("centre", "elevation"), head("static", "pressure")]
        yield Schedule(title, heads, rows, [False, True, True, True, True])
    yield Schedule(
        "Relief valves",
        ["no.", station, head("set to", "pressure"), head("at least", "pressure"),
         head("at most", "pressure"), "bore", head("passes", "flow"), "jet towards, °"],
        [
            [
                plain(each["id"]),
                number(each["station_m"], "station"),
                *(number(None if each[key] is None else each[key] * 1e3, "pressure")
                  for key in ("setting_kpa", "least_setting_kpa", "most_setting_kpa")),
                size_text(each["size_mm"] / 1e3, units),
                number(each["flow_m3_s"], "flow"),
                f"{float(each['jet_bearing_deg']):.0f}",
            ]
            for each in doc.get("relief_valves") or ()
        ],
        [False, *(True for _ in range(7))],
    )  # fmt: skip
    yield Schedule(
        "Levels to take before buying",
        ["no.", station, "settles"],
        [
            [
                f"L{count}",
                number(each["station_m"], "station"),
                ", ".join(plain(name) for name in each["settles"]) or "with its neighbour",
            ]
            for count, each in enumerate(doc.get("levels_to_shoot") or (), start=1)
        ],
        [False, True, False],
    )
    yield _straights(doc, units, (station, head("to", "station")))


def _pressure(doc: Document, item: Mapping[str, Any]) -> float | None:
    value = at_station(doc, "static_pressure_kpa", float(item["station_m"]))
    return None if value is None else value * 1e3


def _straights(doc: Document, units: UnitSystem, heads: tuple[str, str]) -> Schedule:
    """Return every straight with the level of its breaks: profiles name them by their number."""
    rows = [
        [
            f"{number}",
            show(each["from_m"], "station", units, unit=False),
            show(each["to_m"], "station", units, unit=False),
            *reversed(grade_words(each, units)),
            show(each["from_z_m"], "elevation", units, unit=False),
            show(each["to_z_m"], "elevation", units, unit=False),
        ]
        for number, each in enumerate(doc["grades"], start=1)
    ]
    level = unit_of("elevation", units)
    names = [heads[0].replace("station", "from", 1), heads[1]]
    return Schedule(
        "Straights and breaks of grade",
        ["no.", *names, f"length, {unit_of('station', units)}", "grade, %", f"centre, {level}",
         f"at its end, {level}"],
        rows,
        [True] * 7,
    )  # fmt: skip


def _parcels(doc: Document) -> Iterable[tuple[str, str]]:
    named = {
        (plain(told.get("kind") or "feature"), plain(told.get("name") or "without a name"))
        for told in ((item.get("properties") or {}) for item in sheet_features(doc))
    }
    return sorted(named)


def _warned(doc: Document) -> Iterator[tuple[str, Sequence[str]]]:
    """Return what stands open, warnings, assumptions and cautions."""
    yield "Open, and answered for", [standing(doc)] if standing(doc) else []
    warnings = []
    for item in doc.get("warnings") or ():
        at = item.get("station_m")
        where = "" if at is None else f" at {station_text(doc, at)}"
        head = said(plain(item["severity"]).capitalize() + where)
        warnings.append(Said(f"{head}: {said(worded(item['message']))}"))
    yield "Warnings", warnings
    yield "Assumed", [worded(item) for item in doc.get("assumptions") or ()]
    cautions = [worded(item["text"]) for item in doc.get("cautions") or ()]
    yield "Cautions", [line for text in cautions for line in caution_lines(text)]
