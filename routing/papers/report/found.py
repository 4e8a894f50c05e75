"""Tables that other parts of a study bring: the checks in words, the rest as compact as can be."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

from routing.papers.document import Document, plain, units_of
from routing.papers.report.parts import Section, table
from routing.papers.subject import Column, Subject
from routing.papers.wording import worded
from routing.units import UnitSystem, show, unit_of
from routing.us_units import in_system, in_units

__all__ = ["checks_table", "compact_table"]

MOST_CHECKS = 24
"""Checks that are listed one by one; of more, the nearest of each requirement [-]."""
SMALL_M = 0.1
"""Lengths below this are printed in millimetres [m]."""
LONG_WORDS = 14
"""Text from which a column that always says the same is said once, below the table [-]."""


def checks_table(
    doc: Document,
    title: str,
    words: Sequence[str] = (),
    *,
    failed: bool | None = None,
    closest: bool = False,
) -> Section:
    """Return checks in the reader's units with rule and source, those that fail first.

    ``words`` keeps checks whose subject has one of them, ``failed`` those that fail or hold;
    ``closest`` keeps of each requirement only the one nearest to its limit, and counts the others.
    """
    units = units_of(doc)
    kept = [
        each
        for each in doc.get("checks") or ()
        if (failed is None or failed != bool(each["passed"]))
        and (not words or any(word in plain(each["subject"]) for word in words))
    ]
    counts: dict[tuple[str, str], int] = {}
    if closest or len(kept) > MOST_CHECKS:
        nearest: dict[tuple[str, str], Mapping[str, Any]] = {}
        for each in kept:
            key = plain(each["subject"]), plain(each["rule"])
            counts[key] = counts.get(key, 0) + 1
            if key not in nearest or _margin(each) < _margin(nearest[key]):
                nearest[key] = each
        kept = list(nearest.values())
    places = list(_known_places(doc))
    rows = []
    for item in kept:
        at = item.get("station_m")
        unit, factor = _unit(item, units)
        rule = in_units(plain(item["rule"]), units, _figures(item))
        many = counts.get((plain(item["subject"]), plain(item["rule"])), 1)
        rows.append(
            [
                _verdict(item) + (f", {many} places" if many > 1 else ""),
                f"{plain(item['subject'])}: {in_units(_place(item), units, places)}".rstrip(": "),
                "" if at is None else show(float(at), "station", units, unit=False),
                _number(item.get("demand"), factor),
                f"{plain(item.get('sense') or '')} {_number(item.get('limit'), factor)}".strip(),
                unit,
                f"{worded(rule)} ({worded(item['source'])})",
            ]
        )
    heads = ["", "what", f"station, {unit_of('station', units)}", "is", "may be", "", "rule"]
    numeric = [False, False, True, True, True, False, False]
    return table(title, heads, rows, numeric, units=units, sheet="checks")


def compact_table(subject: Subject, units: UnitSystem) -> Section:
    """Return a table of the document without empty columns; what never varies is said once."""
    shown: list[tuple[Column, list[Any]]] = []
    notes = []
    for number, column in enumerate(subject.columns):
        values = [row[number] for row in subject.rows]
        known = [value for value in values if value is not None and value != ""]
        if not known:
            continue
        words = {value for value in known if isinstance(value, str)}
        if len(values) > 2 and len(words) == 1 and len(known) == len(values):
            (only,) = words
            if len(only) >= LONG_WORDS:
                notes.append(f"{column.title}: {only}")
                continue
        shown.append((column, values))
    heads = [f"{c.title}, {c.unit}" if c.unit.strip("–") else c.title for c, _ in shown]
    numeric = [
        all(isinstance(v, int | float) and not isinstance(v, bool) for v in values if v is not None)
        for _, values in shown
    ]
    rows = [[_worded(values[index]) for _, values in shown] for index in range(len(subject.rows))]
    title = subject.name.capitalize()
    return table(title, heads, rows, numeric, "; ".join(notes), units=units, sheet=subject.name)


def _unit(check: Mapping[str, Any], units: UnitSystem) -> tuple[str, float]:
    """Return the unit of a check as it is printed, and by what its numbers are multiplied.

    >>> _unit({"unit": "Pa", "limit": 5e6, "demand": 3e6}, "metric")
    ('MPa', 1e-06)
    """
    unit = plain(check.get("unit") or "")
    largest = max(abs(float(check.get(key) or 0.0)) for key in ("demand", "limit"))
    smaller = {"Pa": ("MPa", 1e-6) if largest >= 1e6 else ("kPa", 1e-3)}
    if unit == "m" and 0.0 < largest < SMALL_M:
        smaller["m"] = ("mm", 1e3)
    shown, scale = smaller.get(
        unit, ({"-": "", "deg": "°", "m2": "m²", "m3": "m³"}.get(unit, unit), 1.0)
    )
    shown, factor = in_system(shown, units)
    return shown, factor * scale


def _known_places(doc: Document) -> Iterator[tuple[float, str]]:
    """Return stations by which checks may call what is judged, with their unit."""
    for item in (*(doc.get("pipes") or ()), *((doc.get("trench") or {}).get("spans") or ())):
        yield float(item["from_m"]), "m"
        yield float(item["to_m"]), "m"


def _figures(check: Mapping[str, Any]) -> Iterator[tuple[float | None, str]]:
    """Return what was judged, with its unit."""
    for key in ("demand", "limit"):
        yield check.get(key), plain(check.get("unit") or "")


def _place(check: Mapping[str, Any]) -> str:
    return plain(check.get("place") or "")


def _margin(check: Mapping[str, Any]) -> float:
    value = check.get("margin")
    return float("inf") if value is None else float(value)


def _verdict(check: Mapping[str, Any]) -> str:
    """Return one word: a check that fails says how much that matters, or that it is waived."""
    if check["passed"]:
        return "holds"
    if check["waived"]:
        return "waived"
    return "FAILS" if check["severity"] == "fault" else str(check["severity"])


def _number(value: Any, factor: float = 1.0) -> str:
    """Return a number with four figures, never as a power of ten.

    >>> _number(5000000.0), _number(0.0038651)
    ('5000000', '0.003865')
    """
    if value is None:
        return "–"
    shown = float(value) * factor
    if abs(shown) >= 1000.0:
        return f"{shown:.0f}".replace("-", "−")
    return f"{shown:.4g}".replace("-", "−")


def _worded(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{round(value, 3) + 0.0:.7g}".replace("-", "−")
    return plain(value).replace("_", " ")
