"""The key sheet: the whole line in plan and profile, the sheets it is cut into, what signs mean."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from routing.papers.document import Document, column, units_of
from routing.papers.layout import nice_step, ticks
from routing.papers.plane import LocalPlane
from routing.papers.pressure import over_rating, shown_surge
from routing.papers.sheet.features import draw_features
from routing.papers.sheet.furniture import north_arrow, scale_bar
from routing.papers.sheet.ink import Box, Drawing
from routing.papers.sheet.label import Free
from routing.papers.sheet.paper import Paper
from routing.papers.sheet.plan import draw_contours, draw_relief, letter_levels
from routing.papers.sheet.profile import head_lines, limit_lines
from routing.papers.sheet.split import Piece, fit_scale
from routing.papers.sheet.view import REACH, Placed, PlanView, letter
from routing.papers.signs import LOOKS, SignKind
from routing.papers.thin import thinned
from routing.papers.typeset import cap_height, text_width, wrapped
from routing.units import convert, unit_of

if TYPE_CHECKING:
    from routing.terrain import Relief
    from routing.terrain.drawn_contour import DrawnContour

__all__ = ["draw_key", "draw_whole_plan", "draw_whole_profile"]

MOST_ABOVE = 0.7
"""Room above the heads for rating and test pressure, as a share of what else is drawn [-]."""


def draw_key(
    doc: Document,
    pieces: Sequence[Piece],
    paper: Paper,
    plane: LocalPlane,
    relief: Relief | None,
    contours: Sequence[DrawnContour],
) -> tuple[Drawing, int]:
    """Return the key sheet's drawing and its plan's scale."""
    ink = Drawing(paper.frame_width, paper.frame_height + paper.strip)
    box = Box(0.0, 0.0, ink.width, 0.54 * paper.frame_height)
    along = draw_whole_plan(ink, doc, pieces, paper, plane, (relief, contours), box)
    below = Box(0.0, box.bottom + 2.0, ink.width, paper.frame_height)
    draw_whole_profile(ink, doc, pieces, paper, below)
    return ink, along


def draw_whole_plan(
    ink: Drawing,
    doc: Document,
    pieces: Sequence[Piece],
    paper: Paper,
    plane: LocalPlane,
    ground: tuple[Relief | None, Sequence[DrawnContour]],
    box: Box,
) -> int:
    """Draw the whole line in plan, north up, with the sheets it is cut into; return its scale."""
    relief, contours = ground
    x, y = plane.forward(column(doc, "lon"), column(doc, "lat"))
    units = units_of(doc)
    margin = 5.0 * paper.letter
    wide, high = box.right - box.left - 2.0 * margin, box.bottom - box.top - 2.0 * margin
    along = max(
        fit_scale(units, max(float(np.ptp(x)), 1.0), wide),
        fit_scale(units, max(float(np.ptp(y)), 1.0), high),
    )
    view = PlanView(
        box=box,
        mm_per_m=1000.0 / along,
        turn_rad=0.0,
        middle=(float(x.min() + x.max()) / 2.0, float(y.min() + y.max()) / 2.0),
    )
    ink.plans.append(Placed("Key plan", view))
    ink.clip("key", box)
    if relief is not None:
        draw_relief(ink, relief, plane, view)
    whole = [line for line in contours if line.index and line.sheet is None]
    levels = draw_contours(ink, whole, plane, view, units)
    names = draw_features(ink, doc, plane, view)
    px, py = view.at(x, y)
    ink.path(px, py, "pipe")
    ink.unclip()
    free = Free(box.grown(-0.6))
    free.keep_clear(np.column_stack([px, py]))
    _corners(ink, free, box, along, paper, units)
    station = column(doc, "station_m")
    size = 1.2 * paper.letter
    for kind, index, words in (("intake", 0, "Intake"), ("powerhouse", -1, "Powerhouse")):
        at_x, at_y = float(px[index]), float(py[index])
        ink.mark(kind, at_x, at_y, size)  # type: ignore[arg-type]
        free.take(Box(at_x - size / 2, at_y - size / 2, at_x + size / 2, at_y + size / 2))
        letter(ink, free, (at_x, at_y), words, paper.letter, layer="text", bold=True)
    for number, piece in enumerate(pieces, start=3):
        middle = (piece.from_m + piece.to_m) / 2.0
        for at in (piece.from_m, piece.to_m):
            ex, ey = float(np.interp(at, station, px)), float(np.interp(at, station, py))
            ink.circle(ex, ey, 0.7, "reference")
        spot = (float(np.interp(middle, station, px)), float(np.interp(middle, station, py)))
        words = f"sheet {number}"
        letter(ink, free, spot, words, paper.letter, layer="text", reach=REACH[3:])
    for at_x, at_y, words in names:
        letter(ink, free, (at_x, at_y), words, paper.small, layer="text")
    letter_levels(ink, free, levels, paper.small)
    ink.rect(box, "frame")
    return along


def _corners(ink: Drawing, free: Free, box: Box, along: int, paper: Paper, units: Any) -> None:
    wide = 8.0 * paper.letter
    inner = box.grown(-1.5)
    spots = [
        Box(inner.right - wide, inner.top, inner.right, inner.top + wide),
        Box(inner.left, inner.top, inner.left + wide, inner.top + wide),
    ]
    spot = next((s for s in spots if free.is_free(s)), spots[0])
    north_arrow(ink, spot, 0.0, paper)
    free.take(spot)
    tall = 3.4 * paper.letter
    rows = [
        Box(inner.left, inner.bottom - tall, inner.left + 60.0, inner.bottom),
        Box(inner.right - 60.0, inner.bottom - tall, inner.right, inner.bottom),
    ]
    row = next((r for r in rows if free.is_free(r)), rows[0])
    scale_bar(ink, row, along, units, paper)
    free.take(row)


def draw_whole_profile(
    ink: Drawing, doc: Document, pieces: Sequence[Piece], paper: Paper, box: Box
) -> None:
    """Draw the whole profile with every line of head, classes of pipe shaded beneath."""
    units, station = units_of(doc), column(doc, "station_m")
    size = paper.small
    left, right = box.left + paper.gutter, box.right - 2.0 * paper.letter
    lines = [("ground", "ground", column(doc, "ground_m")), ("pipe", "pipe", column(doc, "pipe_m"))]
    lines += list(head_lines(doc))
    low = min(float(np.nanmin(level)) for _, _, level in lines)
    high = max(float(np.nanmax(level)) for _, _, level in lines)
    limits = list(limit_lines(doc))
    top_m = high + MOST_ABOVE * (high - low)
    high = min(max([high, *(float(np.nanmax(level)) for *_, level in limits)]), top_m)
    pad = 0.04 * (high - low) + 0.5
    low, high = low - pad, high + pad
    length, unit = float(station[-1]), unit_of("elevation", units)
    named = [(style, words) for style, words, _ in lines]
    for style, words, level in limits:
        shown = "" if float(np.nanmin(level)) <= high else ", above this drawing"
        named.append((style, words + shown))
    if over_rating(doc).any():
        named.append(("sheetbox", "static pressure above the pipe's rating"))
    title = f"Whole line: elevations in {unit} over stations in {unit}; not to scale"
    if surge := shown_surge(doc):
        title += f"; surge: {surge}"
    with ink.reading(Box(left, box.top, box.right, box.bottom)):
        y = _legend_lines(ink, named, (left, box.right), box.top + 1.3 * size, size)
        for words in wrapped(title, size, box.right - left):
            ink.text(left, y, words, size)
            y += 1.4 * size
    top, bottom = y - 0.6 * size, box.bottom - 3.6 * size - paper.band_height

    def at_x(where: Any) -> Any:
        return left + where / length * (right - left)

    def at_y(level: Any) -> Any:
        return bottom - (level - low) / (high - low) * (bottom - top)

    frame = Box(left, top, right, bottom)
    _rules(ink, frame, (at_x, at_y), (low, high, length), convert(1.0, "elevation", units), size)
    for style, _, level in lines:
        kept = thinned(station, [level], [0.1 * (high - low) / (bottom - top)])
        ink.path(at_x(station[kept]), at_y(level[kept]), style)
    ink.clip("limits", frame)
    for style, _, level in limits:
        ink.path(at_x(station), at_y(level), style)
    ink.unclip()
    _over(ink, doc, at_x, at_y)
    _signs(ink, doc, at_x, at_y, 0.8 * size)
    for piece in pieces[1:]:
        x = float(at_x(piece.from_m))
        ink.line(x, top, x, bottom, "match")
    ink.rect(frame, "frame")
    _classes(ink, doc, at_x, bottom + 1.9 * size, paper)


def _rules(
    ink: Drawing,
    frame: Box,
    at: tuple[Any, Any],
    reach: tuple[float, float, float],
    factor: float,
    size: float,
) -> None:
    """Rule round elevations and stations; ``reach`` is lowest, highest and length [m]."""
    (at_x, at_y), (low, high, length) = at, reach
    count = max(int((frame.bottom - frame.top) / (2.2 * size)), 2)
    for tick in ticks(low * factor, high * factor, count):
        y = float(at_y(tick / factor))
        ink.line(frame.left, y, frame.right, y, "hair")
        ink.text(frame.left - 1.0, y + cap_height(size) / 2.0, f"{tick:g}", size, anchor="end")
    step = nice_step(length * factor, max(int((frame.right - frame.left) / (5.0 * size)), 2))
    for number in range(int(length * factor / step + 1e-9) + 1):
        x = float(at_x(number * step / factor))
        ink.line(x, frame.top, x, frame.bottom, "hair")
        ink.text(x, frame.bottom + 1.2 * size, f"{number * step:g}", size, anchor="middle")


def _signs(ink: Drawing, doc: Document, at_x: Any, at_y: Any, size: float) -> None:
    """Mark vents and drains on the pipe."""
    kinds: tuple[tuple[SignKind, str], ...] = (("vent", "vents"), ("drain", "drains"))
    for kind, key in kinds:
        for item in doc[key]:
            x, y = at_x(float(item["station_m"])), at_y(float(item["pipe_m"]))
            ink.mark(kind, float(x), float(y), size, LOOKS[item["need"]])


def _over(ink: Drawing, doc: Document, at_x: Any, at_y: Any) -> None:
    """Mark where the static pressure is above the pipe's rating."""
    station, pipe = column(doc, "station_m"), column(doc, "pipe_m")
    for leg in np.flatnonzero(over_rating(doc)).tolist():
        ink.line(
            float(at_x(station[leg])),
            float(at_y(pipe[leg])) + 1.2,
            float(at_x(station[leg + 1])),
            float(at_y(pipe[leg + 1])) + 1.2,
            "sheetbox",
        )


def _classes(ink: Drawing, doc: Document, at_x: Any, y: float, paper: Paper) -> None:
    size = paper.small
    for number, pipe in enumerate(doc.get("pipes") or ()):
        left, right = float(at_x(float(pipe["from_m"]))), float(at_x(float(pipe["to_m"])))
        ink.rect(Box(left, y, right, y + paper.band_height), f"class{number % 2}")
        words = str(pipe["label"])
        while words and text_width(words, size) > right - left - 1.0:
            words = words[:-2].rstrip() + "…" if len(words) > 4 else ""
        base = y + (paper.band_height + cap_height(size)) / 2.0
        ink.text((left + right) / 2.0, base, words, size, anchor="middle")


def _legend_lines(
    ink: Drawing,
    lines: Sequence[tuple[str, str]],
    room: tuple[float, float],
    y: float,
    size: float,
) -> float:
    """Name the lines of the profile in as many rows as it takes; return the place below."""
    x = room[0]
    for style, words in lines:
        wide = 10.0 + text_width(words, size)
        if x + wide > room[1] and x > room[0]:
            x, y = room[0], y + 1.4 * size
        ink.line(x, y - 0.3 * size, x + 9.0, y - 0.3 * size, style)
        ink.text(x + 10.0, y, words, size)
        x += wide + 5.0
    return y + 1.4 * size
