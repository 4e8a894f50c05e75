"""The chapters of crossings, of tests, and of quantities with their cost."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Any

from routing.fittings import size_text
from routing.papers.document import Document, plain, units_of
from routing.papers.given import sheet_features
from routing.papers.land_facts import crossing_words
from routing.papers.quantities import bill_of_document
from routing.papers.report.basis import Formula
from routing.papers.report.parts import (
    Section,
    facts,
    formula_list,
    listed,
    pairs,
    schedule,
    table,
    text,
)
from routing.papers.schedule import schedules
from routing.papers.shopping import shopping
from routing.papers.wording import worded
from routing.papers.works.part import Part
from routing.papers.works.parts import works_parts
from routing.units import show

__all__ = ["crossings_chapter", "quantities_chapter", "tests_chapter"]

_SHEETS = {
    "Before water": "works hold points",
    "Thrust on the ends": "works ends",
    "Filling": "works filling stages",
    "What vents throw": "works spouts",
    "Flushing": "works flushing",
    "Pressure test": "works tests",
    "What the gauges should show": "works diagnosis",
    "Draining for the winter": "works drain down steps",
}
"""Sheets of the workbook that hold the whole of a table of the works."""
BEND_CLASSES = (11.25, 22.5, 45.0, 90.0, 180.0)
"""Angles by which bends are counted [deg]."""


def crossings_chapter(doc: Document) -> Iterator[Section]:
    """Return what the line crosses, whose consent it takes, and what nobody told the tool."""
    crossings = [
        {
            **each,
            "what": crossing_words(each),
            "consent": each.get("consent") or "none named",
            # Of an area that holds a pipe bridge the least cover says nothing.
            "cover_m": each["cover_m"] if each["kind"] in ("road", "stream", "service") else None,
            "length_m": each["length_m"] or None,
        }
        for each in doc.get("crossings") or ()
    ]
    yield listed(
        doc,
        "Crossings",
        crossings,
        [
            ("id", "no.", None),
            ("station_m", "station", 1),
            ("to_m", "to", 1),
            ("what", "what", None),
            ("angle_deg", "angle", 0),
            ("length_m", "length", 1),
            ("cover_m", "least cover", 2),
            ("top_m", "top of service below ground", 2),
            ("consent", "consent", None),
        ],
        sheet="crossings",
    )
    yield pairs(
        "What each crossing asks",
        [
            (plain(each["id"]), "; ".join(worded(words) for words in each.get("asks") or ()))
            for each in crossings
            if each.get("asks")
        ],
    )
    named: dict[str, set[str]] = {}
    for feature in sheet_features(doc):
        told = feature.get("properties") or {}
        named.setdefault(plain(told.get("kind") or "feature"), set()).add(
            plain(told.get("name") or "without a name")
        )
    yield facts(
        "What was shown on the plan",
        [(kind, ", ".join(sorted(names))) for kind, names in sorted(named.items())],
    )
    if not doc.get("crossings"):
        yield text(
            "No layer of parcels, roads, streams or services was held against the line, so no "
            "crossing is listed. Ask the owners, the road authority and those whose cables and "
            "pipes lie there before the permit, and put their consents beside this report."
        )


def _rule(doc: Document, test: Mapping[str, Any]) -> str:
    """Return the rule of the test with the standard that it is taken from."""
    sections = (doc.get("works") or {}).get("tests") or ()
    sources = sorted({plain(each["source"]) for each in sections if each["rule"] == test["rule"]})
    return ": ".join((plain(test["rule"]), *("; ".join(sources),) * bool(sources)))


def tests_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return how the line is filled, tested and emptied; the works plan tells it step by step."""
    units = units_of(doc)
    test = doc.get("test") or {}
    if isinstance(test, Mapping) and test.get("bottom_pressure_kpa") is not None:
        yield facts(
            "Pressure test",
            [
                ("At the lowest place", show(test["bottom_pressure_kpa"] * 1e3, "pressure", units)),
                ("Factor", f"{test['factor']:g}"),
                ("Rule", _rule(doc, test)),
            ],
        )
    for part in works_parts(doc):
        if part.title == "No plan of works":
            continue
        yield facts(part.title, part.facts)
        title = "" if part.facts else part.title
        split = _tested if part.title == "Pressure test" else _whole
        for heads, rows in split(part) if part.rows else ():
            numeric = [False] * len(heads)
            sheet = _SHEETS.get(part.title, "")
            yield table(title, heads, rows, numeric, units=units, sheet=sheet, most=24)
    yield formula_list("Worked example", formulas)


def _whole(part: Part) -> Iterator[tuple[list[str], list[list[str]]]]:
    yield list(part.heads), [list(row) for row in part.rows]


def _tested(part: Part) -> Iterator[tuple[list[str], list[list[str]]]]:
    """Yield the sections with their pressures, then by what rule, how long and with what water.

    An upright page is too narrow for all of it beside each other.
    """
    beside = ("rule", "held", "takes")
    kept = [head for head in part.heads if head not in ("", "from", "to", *beside)]
    rows = [dict(zip(part.heads, row, strict=True)) for row in part.rows]
    yield (
        ["", "from, to", *kept],
        [[row[""], f"{row['from']} to {row['to']}", *(row[head] for head in kept)] for row in rows],
    )
    yield ["", *beside], [[row[head] for head in ("", *beside)] for row in rows]


def quantities_chapter(doc: Document, formulas: Sequence[Formula]) -> Iterator[Section]:
    """Return what is dug, bought and cast, and what of it has a price."""
    rows = [[words, str(count)] for words, count in _fitting_counts(doc)]
    counts: dict[float, int] = {}
    for bend in doc.get("bends") or ():
        limit = next(each for each in BEND_CLASSES if float(bend["deflection_deg"]) <= each)
        counts[limit] = counts.get(limit, 0) + 1
    rows += [[f"bends up to {limit:g}°", str(counts[limit])] for limit in sorted(counts)]
    units = units_of(doc)
    yield table("Counts", ["what", "count"], rows, [False, True], units=units)
    yield schedule(doc, shopping(doc), sheet="shopping list")
    for made in schedules(doc):
        if made.title in ("Humps that could be dug through", "Depth against vents"):
            yield schedule(doc, made)
    bill = bill_of_document(doc)
    numeric = [False, False, True, False, True, True]
    yield table("Bill of quantities", bill.heads, bill.rows, numeric, units=units)
    yield facts("Cost", [(words, amount) for words, amount in bill.sums])
    yield text(bill.note if bill.rows else "")
    yield formula_list("", formulas)


def _fitting_counts(doc: Document) -> Iterable[tuple[str, int]]:
    """Return how many of each kind and size of vent and drain there are."""
    counts: dict[str, int] = {}
    for name in ("vents", "drains"):
        for item in doc[name]:
            size = item.get("size_mm")
            sized = "" if size is None else f" {size_text(size / 1e3, units_of(doc))}"
            words = f"{plain(item.get('kind') or name[:-1])}{sized}"
            counts[words] = counts.get(words, 0) + 1
    return counts.items()
