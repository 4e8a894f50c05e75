"""Every table that a study holds, found in the document itself: new ones appear by themselves."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from routing.fittings import sold_inches
from routing.papers.document import Document, column, plain, units_of
from routing.papers.study_facts import currency
from routing.units import Kind, UnitSystem, convert, unit_of
from routing.us_units import in_system
from routing.value import dataclass

__all__ = ["AIR", "Column", "Subject", "as_shown", "quantity", "subjects", "with_air"]

LEAST_FIGURES = 3
"""Figures that a number keeps, however small it is [-]."""
LEFT_OUT = frozenset({"schema", "settings", "route", "generator", "lines", "alternatives"})
"""Sections that are no results."""

_SUFFIXES: tuple[tuple[str, Kind | None, float, str], ...] = (
    # suffix, kind, factor to SI, unit where there is no kind; the longest suffixes come first
    ("_kg_m3", None, 1.0, "kg/m³"),
    ("_m3_s", "flow", 1.0, ""),
    ("_m2_s", None, 1.0, "m²/s"),
    ("_m_s2", None, 1.0, "m/s²"),
    ("_kwh", None, 1.0, "kWh"),
    ("_m_km", None, 1.0, "m/km"),
    ("_kg_m", None, 1.0, "kg/m"),
    ("_m_s", "velocity", 1.0, ""),
    ("_n_m", None, 1.0, "N/m"),
    ("_knm", None, 1.0, "kN m"),
    ("_kn", None, 1.0, "kN"),
    ("_n", None, 1.0, "N"),
    ("_kn_m3", None, 1.0, "kN/m³"),
    ("_mpa", None, 1.0, "MPa"),
    ("_kpa", "pressure", 1000.0, ""),
    ("_m3", "volume", 1.0, ""),
    ("_m2", None, 1.0, "m²"),
    ("_mm", "diameter", 1e-3, ""),
    ("_kw", "power", 1000.0, ""),
    ("_kg", None, 1.0, "kg"),
    ("_deg", None, 1.0, "°"),
    ("_pct", None, 1.0, "%"),
    ("_c", "temperature", 1.0, ""),
    ("_s", None, 1.0, "s"),
    ("_m", "length", 1.0, ""),
)
AIR = "air_m3_s"
"""Free air, which the trade does not count in gallons."""
_MONEY = {
    *("price", "amount", "total", "contingency", "yearly", "worth_per_year", "cost"),
}
"""Members that are money; their unit is the user's currency."""
_WORKINGS = ("losses",)
"""Members that only the diagnosis of gauges reads."""
_OWN_UNIT = {"demand": 1, "limit": 1, "quantity": 1, "price": -1}
"""Members whose unit stands beside them in the row, and how they follow it."""
_SMALL = ("diameter", "wall", "roughness", "size")
"""Lengths that are read in millimetres or inches."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A column: its key in the document, the words above it, its unit (none for text, counts)."""

    key: str
    title: str
    unit: str
    digits: int | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A table in the study's units; a value is a number, text, a truth or None."""

    name: str
    columns: tuple[Column, ...]
    rows: tuple[tuple[Any, ...], ...]


def quantity(key: str, units: UnitSystem) -> tuple[str, str, float, float, int | None]:
    """Return words, unit, factor, offset and decimals in which a key's values are shown.

    >>> quantity("static_pressure_kpa", "metric")
    ('static pressure', 'kPa', 1.0, 0.0, 2)
    """
    if key in ("lon", "lat"):
        return {"lon": "longitude", "lat": "latitude"}[key], "°", 1.0, 0.0, 7
    if key == AIR:
        return "free air", unit_of("air", units), convert(1.0, "air", units), 0.0, 3
    for suffix, kind, to_si, raw in _SUFFIXES:
        if not key.endswith(suffix) or key == suffix:
            continue
        words = key[: -len(suffix)].replace("_", " ")
        if kind is None:
            unit, factor = in_system(raw, units)
            return words, unit, factor, 0.0, 3
        if kind == "length" and any(part in key for part in _SMALL):
            kind = "diameter"
        offset = convert(0.0, kind, units)
        factor = (convert(1.0, kind, units) - offset) * to_si
        digits = {"diameter": 2, "pressure": 2, "power": 3, "flow": 3}.get(kind, 3)
        return words, unit_of(kind, units), float(f"{factor:.15g}"), offset, digits
    return key.replace("_", " "), "", 1.0, 0.0, None


def as_shown(value: float, digits: int) -> tuple[float, int]:
    """Return a number as a cell shows it, and its decimals: more where it would lose its figures.

    >>> as_shown(315.94488189, 3), as_shown(0.0047418, 3)
    ((315.945, 3), (0.00474, 5))
    """
    if value and abs(value) < 1.0:
        least = LEAST_FIGURES - 1 - math.floor(math.log10(abs(value)))
        digits = next(n for n in range(digits, max(digits, least) + 1)
                      if n >= least or round(value, n) == round(value, least))  # fmt: skip
    return round(value, digits), digits


def with_air(sizes: Iterable[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return rows of vents whose capacity is named as what it is: air, in a unit of its own."""
    return [
        {AIR if key == "capacity_m3_s" else key: value for key, value in row.items()}
        for row in sizes
    ]


def subjects(doc: Document) -> tuple[Subject, ...]:
    """Return every table of a document, the figures first and the stations last."""
    units = units_of(doc)
    figures: list[tuple[Any, ...]] = []
    found: list[Subject] = []
    for key, value in doc.items():
        if key in LEFT_OUT or key == "stations":
            continue
        if isinstance(value, Mapping):
            figures += _figures(doc, key, value)
            found += _nested(doc, key, value)
        elif isinstance(value, list | tuple) and value:
            found.append(_table(doc, key, _ROWS.get(key, list)(value)))
        elif value is not None and not isinstance(value, list | tuple):
            figures.append(("study", key.replace("_", " "), "", _plain(value)))
    titles = ("section", "quantity", "unit", "value")
    columns = tuple(Column(key=t, title=t, unit="", digits=None) for t in titles)
    first = Subject(name="figures", columns=columns, rows=tuple(figures))
    return (first, *found, _stations(doc, units))


def _pieces(kits: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """Return the pieces of all kits, one in a row."""
    return [{"of": kit["of"], **piece} for kit in kits for piece in kit.get("pieces") or ()]


_ROWS: Mapping[str, Callable[[Sequence[Any]], list[Any]]] = {
    "kits": _pieces,
    "vent_sizes": with_air,
}
"""Lists whose rows are put otherwise than the document has them."""


def _form(doc: Document, key: str) -> tuple[str, str, float, float, int | None]:
    """Return words, unit, factor, offset and decimals of a member; money has its currency."""
    if key in _MONEY or key.endswith("per_kwh"):
        words = key.replace("kwh", "kilowatt hour").replace("_", " ")
        return words, currency(doc), 1.0, 0.0, None
    return quantity(key, units_of(doc))


def _bare(unit: str, values: Iterable[Any]) -> str:
    """Return a dash for the unit of numbers that have none; text and truths keep an empty one."""
    numbers = (isinstance(value, int | float) and not isinstance(value, bool) for value in values)
    return "–" if not unit and any(numbers) else unit


def _figures(doc: Document, section: str, table: Mapping[str, Any]) -> Iterable[tuple[Any, ...]]:
    for key, value in table.items():
        if isinstance(value, Mapping | list | tuple | np.ndarray):
            continue
        words, unit, factor, offset, digits = _form(doc, key)
        title = section.rpartition(".")[2].replace("_", " ")
        told = _shown(value, factor, offset)
        if isinstance(told, float) and digits is not None:
            told = as_shown(told, digits)[0]
        yield title, words, _bare(unit, [_plain(value)]), told


def _nested(doc: Document, section: str, table: Mapping[str, Any]) -> Iterable[Subject]:
    for key, value in table.items():
        path = f"{section}.{key}"
        if key in _WORKINGS:
            continue
        if isinstance(value, list | tuple) and value:
            yield _table(doc, path, value)
        elif isinstance(value, Mapping):
            rows = tuple(_figures(doc, path, value))
            if rows:
                titles = ("section", "quantity", "unit", "value")
                columns = tuple(Column(key=t, title=t, unit="", digits=None) for t in titles)
                yield Subject(name=_name(path), columns=columns, rows=rows)
            if side := _side_by_side(value):
                yield _table(doc, path, side)
            else:
                yield from _nested(doc, path, value)


def _side_by_side(table: Mapping[str, Any]) -> list[Mapping[str, Any]]:
    """Return lists of one length as rows; nothing where a member is no such list."""
    columns = {key: value for key, value in table.items() if isinstance(value, list | tuple)}
    lengths = {len(value) for value in columns.values()}
    if len(columns) < len(table) or len(lengths) != 1 or len(columns) < 2:
        return []
    return [dict(zip(columns, row, strict=True)) for row in zip(*columns.values(), strict=True)]


def _name(path: str) -> str:
    return path.replace("_", " ").replace(".", " ")


def _table(doc: Document, path: str, entries: Sequence[Any]) -> Subject:
    """Return a list of objects, or of plain values, as a table."""
    name, units = path.replace(".", "_"), units_of(doc)
    rows = [
        _with_unit(entry, units) if isinstance(entry, Mapping) else {name: _words(entry)}
        for entry in entries
    ]
    keys = [
        key
        for key in dict.fromkeys(key for row in rows for key in row)
        if not any(_is_nested(row.get(key)) for row in rows)
    ]
    forms = [_form(doc, key) for key in keys]
    shown = tuple(
        tuple(
            _sold(row.get(key), units)
            if key.endswith("_mm")
            else _shown(row.get(key), form[2], form[3])
            for key, form in zip(keys, forms, strict=True)
        )
        for row in rows
    )
    columns = tuple(
        Column(key=key, title=form[0], unit=_bare(form[1], values), digits=form[4])
        for key, form, values in zip(keys, forms, zip(*shown, strict=True), strict=True)
    )
    return Subject(name=_name(path), columns=columns, rows=shown)


def _words(entry: Any) -> Any:
    """Return a code in words, as it stands alone in its row; text of people stays as it is."""
    return entry.replace("_", " ") if isinstance(entry, str) and " " not in entry else entry


def _with_unit(row: Mapping[str, Any], units: UnitSystem) -> Mapping[str, Any]:
    """Return a row that names its own unit with its numbers in the reader's."""
    if not isinstance(row.get("unit"), str):
        return row
    unit, factor = in_system(row["unit"], units)
    told = {
        key: as_shown(float(row[key]) * factor**power, 3)[0]
        for key, power in _OWN_UNIT.items()
        if factor != 1.0 and row.get(key) is not None
    }
    return {**row, **told, "unit": unit}


def _is_nested(value: Any) -> bool:
    """Return whether a value is itself a table, which no cell can hold."""
    several = isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value)
    return several or isinstance(value, Mapping)


def _stations(doc: Document, units: UnitSystem) -> Subject:
    keys = list(doc["stations"])
    columns, values = [], []
    for key in keys:
        words, unit, factor, offset, digits = quantity(key, units)
        columns.append(Column(key=key, title=words, unit=unit or "–", digits=digits))
        numbers = (column(doc, key) * factor + offset).tolist()
        values.append([None if number != number else number for number in numbers])
    return Subject(name="stations", columns=tuple(columns), rows=tuple(zip(*values, strict=True)))


def _sold(size_mm: Any, units: UnitSystem) -> Any:
    """Return a bore in millimetres, or in inches as fittings are sold."""
    size = _plain(size_mm)
    return sold_inches(size / 1e3) if units == "us" and isinstance(size, int | float) else size


def _shown(value: Any, factor: float, offset: float) -> Any:
    if isinstance(value, list | tuple) and all(isinstance(each, int | float) for each in value):
        return ", ".join(f"{_shown(each, factor, offset):.10g}" for each in value)
    value = _plain(value)
    if isinstance(value, bool) or not isinstance(value, int | float):
        return value
    return value if factor == 1.0 and offset == 0.0 else round(value * factor + offset, 9)


def _plain(value: Any) -> Any:
    """Return a value that a cell can hold."""
    if isinstance(value, np.generic):
        value = value.item()
    if value is None or isinstance(value, bool | int):
        return value
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if isinstance(value, list | tuple):
        return ", ".join(plain(item) for item in value)
    return plain(value)
