"""The bands beneath the profile: figures at round stations, one row a quantity."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, grade_words, has_flow, plain, units_of
from routing.papers.layout import spread
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.profile import ProfileView
from routing.papers.station import station_text
from routing.papers.typeset import cap_height, shortened, text_width
from routing.units import Kind, UnitSystem, convert, show, unit_of
from routing.value import dataclass

__all__ = ["band_count", "draw_bands"]

METRIC_STEPS = (1.0, 2.0, 5.0, 10.0, 20.0, 25.0, 50.0, 100.0, 200.0, 500.0, 1000.0)
"""Intervals of the figures, in the unit of stations."""
LOW_MM = 250.0
"""Paper that is lower leaves bands out, so that the profile keeps its height [mm]."""
GRADE_BANDS = 2
"""Bands that grade and length of the straights take together [-]."""

Stretch = tuple[float, float, str]


@dataclass(frozen=True, slots=True, kw_only=True)
class Band:
    """A row of figures: its name, and what stands at a station."""

    name: str
    words: Callable[[float], str]
    upright: bool = False


def _bands(doc: Document, low: bool) -> list[Band]:
    """Return the rows of figures; on low paper surge stands on the key profile alone."""
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
    for name, words in (("surge_max_kpa", "highest surge"), ("surge_min_kpa", "lowest surge")):
        if not low and np.isfinite(column(doc, name)).any():
            rows.append(figures(name, words, "pressure", 0, 1000.0))
    return rows


def _whole(value: float) -> bool:
    return abs(value - round(value)) < 1e-6


def band_count(doc: Document, paper: Paper) -> int:
    """Return the number of bands: figures, two of the grade, straights, breaks, pipe, its test."""
    low = paper.height < LOW_MM
    more = 0 if low else 2 + bool(_tests(doc))
    return len(_bands(doc, low)) + GRADE_BANDS + 1 + more


def draw_bands(ink: Drawing, doc: Document, view: ProfileView, paper: Paper) -> None:
    """Draw the bands beneath a profile."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "station", units)
    letter = paper.small
    low = paper.height < LOW_MM
    rows = _bands(doc, low)
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
        free = view.left
        for where in at.tolist():
            words = band.words(where)
            half = text_width(words, letter) / 2.0
            x = min(max(float(view.x(where)), view.left + half + 0.4), view.right - half - 0.4)
            if x - half < free:  # a short end of the line holds fewer figures
                continue
            ink.text(x, y + base, words, letter, anchor="middle", layer="band")
            free = x + half + 0.3
    for where in at.tolist():
        x = float(view.x(where))
        ink.line(x, view.top, x, view.bottom, "hair")
        ink.line(x, view.bottom, x, top, "tick")
    y = top + len(rows) * high
    short = _grades(ink, doc, view, paper, y)
    y += GRADE_BANDS * high
    if not low:
        _numbers(ink, view, paper, y, short)
        _breaks(ink, doc, view, paper, y + high)
        y += 2.0 * high
    _stretches(ink, view, paper, y, "pipe, its rating", _pipes(doc, view))
    if (tests := _tests(doc)) and not low:
        _stretches(ink, view, paper, y + high, "test section", tests)


def _far(end: float, at: FloatArray, least: float) -> bool:
    return len(at) == 0 or float(np.min(np.abs(at - end))) >= least


def _frame(
    ink: Drawing, view: ProfileView, paper: Paper, y: float, name: str, rows: int = 1
) -> None:
    bottom = y + rows * paper.band_height
    ink.rect(Box(0.0, y, view.left, bottom), "class0")
    ink.rect(Box(view.left, y, view.right, bottom), "class0")
    size = paper.small
    for number, words in enumerate(name.split("\n")):
        said = shortened(words, size, view.left - 1.2)
        base = y + number * paper.band_height + (paper.band_height + cap_height(size)) / 2.0
        with ink.reading(Box(0.0, y, view.left, bottom)):
            ink.text(0.6, base, said, size, layer="bandname")


def _grades(
    ink: Drawing, doc: Document, view: ProfileView, paper: Paper, y: float
) -> list[tuple[float, int, int]]:
    """Give grade and length of each straight one above the other, upright where it is short.

    Return where not both have room: the middle of straights side by side, first and last number.
    """
    short: list[tuple[float, int, int]] = []
    units, size, high = units_of(doc), paper.small, paper.band_height
    _frame(ink, view, paper, y, f"grade, %\nlength, {unit_of('station', units)}", GRADE_BANDS)
    base = y + (high + cap_height(size)) / 2.0
    for number, straight in enumerate(doc["grades"], start=1):
        low = max(float(straight["from_m"]), view.from_m)
        end = min(float(straight["to_m"]), view.to_m)
        if low >= end:
            continue
        left, right = float(view.x(low)), float(view.x(end))
        ink.line(left, y, left, y + GRADE_BANDS * high, "fine")
        words, middle = grade_words(straight, units), (left + right) / 2.0
        if max(text_width(each, size) for each in words) < right - left - 0.6:
            for row, each in enumerate(words):
                ink.text(middle, base + row * high, each, size, anchor="middle", layer="band")
            continue
        if right - left > 1.2 * cap_height(size) + 0.3 * size:
            foot = y + (GRADE_BANDS * high + text_width(words[0], size)) / 2.0
            ink.text(middle + cap_height(size) / 2.0, foot, words[0], size, anchor="up",
                     layer="band")  # fmt: skip
        if short and short[-1][2] == number - 1:
            short[-1] = (short[-1][0], short[-1][1], number)
        else:
            short.append((middle, number, number))
    return short


def _numbers(
    ink: Drawing, view: ProfileView, paper: Paper, y: float, short: Sequence[tuple[float, int, int]]
) -> None:
    """Number the straights that are too short for a figure as their schedule does, on leaders."""
    size = paper.small
    _frame(ink, view, paper, y, "straights, no.")
    told = list(short)
    while told:
        words = [f"{low}" if low == end else f"{low}–{end}" for _, low, end in told]
        gap = max(text_width(each, size) for each in words) + 0.4 * size
        if len(told) * gap <= view.right - view.left:
            break
        # Too many for the sheet: each pair becomes one, from its first number to its last.
        pairs = zip(told[::2], [*told[1::2], told[-1]], strict=False)
        told = [(first[0], first[1], last[2]) for first, last in pairs]
    else:
        return
    _led(ink, view, paper, y, [(at, each) for (at, *_), each in zip(told, words, strict=True)])


def _breaks(ink: Drawing, doc: Document, view: ProfileView, paper: Paper, y: float) -> None:
    """Give the level of the centreline at each break of grade, the sharpest where all have no room.

    The others stand in the schedule of straights.
    """
    size, units = paper.small, units_of(doc)
    _frame(ink, view, paper, y, f"centre at breaks, {unit_of('elevation', units)}")
    straights = list(doc["grades"])
    sharp = [abs(b["grade"] - a["grade"]) for a, b in itertools.pairwise(straights)]
    told = [
        (change, float(view.x(float(each["from_m"]))), float(each["from_z_m"]))
        for change, each in zip([math.inf, *sharp], straights, strict=True)
        if view.from_m - 1e-6 <= float(each["from_m"]) <= view.to_m + 1e-6
    ]
    words = {at: f"{convert(level, 'elevation', units):.2f}" for _, at, level in told}
    if not told:
        return
    gap = max(text_width(each, size) for each in words.values()) + 0.5 * size
    most = int((view.right - view.left) / gap)
    kept = sorted(at for _, at, _ in sorted(told, reverse=True)[:most])
    _led(ink, view, paper, y, [(at, words[at]) for at in kept])


def _led(
    ink: Drawing, view: ProfileView, paper: Paper, y: float, told: Sequence[tuple[float, str]]
) -> None:
    """Write words into a band side by side, each with a line from its place [mm]."""
    size, high = paper.small, paper.band_height
    gap = max((text_width(words, size) for _, words in told), default=0.0) + 0.4 * size
    half = gap / 2.0
    places = spread([at for at, _ in told], gap, view.left + half, view.right - half)
    for (at, words), place in zip(told, places, strict=True):
        ink.line(at, y, place, y + 0.25 * high, "fine")
        base = y + 0.6 * high + cap_height(size) / 2.0
        ink.text(place, base, words, size, anchor="middle", layer="band")


def _pipes(doc: Document, view: ProfileView) -> list[Stretch]:
    """Return which pipe lies where, with what it is rated for."""
    units = units_of(doc)
    pipes = doc.get("pipes") or ()
    if not pipes:
        assumed = show((doc.get("trench") or {}).get("outside_diameter_m"), "diameter", units)
        words = f"not chosen; outside diameter {assumed} assumed"
        return [(view.from_m, view.to_m, words)]
    return [
        (float(pipe["from_m"]), float(pipe["to_m"]), f"{plain(pipe['label'])}{_rated(pipe, units)}")
        for pipe in pipes
    ]


def _rated(pipe: Mapping[str, Any], units: UnitSystem) -> str:
    rating = pipe.get("derated_rating_kpa")
    return "" if rating is None else f"; rated {show(float(rating) * 1e3, 'pressure', units)}"


def _tests(doc: Document) -> list[Stretch]:
    """Return the sections that are tested one by one, with the pressures of the test."""
    units = units_of(doc)
    return [
        (
            float(test["from_m"]),
            float(test["to_m"]),
            f"{plain(test['id'])}: {show(float(test['bottom_kpa']) * 1e3, 'pressure', units)} at "
            f"the foot, {show(max(float(test['top_kpa']), 0.0) * 1e3, 'pressure', units)} at the "
            "top",
        )
        for test in (doc.get("works") or {}).get("tests") or ()
    ]


def _stretches(
    ink: Drawing, view: ProfileView, paper: Paper, y: float, name: str, told: Sequence[Stretch]
) -> None:
    """Show in one band what holds from place to place."""
    _frame(ink, view, paper, y, name)
    size, bottom = paper.small, y + paper.band_height
    base = y + (paper.band_height + cap_height(size)) / 2.0
    for number, (from_m, to_m, said) in enumerate(told):
        low, high = max(from_m, view.from_m), min(to_m, view.to_m)
        if low >= high:
            continue
        left, right = float(view.x(low)), float(view.x(high))
        ink.rect(Box(left, y, right, bottom), f"class{number % 2}")
        words = shortened(said, size, right - left - 1.0)
        if len(words) > 4:
            ink.text((left + right) / 2.0, base, words, size, anchor="middle", layer="band")
