"""The bands beneath the profile: figures at round stations, one row a quantity."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, grade_words, has_flow, plain, units_of
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.profile import ProfileView
from routing.papers.station import station_text
from routing.papers.typeset import cap_height, shortened, text_width
from routing.units import Kind, convert, show, unit_of

__all__ = ["band_count", "draw_bands"]

METRIC_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Intervals of the figures, in the unit of stations."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A row of figures: its name, and what stands at a station."""

    name: str
    words: Callable[[float], str]
    upright: bool = False


def _bands(doc: Document) -> list[Band]:
    units, station = units_of(doc), column(doc, "station_m")

    def figures(name: str, words: str, kind: Kind, digits: int, scale: float = 1.0) -> Band:
        values = column(doc, name)

        def at(where: float) -> str:
            value = float(np.interp(where, station, values)) * scale
            return f"{convert(value, kind, units):.{digits}f}" if math.isfinite(value) else "–"

        return Band(name=f"{words}, {unit_of(kind, units)}", words=at)

    metres = 1.0 / convert(1.0, "station", units)
    rows = [
        Band(
            name=f"station, {unit_of('station', units)}",
            words=lambda at: station_text(doc, at, 0 if _whole(at / metres) else 1),
        ),
        figures("ground_m", "ground", "elevation", 2),
        figures("invert_m", "invert", "elevation", 2),
        figures("depth_m", "ground to invert", "depth", 2),
        figures("cover_m", "cover", "depth", 2),
        figures("static_pressure_kpa", "static", "pressure", 0 if units == "metric" else 1, 1000.0),
    ]
    if has_flow(doc):
        digits = 0 if units == "metric" else 1
        rows.append(figures("flowing_pressure_kpa", "flowing", "pressure", digits, 1000.0))
    if np.isfinite(column(doc, "surge_max_kpa")).any():
        rows.append(figures("surge_max_kpa", "highest surge", "pressure", 0, 1000.0))
    return rows


def _whole(value: float) -> bool:
    return abs(value - round(value)) < 1e-6


def band_count(doc: Document) -> int:
    """Return the number of bands: those of figures, the grade and the pipe."""
    return len(_bands(doc)) + 2


def draw_bands(ink: Drawing, doc: Document, view: ProfileView, paper: Paper) -> None:
    """Draw the bands beneath a profile."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "station", units)
    letter = paper.small
    rows = _bands(doc)
    widest = 1.25 * max(text_width("-1000.00", letter), 4.6 * letter)
    mm_per_unit = 1000.0 / view.scales.along * metres
    step = next((s for s in METRIC_STEPS if s * mm_per_unit >= widest), METRIC_STEPS[-1])
    first = math.ceil(view.from_m / metres / step - 1e-9)
    last = math.floor(view.to_m / metres / step + 1e-9)
    at = np.arange(first, last + 1, dtype=np.float64) * (step * metres)
    ends = [end for end in (view.from_m, view.to_m) if _far(end, at, widest / mm_per_unit * metres)]
    at = np.sort(np.concatenate([at, ends])).astype(np.float64)
    top = view.bottom + 0.6 * paper.letter
    high, base = paper.band_height, (paper.band_height + cap_height(letter)) / 2.0
    for number, band in enumerate(rows):
        y = top + number * high
        _frame(ink, view, paper, y, band.name)
        for where in at.tolist():
            x = float(view.x(where))
            words = band.words(where)
            half = text_width(words, letter) / 2.0
            x = min(max(x, view.left + half + 0.4), view.right - half - 0.4)
            ink.text(x, y + base, words, letter, anchor="middle", layer="band")
    for where in at.tolist():
        x = float(view.x(where))
        ink.line(x, view.top, x, view.bottom, "hair")
        ink.line(x, view.bottom, x, top, "tick")
    y = top + len(rows) * high
    _grades(ink, doc, view, paper, y)
    _pipes(ink, doc, view, paper, y + high)


def _far(end: float, at: FloatArray, least: float) -> bool:
    return len(at) == 0 or float(np.min(np.abs(at - end))) >= least


def _frame(ink: Drawing, view: ProfileView, paper: Paper, y: float, name: str) -> None:
    ink.rect(Box(0.0, y, view.left, y + paper.band_height), "class0")
    ink.rect(Box(view.left, y, view.right, y + paper.band_height), "class0")
    size = paper.small
    name = shortened(name, size, view.left - 1.2)
    base = y + (paper.band_height + cap_height(size)) / 2.0
    ink.text(0.6, base, name, size, layer="bandname")


def _grades(ink: Drawing, doc: Document, view: ProfileView, paper: Paper, y: float) -> None:
    """Give grade and length of each straight, as many of the two as there is room for."""
    units = units_of(doc)
    _frame(ink, view, paper, y, f"grade, %; length, {unit_of('station', units)}")
    size = paper.small
    base = y + (paper.band_height + cap_height(size)) / 2.0
    for straight in doc["grades"]:
        low = max(float(straight["from_m"]), view.from_m)
        high = min(float(straight["to_m"]), view.to_m)
        if low >= high:
            continue
        left, right = float(view.x(low)), float(view.x(high))
        ink.line(left, y, left, y + paper.band_height, "fine")
        grade, length = grade_words(straight, units)
        for words in (f"{grade}; {length}", grade):
            if text_width(words, size) < right - left - 0.6:
                ink.text((left + right) / 2.0, base, words, size, anchor="middle", layer="band")
                break


def _pipes(ink: Drawing, doc: Document, view: ProfileView, paper: Paper, y: float) -> None:
    """Show which pipe lies where, and spans, in one band."""
    _frame(ink, view, paper, y, "pipe")
    size, bottom = paper.small, y + paper.band_height
    base = y + (paper.band_height + cap_height(size)) / 2.0
    outside = (doc.get("trench") or {}).get("outside_diameter_m")
    assumed = show(outside, "diameter", units_of(doc))
    pipes = doc.get("pipes") or [
        {
            "from_m": view.from_m,
            "to_m": view.to_m,
            "label": f"not chosen; outside diameter {assumed} assumed",
        }
    ]
    for number, pipe in enumerate(pipes):
        low, high = max(float(pipe["from_m"]), view.from_m), min(float(pipe["to_m"]), view.to_m)
        if low >= high:
            continue
        left, right = float(view.x(low)), float(view.x(high))
        ink.rect(Box(left, y, right, bottom), f"class{number % 2}")
        words = plain(pipe["label"])
        while words and text_width(words, size) > right - left - 1.0:
            words = words[:-2].rstrip() + "…" if len(words) > 4 else ""
        ink.text((left + right) / 2.0, base, words, size, anchor="middle", layer="band")
