"""The plan: the line turned level, with stations, bends, fittings, contours, grid and north."""

from __future__ import annotations

import base64
import math
from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.arrays import FloatArray
from routing.papers.document import Document, column, plain, units_of
from routing.papers.layout import nice_step
from routing.papers.plane import LocalPlane, SurveySystem
from routing.papers.sheet.features import draw_features
from routing.papers.sheet.furniture import draw_furniture, draw_grid
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.split import Piece, Scales
from routing.papers.sheet.style import mark
from routing.papers.sheet.view import REACH, PlanView, letter
from routing.papers.signs import LOOKS, Look
from routing.units import UnitSystem, convert, unit_of

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["draw_contours", "draw_plan", "draw_relief"]

SPHERE_M = 6_378_137.0
"""Radius of the sphere of the projection of web maps [m]."""
PLAN_BEND_DEG = 5.0
"""Least deflection in plan that is lettered [deg]; all stand in the schedule."""
MATCH_MM = 14.0
"""Half the length of a match line on the plan [mm]."""


def draw_plan(
    ink: Drawing,
    doc: Document,
    piece: Piece,
    scales: Scales,
    paper: Paper,
    plane: LocalPlane,
    survey: SurveySystem,
    ground: tuple[Relief | None, Sequence[DrawnContour]],
) -> None:
    """Draw the plan of one sheet along its top, on the relief and contours of the ground."""
    relief, contours = ground
    box = Box(0.0, 0.0, paper.frame_width, paper.plan_height)
    view = PlanView(
        box=box, mm_per_m=1000.0 / scales.along, turn_rad=piece.turn_rad, middle=piece.middle
    )
    free = Free(box.grown(-0.6))
    ink.clip("plan", box)
    if relief is not None:
        draw_relief(ink, relief, plane, view)
    levels = draw_contours(ink, contours, plane, view, units_of(doc))
    names = draw_features(ink, doc, plane, view)
    line = _draw_line(ink, doc, piece, plane, view)
    ink.add("</g>")
    free.keep_clear(line)
    draw_furniture(ink, free, paper, view, scales.along, units_of(doc))
    marks = list(_marks(doc, piece, plane, view))
    size = 1.25 * paper.letter
    for _, x, y, *_ in marks:
        free.take(Box(x - size / 2.0, y - size / 2.0, x + size / 2.0, y + size / 2.0))
    for kind, x, y, words, bold, look in marks:
        ink.add(mark(kind, x, y, size if kind != "bend" else 0.8 * size, look))
        letter(ink, free, (x, y), words, paper.letter, bold=bold, layer="plan")
    _stations(ink, free, doc, piece, plane, view, paper)
    for x, y, words in names:
        letter(ink, free, (x, y), words, paper.small, layer="feature")
    draw_grid(ink, free, plane, survey, view, paper)
    for x, y, words in levels:
        letter(ink, free, (x, y), words, paper.small, layer="contour", reach=(0.45,))
    ink.rect(box, "frame")


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
) -> list[tuple[float, float, str]]:
    """Draw contours and return where the heavy ones may be lettered."""
    if not contours:
        return []
    sizes = [len(line.lon) for line in contours]
    x, y = plane.forward(
        np.concatenate([line.lon for line in contours]),
        np.concatenate([line.lat for line in contours]),
    )
    x, y = view.at(x, y)
    box, spots, start = view.box, [], 0
    heavy: list[tuple[FloatArray, FloatArray]] = []
    light: list[tuple[FloatArray, FloatArray]] = []
    for line, size in zip(contours, sizes, strict=True):
        px, py = x[start : start + size], y[start : start + size]
        start += size
        inside = (px > box.left) & (px < box.right) & (py > box.top) & (py < box.bottom)
        near = inside.copy()
        near[1:] |= inside[:-1]
        near[:-1] |= inside[1:]
        if not inside.any():
            continue
        shown = (np.where(near, px, np.nan), np.where(near, py, np.nan))
        (heavy if line.index else light).append(shown)
        if line.index:
            at = np.flatnonzero(inside)
            spots += [
                (float(px[i]), float(py[i]), f"{convert(line.level_m, 'elevation', units):.5g}")
                for i in at[len(at) // 4 :: max(len(at) // 2, 40)]
            ]
    gap = np.array([np.nan])
    for lines, style in ((light, "contour"), (heavy, "contourindex")):
        if lines:
            joined = [
                np.concatenate([part for item in lines for part in (item[k], gap)]) for k in (0, 1)
            ]
            ink.path(joined[0], joined[1], style)
    return spots


def _draw_line(
    ink: Drawing, doc: Document, piece: Piece, plane: LocalPlane, view: PlanView
) -> FloatArray:
    """Draw the pipe, its neighbours beyond the match lines and its spans; return its points."""
    station = column(doc, "station_m")
    x, y = view.at(*plane.forward(column(doc, "lon"), column(doc, "lat")))

    def part(from_m: float, to_m: float) -> tuple[FloatArray, FloatArray]:
        at = np.concatenate([[from_m], station[(station > from_m) & (station < to_m)], [to_m]])
        return np.interp(at, station, x), np.interp(at, station, y)

    first, last = float(station[0]), float(station[-1])
    if piece.from_m > first:
        ink.path(*part(first, piece.from_m), "beyond")
    if piece.to_m < last:
        ink.path(*part(piece.to_m, last), "beyond")
    ink.path(*part(piece.from_m, piece.to_m), "pipe")
    for span in (doc.get("trench") or {}).get("spans") or ():
        low, high = max(span["from_m"], piece.from_m), min(span["to_m"], piece.to_m)
        if low < high:
            places = part(float(low), float(high))
            ink.path(*places, "spancase")
            ink.path(*places, "spancore")
    ahead = max(int((piece.to_m - piece.from_m) * view.mm_per_m / 0.5), 2)
    at = np.linspace(piece.from_m, piece.to_m, ahead)
    points = [np.column_stack([np.interp(at, station, x), np.interp(at, station, y)])]
    for at_end in (piece.from_m, piece.to_m):
        if first < at_end < last:
            points.append(_match_line(ink, station, x, y, at_end))
    return np.vstack(points)


def _match_line(
    ink: Drawing, station: FloatArray, x: FloatArray, y: FloatArray, at: float
) -> FloatArray:
    """Draw a match line across the line and return points along it."""
    px, py, dx, dy = _heading(station, x, y, at)
    ink.line(
        px - MATCH_MM * dy, py + MATCH_MM * dx, px + MATCH_MM * dy, py - MATCH_MM * dx, "match"
    )
    share = np.linspace(-MATCH_MM, MATCH_MM, 29)
    return np.column_stack([px - share * dy, py + share * dx])


def _heading(
    station: FloatArray, x: FloatArray, y: FloatArray, at: float
) -> tuple[float, float, float, float]:
    """Return a place on the sheet and the unit vector of the line there."""
    ends = np.clip([at - 1.0, at + 1.0], station[0], station[-1])
    ex, ey = np.interp(ends, station, x), np.interp(ends, station, y)
    far = math.hypot(float(ex[1] - ex[0]), float(ey[1] - ey[0])) or 1.0
    return (
        float(np.interp(at, station, x)),
        float(np.interp(at, station, y)),
        float(ex[1] - ex[0]) / far,
        float(ey[1] - ey[0]) / far,
    )


def _marks(
    doc: Document, piece: Piece, plane: LocalPlane, view: PlanView
) -> Iterable[tuple[Any, float, float, str, bool, Look]]:
    """Return kind, place, lettering, weight and look of what is marked, the weightiest first."""
    units = units_of(doc)

    def on(item: Mapping[str, Any]) -> bool:
        return piece.from_m - 1e-6 <= float(item["station_m"]) <= piece.to_m + 1e-6

    def place(item: Mapping[str, Any]) -> tuple[float, float]:
        x, y = view.at(*plane.forward(np.array([item["lon"]]), np.array([item["lat"]])))
        return float(x[0]), float(y[0])

    stations = doc["stations"]
    length = float(column(doc, "station_m")[-1])
    for kind, index, words, at in (
        ("intake", 0, "Intake", 0.0),
        ("powerhouse", -1, "Powerhouse", length),
    ):
        if piece.from_m <= at <= piece.to_m:
            where = {"lon": stations["lon"][index], "lat": stations["lat"][index]}
            yield kind, *place(where), words, True, "solid"
    for kind, name in (("vent", "vents"), ("drain", "drains")):
        for item in doc[name]:
            if on(item):
                where_m = f"{convert(item['station_m'], 'station', units):.1f}"
                words = f"{plain(item['id'])} · {where_m}"
                yield kind, *place(item), words, True, LOOKS[item["need"]]
    for item in doc.get("bends") or ():
        turn = float(item["plan_deg"])
        if on(item) and abs(turn) >= PLAN_BEND_DEG:
            side = "R" if turn > 0 else "L"
            words = f"{plain(item['id'])} · {abs(turn):.1f}° {side}"
            yield "bend", *place(item), words, False, "solid"


def _stations(
    ink: Drawing,
    free: Free,
    doc: Document,
    piece: Piece,
    plane: LocalPlane,
    view: PlanView,
    paper: Paper,
) -> None:
    """Tick the line at round stations and letter every fifth tick, the ends of the sheet too."""
    units = units_of(doc)
    station = column(doc, "station_m")
    x, y = view.at(*plane.forward(column(doc, "lon"), column(doc, "lat")))
    metres = 1.0 / convert(1.0, "station", units)
    step = nice_step(
        (piece.to_m - piece.from_m) / metres,
        int((piece.to_m - piece.from_m) * view.mm_per_m / 5.0) or 1,
    )
    count = math.floor(piece.to_m / metres / step + 1e-9)
    first = math.ceil(piece.from_m / metres / step - 1e-9)
    for number in range(first, count + 1):
        at = number * step * metres
        px, py, dx, dy = _heading(station, x, y, at)
        major = number % 5 == 0
        reach = paper.letter * (0.55 if major else 0.3)
        ink.line(px - reach * dy, py + reach * dx, px + reach * dy, py - reach * dx, "tick")
        if major:
            letter(
                ink,
                free,
                (px, py),
                f"{number * step:g}",
                paper.small,
                layer="station",
                reach=REACH[:4],
            )
    for at in {piece.from_m, piece.to_m} - {float(station[0]), float(station[-1])}:
        px, py, dx, dy = _heading(station, x, y, at)
        words = f"match line {at / metres:g} {unit_of('station', units)}"
        spot = (px - MATCH_MM * dy, py + MATCH_MM * dx)
        letter(ink, free, spot, words, paper.small, layer="match")
