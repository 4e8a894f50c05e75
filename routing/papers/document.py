"""The study document as the papers read it: fresh with arrays, or from disk with lists."""

from __future__ import annotations

import unicodedata
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.errors import StudyFileError
from routing.units import UnitSystem, convert

__all__ = [
    "Document",
    "at_station",
    "column",
    "file_stem",
    "grade_words",
    "has_flow",
    "near_meridian",
    "plain",
    "units_of",
]

Document = Mapping[str, Any]
"""A study document: the keys of ``study.json``."""


def column(doc: Document, name: str) -> FloatArray:
    """Return a column of the stations table as float64; what is missing is NaN.

    A document without the column (no flow, for example) gives NaN throughout.

    >>> column({"stations": {"station_m": [0, 5], "rating_kpa": [None, 600]}}, "rating_kpa")
    array([ nan, 600.])
    """
    stations = doc.get("stations")
    if not isinstance(stations, Mapping) or "station_m" not in stations:
        raise StudyFileError(
            "The study holds no stations.", "Run the study again and export the new file."
        )
    count = len(stations["station_m"])
    values = stations.get(name)
    if values is None:
        return np.full(count, np.nan)
    if len(values) != count:
        raise StudyFileError(
            f"The study's column {name!r} has {len(values)} values for {count} stations.",
            "Run the study again and export the new file.",
        )
    return np.array(values, dtype=np.float64)


def at_station(doc: Document, name: str, station_m: float) -> float | None:
    """Return a column's value at a station, straight between its neighbours; None if missing."""
    value = float(np.interp(station_m, column(doc, "station_m"), column(doc, name)))
    return value if np.isfinite(value) else None


def near_meridian(lon: Any, reference: float) -> Any:
    """Return longitudes on the same turn of the globe as ``reference``.

    A line over the 180th meridian stays in one piece that way, beyond 180 degrees if need be.

    >>> near_meridian(-179.9, 179.8)
    180.1
    """
    shifted = lon + 360.0 * np.round((reference - lon) / 360.0)
    return shifted if np.ndim(lon) else round(float(shifted), 9)


def has_flow(doc: Document) -> bool:
    """Return whether the study was made with a design flow."""
    return bool(doc.get("flow")) and bool(np.isfinite(column(doc, "flowing_head_m")).any())


def units_of(doc: Document) -> UnitSystem:
    """Return the unit system in which the study's papers speak."""
    return "us" if doc.get("units") == "us" else "metric"


def grade_words(straight: Mapping[str, Any], units: UnitSystem) -> tuple[str, str]:
    """Return grade in percent and plan length of a straight, both as a crew sets them out.

    >>> grade_words({"from_m": 0.0, "to_m": 41.26, "grade": -0.12345}, "metric")
    ('−12.3', '41.3')
    """
    length = convert(float(straight["to_m"]) - float(straight["from_m"]), "station", units)
    return f"{100.0 * float(straight['grade']):+.1f}".replace("-", "−"), f"{length:.1f}"


def plain(text: object) -> str:
    """Return text without the control characters that no XML or HTML file may hold."""
    text = str(text)
    if text.isprintable():
        return text
    return "".join(
        " " if char in "\t\n\r" else char
        for char in text
        if char in "\t\n\r"
        or not (unicodedata.category(char) in ("Cc", "Cs") or char in "\ufffe\uffff")
    )


def file_stem(name: str) -> str:
    """Return a name that is safe as part of a file name on any system."""
    kept = "".join(char if char.isalnum() or char in "-_" else "-" for char in name)
    return "-".join(part for part in kept.split("-") if part)[:60] or "study"
