"""Every table that a study holds, found in the document itself: new ones appear by themselves."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from routing.fittings import sold_inches
from routing.papers.document import Document, column, plain, units_of
from routing.units import Kind, UnitSystem, convert, in_system, unit_of

__all__ = ["Column", "Subject", "quantity", "subjects"]

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


def subjects(doc: Document) -> tuple[Subject, ...]:
    """Return every table of a document, the figures first and the stations last."""
    units = units_of(doc)
    figures: list[tuple[Any, ...]] = []
    found: list[Subject] = []
    for key, value in doc.items():
        if key in LEFT_OUT or key == "stations":
            continue
        if isinstance(value, Mapping):
            figures += _figures(key, value, units)
            found += _nested(key, value, units)
        elif isinstance(value, list | tuple) and value:
            found.append(_table(key, value, units))
        elif value is not None and not isinstance(value, list | tuple):
            figures.append(("study", key.replace("_", " "), "", _plain(value)))
    titles = ("section", "quantity", "unit", "value")
    columns = tuple(Column(key=t, title=t, unit="", digits=None) for t in titles)
    first = Subject(name="figures", columns=columns, rows=tuple(figures))
    return (first, *found, _stations(doc, units))


def _figures(
    section: str, table: Mapping[str, Any], units: UnitSystem
) -> Iterable[tuple[Any, ...]]:
    for key, value in table.items():
        if isinstance(value, Mapping | list | tuple | np.ndarray):
            continue
        words, unit, factor, offset, _ = quantity(key, units)
        yield section.replace("_", " "), words, unit, _shown(value, factor, offset)


def _nested(section: str, table: Mapping[str, Any], units: UnitSystem) -> Iterable[Subject]:
    for key, value in table.items():
        if isinstance(value, list | tuple) and value:
            yield _table(f"{section}_{key}", value, units)
        elif isinstance(value, Mapping):
            rows = tuple(_figures(key, value, units))
            if rows:
                titles = ("section", "quantity", "unit", "value")
                columns = tuple(Column(key=t, title=t, unit="", digits=None) for t in titles)
                yield Subject(name=f"{section}_{key}".replace("_", " "), columns=columns, rows=rows)


def _table(name: str, entries: Sequence[Any], units: UnitSystem) -> Subject:
    """Return a list of objects, or of plain values, as a table."""
    rows = [entry if isinstance(entry, Mapping) else {name: entry} for entry in entries]
    keys = [
        key
        for key in dict.fromkeys(key for row in rows for key in row)
        if not any(_is_nested(row.get(key)) for row in rows)
    ]
    forms = [quantity(key, units) for key in keys]
    columns = tuple(
        Column(key=key, title=form[0], unit=form[1], digits=form[4])
        for key, form in zip(keys, forms, strict=True)
    )
    shown = tuple(
        tuple(
            _sold(row.get(key), units)
            if key.endswith("_mm")
            else _shown(row.get(key), form[2], form[3])
            for key, form in zip(keys, forms, strict=True)
        )
        for row in rows
    )
    return Subject(name=name.replace("_", " "), columns=columns, rows=shown)


def _is_nested(value: Any) -> bool:
    """Return whether a value is itself a table, which no cell can hold."""
    several = isinstance(value, list | tuple) and any(isinstance(item, Mapping) for item in value)
    return several or isinstance(value, Mapping)


def _stations(doc: Document, units: UnitSystem) -> Subject:
    keys = list(doc["stations"])
    columns, values = [], []
    for key in keys:
        words, unit, factor, offset, digits = quantity(key, units)
        columns.append(Column(key=key, title=words, unit=unit, digits=digits))
        numbers = (column(doc, key) * factor + offset).tolist()
        values.append([None if number != number else number for number in numbers])
    return Subject(name="stations", columns=tuple(columns), rows=tuple(zip(*values, strict=True)))


def _sold(size_mm: Any, units: UnitSystem) -> Any:
    """Return a bore in millimetres, or in inches as fittings are sold."""
    size = _plain(size_mm)
    return sold_inches(size / 1e3) if units == "us" and isinstance(size, int | float) else size


def _shown(value: Any, factor: float, offset: float) -> Any:
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
