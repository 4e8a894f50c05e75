"""A block or slope anchor as a small picture: plan with north up, and elevation, both to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from routing.papers.cast import CastShape, cast_shape, unsized_words
from routing.papers.document import Document, plain, units_of
from routing.papers.offsets import Beside
from routing.papers.schedule import block_sides
from routing.units import show, unit_of
from routing.words import said

__all__ = ["block_svg", "block_views"]

SIDE_PX, HIGH_PX = 160.0, 132.0
"""Room of one of the two views [px]."""
PAST_PX = 7.0
"""How far a dimension stands off what it measures [px]."""
HALO = 'stroke="#fff" stroke-width="3" paint-order="stroke"'
_ARROW = "M0 0L-5 10L0 7L5 10Z"

Point = tuple[float, float]


def block_views(doc: Document) -> tuple[str, str]:
    """Return what the two views of a block are called, from the left."""
    return said(f"plan, north up, {unit_of('depth', units_of(doc))}"), said("side")


def block_svg(doc: Document, item: Mapping[str, Any], *, named: bool = True) -> str:
    """Return the picture of a cast block or anchor; empty for what is not cast, or left open.

    How it lies about the pipe is told by :func:`~routing.papers.cast.cast_shape`. The arrow
    of the side view leans as the push does. A page that names the views itself has it not
    ``named``.
    """
    outside = max((float(p["outside_diameter_m"]) for p in doc.get("pipes") or ()), default=0.2)
    shape = cast_shape(item, outside)
    if shape is None or unsized_words(doc, item):
        return ""
    width, height, length = (float(item[key]) for key in ("width_m", "height_m", "length_m"))
    scale = 0.38 * SIDE_PX / max(width, height, length + outside)
    sides = block_sides(doc, item)
    views = [
        _plan(doc, item, shape, outside, scale),
        _elevation(doc, item, shape, outside, scale),
    ]
    words = f"{plain(item['id'])}: {' × '.join(sides)}"
    plan, side = map(escape, block_views(doc))
    labels = (
        f'<text x="4" y="14" {HALO}>{plan}</text><text x="{SIDE_PX + 8:.0f}" y="14">{side}</text>'
        if named
        else ""
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" class="block" '
        f'viewBox="0 0 {2 * SIDE_PX:.0f} {HIGH_PX:.0f}" role="img" '
        f'aria-label="{escape(words)}" font-size="11">'
        f"{''.join(views)}{labels}</svg>"
    )


def _plan(
    doc: Document, item: Mapping[str, Any], shape: CastShape, outside: float, scale: float
) -> str:
    """Draw pipe and block from above, about the block's own place."""
    up, down = Beside(doc).ways(float(item["station_m"]))
    bearing = item.get("bearing_deg")
    away = down if bearing is None else float(bearing)
    start, end, half = shape.start_m, shape.end_m, float(item["width_m"]) / 2
    box = [(start, -half), (end, -half), (end, half), (start, half)]
    sine, cosine = math.sin(math.radians(away)), math.cos(math.radians(away))
    aside = 0.25 * (start + end) * scale  # pipe and block together stand in the middle
    centre = (0.5 * SIDE_PX - aside * sine, 0.57 * HIGH_PX + aside * cosine)

    def placed(along: float, across: float, way_deg: float) -> Point:
        sine, cosine = math.sin(math.radians(way_deg)), math.cos(math.radians(way_deg))
        east, north = along * sine + across * cosine, along * cosine - across * sine
        return centre[0] + east * scale, centre[1] - north * scale

    reach = 0.47 * SIDE_PX / scale
    pipe = [placed(reach, 0.0, up), centre, placed(reach, 0.0, down)]
    corners = [placed(*corner, away) for corner in box]
    drawn = _shape(corners, "#d9d9d9")
    drawn += (
        f'<polyline points="{_points(pipe)}" fill="none" stroke="#0072b2" '
        f'stroke-width="{max(outside * scale, 3.0):.1f}" stroke-opacity="0.75"/>'
    )
    wide, _, long = block_sides(doc, item)
    drawn += _dimension(corners[1], corners[2], wide) + _dimension(corners[2], corners[3], long)
    if bearing is not None:
        drawn += _arrow(placed(end - 9.0 / scale, 0.0, away), away)
    return drawn + '<path d="M150 20L146 32L150 29L154 32Z"/><text x="146" y="44">N</text>'


def _elevation(
    doc: Document, item: Mapping[str, Any], shape: CastShape, outside: float, scale: float
) -> str:
    """Draw pipe, block and ground from the side, the push to the right."""
    x, y = 1.5 * SIDE_PX, 0.6 * HIGH_PX
    deep = float(item["ground_m"]) - float(item["pipe_m"])
    ground = y - min(deep * scale, 0.38 * HIGH_PX)
    left, right = x + shape.start_m * scale, x + shape.end_m * scale
    low, top = y - shape.low_m * scale, y - shape.high_m * scale
    drawn = _shape([(left, top), (right, top), (right, low), (left, low)], "#d9d9d9")
    drawn += (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{0.5 * outside * scale:.1f}" fill="#fff" '
        'stroke="#0072b2" stroke-width="3"/>'
        f'<line x1="{SIDE_PX + 8:.0f}" x2="{2 * SIDE_PX - 8:.0f}" y1="{ground:.1f}" '
        f'y2="{ground:.1f}" stroke="#7a5230" stroke-width="2"/>'
    )
    _, high, long = block_sides(doc, item)
    aside = min(left, x - 0.5 * outside * scale)
    below = show(deep - shape.low_m, "depth", units_of(doc), unit=False)
    drawn += _dimension((right, top), (right, low), high) + _dimension(
        (right, low), (left, low), long
    )
    drawn += _dimension((aside, low), (aside, ground), below)
    if item.get("bearing_deg") is not None:
        level = math.hypot(float(item.get("east_kn") or 0.0), float(item.get("north_kn") or 0.0))
        rise = float(item.get("up_kn") or 0.0)
        turn = 90.0 - (math.degrees(math.atan2(rise, level)) if level or rise else 0.0)
        drawn += _arrow((right - 9.0, (low + top) / 2.0), turn)
    return drawn


def _dimension(start: Point, end: Point, words: str) -> str:
    """Draw the length of an edge beside it, on its left as it is walked, lettered outside."""
    run = math.dist(start, end) or 1.0
    out = ((end[1] - start[1]) / run, (start[0] - end[0]) / run)  # y of a picture points down
    out = (out[0] * PAST_PX, out[1] * PAST_PX)
    a, b = ((x + out[0], y + out[1]) for x, y in (start, end))
    ticks = "".join(
        f"M{x - tick[0]:.1f} {y - tick[1]:.1f}l{2 * tick[0]:.1f} {2 * tick[1]:.1f}"
        for tick in [(0.4 * out[0], 0.4 * out[1])]
        for x, y in (a, b)
    )
    at = [(p + q) / 2 + 0.5 * o for p, q, o in zip(a, b, out, strict=True)]
    anchor = "middle" if abs(out[0]) < 0.4 * PAST_PX else ("start" if out[0] > 0.0 else "end")
    base = at[1] + 4.0 + 4.0 * out[1] / PAST_PX
    return (
        f'<path d="M{a[0]:.1f} {a[1]:.1f}L{b[0]:.1f} {b[1]:.1f}{ticks}" fill="none" '
        f'stroke="#000" stroke-width="0.8"/><text x="{at[0]:.1f}" y="{base:.1f}" '
        f'text-anchor="{anchor}" {HALO}>{escape(words)}</text>'
    )


def _arrow(at: Point, turn_deg: float) -> str:
    place = f"translate({at[0]:.1f} {at[1]:.1f}) rotate({turn_deg:.0f})"
    return f'<path d="{_ARROW}" fill="#d55e00" transform="{place}"/>'


def _shape(points: Sequence[Point], fill: str) -> str:
    return f'<polygon points="{_points(points)}" fill="{fill}" stroke="#000" stroke-width="1.5"/>'


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
