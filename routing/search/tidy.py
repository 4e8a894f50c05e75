"""Corners that a crew would not set out: where a line hardly turns, and two close together.

The legs' prices know the raster to the centimetre and may keep a corner for very little.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray
from routing.search.graph import Field
from routing.search.legs import line_price
from routing.search.lines import Line, Way, laid
from routing.search.site import Site

__all__ = ["idle_corners", "tidied"]

SHORT_M = 10.0
"""A leg shorter than this is not worth a corner [m]; our own estimate."""
STRAIGHT_DEG = 3.0
"""A turn of less is not worth a corner: joints and the pipe itself take it [deg]; likewise."""
WORTH = 1.005
"""A corner whose loss makes the line dearer than this stays [-]."""


def idle_corners(site: Site, way: Way, *, short: bool = True) -> BoolArray:
    """Return which corners of a way are not worth setting out, those of short legs if asked.

    Of the corners of a short leg it is the one that turns less, never one that must stay; no two
    in a row are named, so that what is left keeps near the way.
    """
    steps = np.diff(way.points, axis=0) * np.array([site.grid.south_m, site.grid.east_m])
    length = np.hypot(*steps.T)
    turn = np.full(len(way.points), np.inf)
    heading = np.degrees(np.arctan2(steps[:, 1], steps[:, 0]))
    turn[1:-1] = np.abs((np.diff(heading) + 180.0) % 360.0 - 180.0)
    turn[way.fixed] = np.inf
    idle = turn < STRAIGHT_DEG
    for leg in np.flatnonzero(length < SHORT_M).tolist() if short else ():
        at = leg if turn[leg] < turn[leg + 1] else leg + 1
        idle[at] |= bool(np.isfinite(turn[at]))
    for at in range(1, idle.size):
        idle[at] &= not idle[at - 1]
    return np.asarray(idle)


def tidied(site: Site, field: Field, line: Line) -> Line:
    """Return a line without its idle corners, where its study says that it costs hardly more."""
    seen = np.zeros(len(line.way.points), dtype=np.bool_)
    for short in (True, False):
        idle = idle_corners(site, line.way, short=short)
        if (idle == seen).all():
            break
        seen = idle
        way = _without(line.way, idle)
        if not np.isfinite(line_price(site.ground, field, site.terms, way.points, way.hung)):
            continue
        tried = laid(site, way)
        if len(tried.barred) <= len(line.barred) and tried.cost <= WORTH * line.cost:
            return tried
    return line


def _without(way: Way, idle: BoolArray) -> Way:
    """Return a way without some of its corners, none of which ends a bridge."""
    return Way(
        points=way.points[~idle],
        hung=way.hung[~idle[:-1]],
        fixed=way.fixed[~idle],
        price=way.price,
    )
