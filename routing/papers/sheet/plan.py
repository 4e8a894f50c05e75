"""The plan: the line turned level, with stations, bends, fittings, contours, grid and north."""

from __future__ import annotations

import base64
import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, plain, units_of
from routing.papers.layout import nice_step
from routing.papers.plane import LocalPlane, SurveySystem
from routing.papers.sheet.features import draw_features, draw_survey
from routing.papers.sheet.furniture import draw_furniture, draw_grid
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.marks import leg_words, plan_marks
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.revision import changed, draw_clouds
from routing.papers.sheet.split import Piece
from routing.papers.sheet.view import REACH, Placed, PlanView, letter
from routing.papers.station import station_text
from routing.units import UnitSystem, convert, show

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["draw_contours", "draw_plan", "draw_relief", "letter_levels"]

SPHERE_M = 6_378_137.0
"""Radius of the sphere of the projection of web maps [m]."""
CLOSE = ("support", "anchor", "tap", "relief", "level")
"""Signs whose names stand close by or only in the schedule: they come in rows."""
LEVEL_MM = 130.0
"""Length of a contour on the sheet for which its level is lettered once [mm]."""
MATCH_MM = 14.0
"""Half the length of a match line on the plan [mm]."""


class Level(NamedTuple):
    """The level of a contour in words, and where on the sheet it may stand [mm]."""

    words: str
    places: Sequence[tuple[float, float]]


class OnSheet(NamedTuple):
    """The line as it lies on a sheet: stations [m] and their places there [mm], (n,)."""

    station_m: FloatArray
    x: FloatArray
    y: FloatArray
    mm_per_m: float

    def at(self, station_m: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return the places of any stations [mm]."""
        own = self.station_m
        return np.interp(station_m, own, self.x), np.interp(station_m, own, self.y)

    def part(self, from_m: float, to_m: float) -> tuple[FloatArray, FloatArray]:
        """Return the places of a stretch, its ends too [mm]."""
        own = self.station_m
        return self.at(np.concatenate([[from_m], own[(own > from_m) & (own < to_m)], [to_m]]))

    def heading(self, station_m: float) -> tuple[float, float, float, float]:
        """Return a place on the sheet [mm] and the unit vector of the line there."""
        own = self.station_m
        ex, ey = self.at(np.clip([station_m - 1.0, station_m + 1.0], own[0], own[-1]))
        far = math.hypot(float(ex[1] - ex[0]), float(ey[1] - ey[0])) or 1.0
        px, py = self.at(np.array(station_m))
        return float(px), float(py), float(ex[1] - ex[0]) / far, float(ey[1] - ey[0]) / far


def draw_plan(
    ink: Drawing,
    doc: Document,
    piece: Piece,
    paper: Paper,
    plane: LocalPlane,
    survey: SurveySystem,
    ground: tuple[Relief | None, Sequence[DrawnContour]],
) -> None:
    """Draw the plan of one sheet along its top, on the relief and contours of the ground."""
    relief, contours = ground
    box = Box(0.0, 0.0, paper.frame_width, paper.plan_height)
    view = PlanView(
        box=box, mm_per_m=1000.0 / piece.scales.along, turn_rad=piece.turn_rad, middle=piece.middle
    )
    ink.plans.append(Placed("Plan", view))
    free = Free(box.grown(-0.6))
    ink.clip("plan", box)
    if relief is not None:
        draw_relief(ink, relief, plane, view)
    levels = draw_contours(ink, contours, plane, view, units_of(doc))
    names = draw_features(ink, doc, plane, view)
    shot = draw_survey(ink, doc, plane, view)
    place = view.at(*plane.forward(column(doc, "lon"), column(doc, "lat")))
    line = OnSheet(column(doc, "station_m"), *place, view.mm_per_m)
    drawn = _draw_line(ink, doc, piece, line)
    ink.unclip()
    free.keep_clear(drawn)
    note = _interval(contours, units_of(doc))
    draw_furniture(ink, free, paper, view, piece.scales.along, units_of(doc), note)
    marks = list(plan_marks(doc, piece, plane, view))
    size = 1.25 * paper.letter
    for _, x, y, *_ in marks:
        free.take(Box(x - size / 2.0, y - size / 2.0, x + size / 2.0, y + size / 2.0))
    for kind, x, y, _, _, look, _ in reversed(marks):
        ink.mark(kind, x, y, size if kind != "bend" else 0.8 * size, look)
    news, half = changed(doc), size / 2.0
    spots = [Box(m.x - half, m.y - half, m.x + half, m.y + half) for m in marks if m.id in news]
    draw_clouds(ink, doc, paper, spots, free)
    for kind, x, y, words, bold, _, _ in marks:
        reach = REACH[:2] if kind in CLOSE else REACH
        letter(ink, free, (x, y), words, paper.letter, bold=bold, layer="plan", reach=reach)
    _stations(ink, free, doc, piece, line, paper)
    _tests(ink, free, doc, piece, line, paper)
    for x, y, words in names:
        letter(ink, free, (x, y), words, paper.small, layer="feature")
    for x, y, words in leg_words(doc, piece, plane, view):
        letter(ink, free, (x, y), words, paper.small, layer="leg", reach=REACH[:3])
    for x, y, words in shot:
        letter(ink, free, (x, y), words, paper.small, layer="shot", reach=REACH[:2])
    draw_grid(ink, free, plane, survey, view, paper)
    letter_levels(ink, free, levels, paper.small)
    ink.rect(box, "frame")


def _interval(contours: Sequence[DrawnContour], units: UnitSystem) -> str:
    """Return in words how far apart the contours are; nothing where none are drawn."""
    levels = np.unique([line.level_m for line in contours])
    if len(levels) < 2:
        return ""
    return f"contours every {show(float(np.diff(levels).min()), 'length', units)}"


def draw_relief(ink: Drawing, relief: Relief, plane: LocalPlane, view: PlanView) -> None:
    """Lay the shaded relief beneath everything, faded so that it prints as a light tone."""
    lon, lat = [relief.west, relief.east, relief.west], [relief.north, relief.north, relief.south]
    x, y = view.at(*plane.forward(np.array(lon), np.array(lat)))
    # Rows of the picture are even in the projection of web maps, which is conformal as the plane
    # is: over the length of a line the one is a turned and scaled copy of the other.
    matrix = (x[1] - x[0], y[1] - y[0], x[2] - x[0], y[2] - y[0], x[0], y[0])
    data = base64.b64encode(relief.image).decode()
    ink.add(
        f'<image width="1" height="1" preserveAspectRatio="none" opacity=".5" '
        f'transform="matrix({" ".join(f"{value:.6f}" for value in matrix)})" '
        f'href="data:{relief.media_type};base64,{data}"/>'
    )


def draw_contours(
    ink: Drawing,
    contours: Sequence[DrawnContour],
    plane: LocalPlane,
    view: PlanView,
    units: UnitSystem,
) -> list[Level]:
    """Draw contours and return where the index contours, or else the others, may be lettered."""
    if not contours:
        return []
    sizes = [len(line.lon) for line in contours]
    x, y = plane.forward(
        np.concatenate([line.lon for line in contours]),
        np.concatenate([line.lat for line in contours]),
    )
    x, y = view.at(x, y)
    box, start = view.box, 0
    spots: dict[bool, list[Level]] = {True: [], False: []}
    drawn: dict[bool, list[tuple[FloatArray, FloatArray]]] = {True: [], False: []}
    for line, size in zip(contours, sizes, strict=True):
        px, py = x[start : start + size], y[start : start + size]
        start += size
        inside = (px > box.left) & (px < box.right) & (py > box.top) & (py < box.bottom)
        near = inside.copy()
        near[1:] |= inside[:-1]
        near[:-1] |= inside[1:]
        if not inside.any():
            continue
        drawn[line.index].append((np.where(near, px, np.nan), np.where(near, py, np.nan)))
        said = f"{convert(line.level_m, 'elevation', units):.5g}"
        spots[line.index] += _lettered(px[inside], py[inside], said)
    gap = np.array([np.nan])
    for index, style in ((False, "contour"), (True, "contourindex")):
        if lines := drawn[index]:
            joined = [
                np.concatenate([part for item in lines for part in (item[k], gap)]) for k in (0, 1)
            ]
            ink.path(joined[0], joined[1], style)
    # Where no index contour crosses the sheet, the others are lettered.
    return spots[True] or spots[False]


def _lettered(x: FloatArray, y: FloatArray, said: str) -> list[Level]:
    """Return a level for each stretch of a contour, with the places where it may stand."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    count = max(int(along[-1] / LEVEL_MM), 1)
    found = []
    for number in range(count):
        share = (number + np.array([0.5, 0.38, 0.62, 0.25, 0.75, 0.12, 0.88])) / count
        at = np.searchsorted(along, share * along[-1]).clip(0, len(x) - 1)
        found.append(Level(said, [(float(x[i]), float(y[i])) for i in at.tolist()]))
    return found


def letter_levels(ink: Drawing, free: Free, levels: Sequence[Level], size: float) -> None:
    """Letter each level at the first of its places where there is room."""
    for words, places in levels:
        for place in places:
            if letter(ink, free, place, words, size, layer="contour", reach=(0.45,)):
                break


def _draw_line(ink: Drawing, doc: Document, piece: Piece, line: OnSheet) -> FloatArray:
    """Draw the pipe, its neighbours beyond the match lines and its spans; return its points."""
    first, last = float(line.station_m[0]), float(line.station_m[-1])
    if piece.from_m > first:
        ink.path(*line.part(first, piece.from_m), "beyond")
    if piece.to_m < last:
        ink.path(*line.part(piece.to_m, last), "beyond")
    ink.path(*line.part(piece.from_m, piece.to_m), "pipe")
    for span in (doc.get("trench") or {}).get("spans") or ():
        low, high = max(span["from_m"], piece.from_m), min(span["to_m"], piece.to_m)
        if low < high:
            places = line.part(float(low), float(high))
            ink.path(*places, "spancase")
            ink.path(*places, "spancore")
    ahead = max(int((piece.to_m - piece.from_m) * line.mm_per_m / 0.5), 2)
    at = np.linspace(piece.from_m, piece.to_m, ahead)
    points = [np.column_stack(line.at(at))]
    for at_end in (piece.from_m, piece.to_m):
        if first < at_end < last:
            points.append(_match_line(ink, line, at_end))
    return np.vstack(points)


def _match_line(ink: Drawing, line: OnSheet, at: float) -> FloatArray:
    """Draw a match line across the line and return points along it."""
    px, py, dx, dy = line.heading(at)
    ink.line(
        px - MATCH_MM * dy, py + MATCH_MM * dx, px + MATCH_MM * dy, py - MATCH_MM * dx, "match"
    )
    share = np.linspace(-MATCH_MM, MATCH_MM, 29)
    return np.column_stack([px - share * dy, py + share * dx])


def _stations(
    ink: Drawing, free: Free, doc: Document, piece: Piece, line: OnSheet, paper: Paper
) -> None:
    """Tick the line at round stations and letter every fifth tick, the ends of the sheet too."""
    units = units_of(doc)
    metres = 1.0 / convert(1.0, "station", units)
    step = nice_step(
        (piece.to_m - piece.from_m) / metres,
        int((piece.to_m - piece.from_m) * line.mm_per_m / 5.0) or 1,
    )
    count = math.floor(piece.to_m / metres / step + 1e-9)
    first = math.ceil(piece.from_m / metres / step - 1e-9)
    for number in range(first, count + 1):
        at = number * step * metres
        px, py, dx, dy = line.heading(at)
        major = number % 5 == 0
        reach = paper.letter * (0.55 if major else 0.3)
        ink.line(px - reach * dy, py + reach * dx, px + reach * dy, py - reach * dx, "tick")
        if major:
            letter(
                ink,
                free,
                (px, py),
                station_text(doc, at, 0),
                paper.small,
                layer="station",
                reach=REACH[:4],
            )
    for at in {piece.from_m, piece.to_m} - {float(line.station_m[0]), float(line.station_m[-1])}:
        px, py, dx, dy = line.heading(at)
        words = f"match line {station_text(doc, at)}"
        spot = (px - MATCH_MM * dy, py + MATCH_MM * dx)
        letter(ink, free, spot, words, paper.small, layer="match")


def _tests(
    ink: Drawing, free: Free, doc: Document, piece: Piece, line: OnSheet, paper: Paper
) -> None:
    """Name the sections that are tested one by one, and mark where one ends and the next begins."""
    for test in (doc.get("works") or {}).get("tests") or ():
        low, high = max(float(test["from_m"]), piece.from_m), min(float(test["to_m"]), piece.to_m)
        if low >= high:
            continue
        if low > piece.from_m:
            px, py, dx, dy = line.heading(low)
            reach = paper.letter
            ink.line(px - reach * dy, py + reach * dx, px + reach * dy, py - reach * dx, "test")
        px, py, *_ = line.heading((low + high) / 2.0)
        words = f"test section {plain(test['id'])}"
        letter(ink, free, (px, py), words, paper.small, layer="tested")
