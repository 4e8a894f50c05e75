"""A block or slope anchor as a small picture: plan with north up, and elevation, both to scale."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from routing.papers.document import Document, plain
from routing.papers.offsets import Beside
from routing.papers.schedule import block_sides

__all__ = ["block_svg"]

SIDE_PX, HIGH_PX = 160.0, 170.0
"""Room of one of the two views [px]."""
_ARROW = "M0 0L-5 10L0 7L5 10Z"

Point = tuple[float, float]


def block_svg(doc: Document, item: Mapping[str, Any]) -> str:
    """Return the picture of a cast block or anchor; empty for what is not cast.

    A block stands behind the pipe on the side to which the push goes; an anchor round the pipe.
    """
    if not item.get("length_m"):
        return ""
    outside = max((float(p["outside_diameter_m"]) for p in doc.get("pipes") or ()), default=0.2)
    width, height, length = (float(item[key]) for key in ("width_m", "height_m", "length_m"))
    scale = 0.42 * SIDE_PX / max(width, height, length + outside)
    sides = block_sides(doc, item)
    views = [
        _plan(doc, item, (width, length), outside, scale),
        _elevation(item, (height, length), outside, scale),
    ]
    words = f"{plain(item['id'])}: {' × '.join(sides)}"
    labels = (
        f'<text x="4" y="14">plan, north up: {sides[0]} wide</text>'
        f'<text x="{SIDE_PX + 8:.0f}" y="14">side: {sides[1]} high</text>'
    )
    return (
        f'<svg class="block" viewBox="0 0 {2 * SIDE_PX:.0f} {HIGH_PX:.0f}" role="img" '
        f'aria-label="{escape(words)}" font-size="11">'
        f"{labels}{''.join(views)}</svg>"
    )


def _plan(
    doc: Document, item: Mapping[str, Any], sides: tuple[float, float], outside: float, scale: float
) -> str:
    """Draw pipe and block from above, about the block's own place."""
    width, length = sides
    up, down = Beside(doc).ways(float(item["station_m"]))
    bearing = item.get("bearing_deg")
    away = down if bearing is None else float(bearing)
    start = 0.5 * outside if bearing is not None else -0.5 * length
    box = [(start, -width / 2), (start + length, -width / 2), (start + length, width / 2),
           (start, width / 2)]  # fmt: skip
    centre = (0.5 * SIDE_PX, 0.55 * HIGH_PX)

    def placed(along: float, across: float, way_deg: float) -> Point:
        sine, cosine = math.sin(math.radians(way_deg)), math.cos(math.radians(way_deg))
        east, north = along * sine + across * cosine, along * cosine - across * sine
        return centre[0] + east * scale, centre[1] - north * scale

    reach = 0.47 * SIDE_PX / scale
    pipe = [placed(reach, 0.0, up), centre, placed(reach, 0.0, down)]
    drawn = _shape([placed(*corner, away) for corner in box], "#d9d9d9")
    drawn += (
        f'<polyline points="{_points(pipe)}" fill="none" stroke="#0072b2" '
        f'stroke-width="{max(outside * scale, 3.0):.1f}" stroke-opacity="0.75"/>'
    )
    if bearing is not None:
        x, y = placed(start + length + 14.0 / scale, 0.0, away)
        drawn += _arrow((x, y), away)
    return drawn + '<path d="M150 40L146 52L150 49L154 52Z"/><text x="146" y="64">N</text>'


def _elevation(
    item: Mapping[str, Any], sides: tuple[float, float], outside: float, scale: float
) -> str:
    """Draw pipe, block and ground from the side, the push to the right."""
    height, length = sides
    x, y = 1.45 * SIDE_PX, 0.6 * HIGH_PX
    cover = min(float(item["ground_m"]) - float(item["pipe_m"]), 0.35 * HIGH_PX / scale)
    start = 0.0 if item.get("bearing_deg") is not None else -0.5 * length
    box = [(start, -height / 2), (start + length, -height / 2), (start + length, height / 2),
           (start, height / 2)]  # fmt: skip
    drawn = _shape([(x + a * scale, y + b * scale) for a, b in box], "#d9d9d9")
    drawn += (
        f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{0.5 * outside * scale:.1f}" fill="#fff" '
        'stroke="#0072b2" stroke-width="3"/>'
        f'<line x1="{SIDE_PX + 8:.0f}" x2="{2 * SIDE_PX - 8:.0f}" y1="{y - cover * scale:.1f}" '
        f'y2="{y - cover * scale:.1f}" stroke="#7a5230" stroke-width="2"/>'
    )
    turn = {"up": 0.0, "down": 180.0}.get(str(item.get("up")), 90.0)  # the arrow points up
    if item.get("bearing_deg") is not None:
        at = x + (start + length) * scale + 12.0
        drawn += _arrow((at, y), turn)
    return drawn


def _arrow(at: Point, turn_deg: float) -> str:
    place = f"translate({at[0]:.1f} {at[1]:.1f}) rotate({turn_deg:.0f})"
    return f'<path d="{_ARROW}" fill="#d55e00" transform="{place}"/>'


def _shape(points: Sequence[Point], fill: str) -> str:
    return f'<polygon points="{_points(points)}" fill="{fill}" stroke="#000" stroke-width="1.5"/>'


def _points(points: Sequence[Point]) -> str:
    return " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
