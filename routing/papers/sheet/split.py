"""Scales and sheets: how much of the line each sheet holds, and at which round scale."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, units_of
from routing.papers.given import sheet_text
from routing.papers.sheet.paper import Paper
from routing.units import convert
from routing.value import dataclass

__all__ = [
    "Piece",
    "Scales",
    "Window",
    "choose",
    "first_at_least",
    "fit_scale",
    "scale_text",
    "windows",
]

METRIC_ALONG = (100, 200, 250, 500, 1000, 2000, 2500, 5000, 10_000, 20_000, 25_000, 50_000)
US_ALONG = (120, 240, 360, 480, 600, 720, 1200, 2400, 3600, 4800, 6000, 12_000, 24_000, 60_000)
"""Round scales: 1 in to 10, 20, 30, 40, 50, 60, 100 ft and tens of these in the US."""
METRIC_UP = (50, 100, 200, 250, 500, 1000)
US_UP = (60, 120, 240, 360, 600, 1200)
"""Vertical scales; the last still shows a metre as a millimetre (a foot as 0.25 mm)."""
WORKING = {"metric": (1000, 2000), "us": (600, 1200)}
"""Scales of working sheets for lines too long for one: common practice, no source."""
MOST_AT_FINE = 8
"""Sheets up to which a long line is drawn at the finer working scale [-]; common practice."""
HALF_FULL = 0.65
"""Two sheets that are less full than this become three at a finer scale [-]."""
MOST_BREAKS = 2
"""Breaks of the profile's datum on a sheet before a coarser vertical scale is taken [-]."""
MOST_EXAGGERATION = 10.0
"""Most that a sheet of gentle ground is stretched upwards [-]; common practice, no source."""
LOW_PLAN = 0.22
"""Most of the plan's height that is kept for labels above the line, and again below it [-]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scales:
    """Denominators of the scales along and up."""

    along: int
    up: int

    @property
    def exaggeration(self) -> float:
        """Return how many times the profile is stretched upwards."""
        return self.along / self.up


@dataclass(frozen=True, slots=True, kw_only=True)
class Window:
    """A stretch of profile with one datum: the elevation of its lower edge [m]."""

    from_m: float
    to_m: float
    datum_m: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """What one sheet shows of the line."""

    from_m: float
    to_m: float
    turn_rad: float
    """Turn of the plan that brings the line level."""
    middle: tuple[float, float]
    """Place of the local plane in the middle of the plan [m]."""
    scales: Scales
    windows: tuple[Window, ...] = ()


def choose(
    doc: Document, x: FloatArray, y: FloatArray, paper: Paper, plot_height: float
) -> tuple[Piece, ...]:
    """Return the sheets of a study; ``x``, ``y`` are its stations in plan [m].

    All have one scale along. A sheet of gentle ground is stretched further up than the others.
    """
    station = column(doc, "station_m")
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "station", units)
    rows = METRIC_ALONG if units == "metric" else US_ALONG
    asked = sheet_text(doc, "scale")
    fine, coarse = WORKING[units]
    if asked:
        along = int(asked.partition(":")[2])
        pieces = _pieces(station, x, y, paper, along, metres)
    else:
        along = next((s for s in rows if _one(station, x, y, paper, s)), rows[-1])
        pieces = _pieces(station, x, y, paper, along, metres)
        if along > fine:
            along, pieces = fine, _pieces(station, x, y, paper, fine, metres)
            if len(pieces) > MOST_AT_FINE:
                along, pieces = coarse, _pieces(station, x, y, paper, coarse, metres)
            for finer in reversed([scale for scale in rows if scale < along]):
                found = _pieces(station, x, y, paper, finer, metres)
                reach = max(piece.to_m - piece.from_m for piece in pieces)
                full = reach * 1000.0 / along > HALF_FULL * paper.profile_width
                if len(found) > len(pieces) + (len(pieces) == 2 and not full):
                    break
                along, pieces = finer, found
    return _upward(doc, pieces, plot_height, METRIC_UP if units == "metric" else US_UP)


def fit_scale(units: str, length_m: float, room_mm: float) -> int:
    """Return the finest round scale at which a length fits into some room of the sheet.

    >>> fit_scale("metric", 1167.0, 250.0)
    5000
    """
    rows = METRIC_ALONG if units == "metric" else US_ALONG
    return first_at_least(rows, length_m * 1000.0 / room_mm)


def scale_text(units: str, along: int) -> str:
    """Return a scale as the title block states it.

    >>> scale_text("metric", 1000), scale_text("us", 600)
    ('1:1000', '1 in = 50 ft')
    """
    return f"1:{along}" if units == "metric" else f"1 in = {along / 12.0:g} ft"


def first_at_least(rows: Sequence[int], least: float) -> int:
    """Return the first of rising scales that is at least ``least``, else one made round for it."""
    for value in rows:
        if value >= least * (1.0 - 1e-9):
            return value
    power = 10 ** math.floor(math.log10(least))
    return int(next(power * m for m in (1, 2, 5, 10) if power * m >= least))


def windows(
    station: FloatArray,
    low: FloatArray,
    high: FloatArray,
    from_m: float,
    to_m: float,
    room_m: float,
) -> tuple[Window, ...]:
    """Return stretches of profile that each fit into ``room_m`` of elevation, the fewest.

    ``low`` and ``high`` bound what is drawn at each station. A stretch ends where the next piece
    between stations would no longer fit; a piece steeper than the room is cut within.
    """
    at = np.concatenate([[from_m], station[(station > from_m) & (station < to_m)], [to_m]])
    share = np.arange(3) / 3.0
    fine = np.unique((at[:-1, np.newaxis] + np.diff(at)[:, np.newaxis] * share).ravel())
    at = np.append(fine[fine < to_m], to_m)
    bottom, top = np.interp(at, station, low), np.interp(at, station, high)
    found: list[Window] = []
    start = 0
    while start < len(at) - 1:
        lowest = np.minimum.accumulate(bottom[start:])
        highest = np.maximum.accumulate(top[start:])
        fits = int(np.searchsorted(highest - lowest, room_m, side="right")) - 1
        end = min(start + max(fits, 1), len(at) - 1)
        middle = (lowest[end - start] + highest[end - start]) / 2.0
        found.append(
            Window(
                from_m=float(at[start]), to_m=float(at[end]), datum_m=float(middle - room_m / 2.0)
            )
        )
        start = end
    return tuple(found)


def _one(station: FloatArray, x: FloatArray, y: FloatArray, paper: Paper, along: int) -> bool:
    reach = paper.profile_width * along / 1000.0
    length = float(station[-1])
    if length > reach:
        return False
    return _plan(station, x, y, 0.0, length, paper, along) is not None


def _pieces(
    station: FloatArray, x: FloatArray, y: FloatArray, paper: Paper, along: int, metres: float
) -> tuple[Piece, ...]:
    """Return the sheets: as long as profile and plan allow, broken at round stations.

    ``metres`` is the unit in which stations are round [m].
    """
    length = float(station[-1])
    reach = paper.profile_width * along / 1000.0
    step = _round_step(reach / metres) * metres
    count = math.ceil(length / (math.floor(reach / step) * step) - 1e-9)

    def cut(count: int) -> tuple[Piece, ...]:
        even = math.ceil(length / max(count, 1) / step - 1e-9) * step
        pieces: list[Piece] = []
        start = 0.0
        while start < length - 1e-6:
            end = min(start + min(even, reach), length)
            while True:
                piece = _plan(station, x, y, start, end, paper, along)
                if piece is not None:
                    break
                shorter = start + (math.ceil((end - start) / step - 1e-9) - 1) * step
                end = shorter if shorter > start else (start + end) / 2.0
            pieces.append(piece)
            start = end
        return tuple(pieces)

    found = cut(count)
    # Where a plan had no room for a whole piece, a stub is left at the end: share it out.
    shared = cut(len(found))
    pieces = list(shared if len(shared) == len(found) else found)
    if len(pieces) > 1:
        first, last = pieces[-2:]
        middle = math.ceil((first.from_m + last.to_m) / 2.0 / step) * step
        halves = [
            _plan(station, x, y, *ends, paper, along)
            for ends in ((first.from_m, middle), (middle, last.to_m))
            if ends[0] < ends[1]
        ]
        if middle - first.from_m <= reach and len(halves) == 2 and None not in halves:
            pieces[-2:] = [half for half in halves if half is not None]
    return tuple(pieces)


def _round_step(reach: float) -> float:
    return float(10.0 ** math.floor(math.log10(reach / 10.0)))


def _plan(
    station: FloatArray,
    x: FloatArray,
    y: FloatArray,
    from_m: float,
    to_m: float,
    paper: Paper,
    along: int,
) -> Piece | None:
    """Return a piece whose plan fits the sheet, its ends level if it can be; None if it cannot."""
    at = np.concatenate([[from_m], station[(station > from_m) & (station < to_m)], [to_m]])
    px, py = np.interp(at, station, x), np.interp(at, station, y)
    chord = math.atan2(float(py[-1] - py[0]), float(px[-1] - px[0]))
    margin = 6.0 * paper.letter
    wide = (paper.frame_width - 2.0 * margin) * along / 1000.0
    # A low plan has no room for labels on both sides of the line: they go where it bends away.
    margin = min(margin, LOW_PLAN * paper.plan_height)
    high = (paper.plan_height - 2.0 * margin) * along / 1000.0

    for turns in (np.array([-chord]), _SWINGS - chord):
        u = np.outer(np.cos(turns), px) - np.outer(np.sin(turns), py)
        v = np.outer(np.sin(turns), px) + np.outer(np.cos(turns), py)
        left, right, low, top = u.min(axis=1), u.max(axis=1), v.min(axis=1), v.max(axis=1)
        best = int(np.argmin(top - low))
        if right[best] - left[best] <= wide and top[best] - low[best] <= high:
            turn = float(turns[best])
            across, up = float(left[best] + right[best]) / 2.0, float(low[best] + top[best]) / 2.0
            middle = (
                across * math.cos(turn) + up * math.sin(turn),
                -across * math.sin(turn) + up * math.cos(turn),
            )
            flat = Scales(along=along, up=along)
            return Piece(from_m=from_m, to_m=to_m, turn_rad=turn, middle=middle, scales=flat)
    return None


_SWINGS = np.radians(np.arange(-60.0, 61.0, 5.0))
"""Turns from the chord that are tried to make a bent line fit [rad]."""


def _upward(
    doc: Document, pieces: tuple[Piece, ...], plot_height: float, rows: Sequence[int]
) -> tuple[Piece, ...]:
    """Return the pieces with their vertical scales and windows.

    The set has the finest scale with few breaks of datum; a piece that fits whole into a finer one
    has that. A scale that the settings ask for holds for all.
    """
    station = column(doc, "station_m")
    ground, pipe = column(doc, "ground_m"), column(doc, "pipe_m")
    radius = float((doc.get("trench") or {}).get("outside_diameter_m") or 0.2)
    low = np.minimum(ground, pipe) - radius - 0.3
    high = np.maximum(ground, pipe) + radius + 0.3

    def cut(piece: Piece, up: int) -> tuple[Window, ...]:
        return windows(station, low, high, piece.from_m, piece.to_m, plot_height * up / 1000.0)

    def few(up: int) -> bool:
        return all(len(cut(piece, up)) <= MOST_BREAKS + 1 for piece in pieces)

    asked = sheet_text(doc, "vertical_scale")
    own = int(asked.partition(":")[2]) if asked else None
    common = own or next((up for up in rows if few(up)), rows[-1])
    found = []
    for piece in pieces:
        along = piece.scales.along
        finer = () if own else [up for up in rows if along / MOST_EXAGGERATION <= up < common]
        up = next((up for up in finer if len(cut(piece, up)) == 1), common)
        scales = Scales(along=along, up=up)
        found.append(dataclasses.replace(piece, scales=scales, windows=cut(piece, up)))
    return tuple(found)
