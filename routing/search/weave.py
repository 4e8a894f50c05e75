"""A line woven anew beside a way: of all chains of legs on a strip of ground, about the cheapest.

Places stand in rows across the way, a few cells apart. Legs lead from a row to one of the next few,
each priced on the ground. A bend costs by its angle, and a summit or a sag only once it stands out
by more than can be dug through, over however many legs: so each place keeps several ways to arrive,
with the heading and the last high or low of each.
"""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise
from typing import Any

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.compiled import inner_kernel, kernel
from routing.search.graph import Field, Terms
from routing.search.legs import Ground, bend_price, dug_leg, height_at, hung_leg, line_price
from routing.search.turns import turn

__all__ = ["woven"]

ROW_CELLS = 4.0
"""Distance of the rows of places along the way [cells]."""
ACROSS = (1.0, 2.0, 4.0, 6.0)
"""Places to either side of the way [cells]."""
ONWARD, ONWARD_ALONE = 3, 40
"""Rows that a leg may lead on, and where each row has the one place of the way [-]."""
KEPT = 3
"""Ways to arrive that are kept at a place [-]."""
ALIKE = 0.25
"""Ways whose last high or low differ by less are alike, as share of what can be dug through [-]."""
COARSER = 2.0
"""Distance of the heights that are looked at along a leg over that of the exact price [-]."""
MOST_HEIGHTS = 4096
"""Most heights that are looked at along a leg [-]."""


@inner_kernel
def _seat(costs: Any, falls: Any, tops: Any, cost: Any, falling: Any, top: Any, alike: Any) -> Any:
    """Return which of the ways kept at a place a new one replaces, -1 where it is no better."""
    worst = 0
    for m in range(costs.size):
        if costs[m] < np.inf and falls[m] == falling and abs(tops[m] - top) < alike:
            return m if cost < costs[m] else -1
        if costs[m] > costs[worst]:
            worst = m
    return worst if cost < costs[worst] else -1


@inner_kernel
def _passed(terms: Any, seen: Any, heights: Any, falling: Any, top: Any) -> Any:
    """Return the state of a line after a leg's heights, and the price of its turns."""
    total = 0.0
    for h in range(heights):
        falling, top, price = turn(falling, top, seen[h], terms)
        total += price
    return falling, top, total


@inner_kernel
def _leg(ground: Any, field: Any, terms: Any, pair: Any, hung: Any, seen: Any) -> Any:
    """Return the price of a leg between two places, and how many heights of it stand in seen."""
    if hung:
        seen[0] = height_at(ground, pair[1, 0], pair[1, 1])
        return hung_leg(ground, field, terms, pair, 0), 1
    return dug_leg(ground, field, terms, pair, 0, seen, 0)


@kernel
def _weave(
    ground: Any, field: Any, terms: Any, places: Any, count: Any, hung: Any, kept: Any, onward: Any
) -> Any:
    """Return the number of the place taken in each row, -1 where a leg passes it; and the price."""
    rows, most = places.shape[0], places.shape[1]
    cost = np.full((rows, most, kept), np.inf)
    falls = np.zeros((rows, most, kept), dtype=np.bool_)
    tops = np.zeros((rows, most, kept))
    heading = np.zeros((rows, most, kept, 2))
    back = np.zeros((rows, most, kept, 3), dtype=np.int64)
    cost[0, 0, 0] = 0.0
    falls[0, 0, 0] = True
    tops[0, 0, 0] = height_at(ground, places[0, 0, 0], places[0, 0, 1])
    pair = np.empty((2, 2))
    seen = np.empty(MOST_HEIGHTS)
    for i in range(rows - 1):
        last = i + 1 if hung[i] else min(i + onward, rows - 1)
        for a in range(count[i]):
            pair[0] = places[i, a]
            for j in range(i + 1, last + 1 if cost[i, a].min() < np.inf else 0):
                for b in range(count[j]):
                    pair[1] = places[j, b]
                    price, heights = _leg(ground, field, terms, pair, hung[i], seen)
                    down = (pair[1, 0] - pair[0, 0]) * ground.south_m
                    right = (pair[1, 1] - pair[0, 1]) * ground.east_m
                    for k in range(kept):
                        new = cost[i, a, k] + price
                        if i > 0 and new < np.inf:
                            was = heading[i, a, k]
                            new += bend_price(ground, was[0], was[1], down, right)
                        if new >= cost[j, b].max():
                            continue
                        falling, top, turns = _passed(
                            terms, seen, heights, falls[i, a, k], tops[i, a, k]
                        )
                        new += turns
                        alike = ALIKE * terms.slack_m
                        at = _seat(cost[j, b], falls[j, b], tops[j, b], new, falling, top, alike)
                        if at >= 0:
                            cost[j, b, at], falls[j, b, at], tops[j, b, at] = new, falling, top
                            heading[j, b, at, 0], heading[j, b, at, 1] = down, right
                            back[j, b, at, 0], back[j, b, at, 1], back[j, b, at, 2] = i, a, k
    taken = np.full(rows, -1, dtype=np.int64)
    k = int(np.argmin(cost[rows - 1, 0]))
    best = cost[rows - 1, 0, k]
    i, a = rows - 1, 0
    while best < np.inf:
        taken[i] = a
        if i == 0:
            break
        i, a, k = back[i, a, k, 0], back[i, a, k, 1], back[i, a, k, 2]
    return taken, best


def woven(
    ground: Ground, field: Field, terms: Terms, points: FloatArray, hung: BoolArray
) -> tuple[FloatArray, BoolArray]:
    """Return about the cheapest chain of legs on the strip of ground along a way.

    Parameters
    ----------
    ground : Ground
        What legs are priced on
    field : Field
        Closed cells, tolls, strain, slopes and pipe prices of the graph
    terms : Terms
        What a metre costs, and a vent and a drain
    points : FloatArray, shape (n, 2)
        Rows and columns of the way; the ends stay [cells]
    hung : BoolArray, shape (n - 1,)
        Legs of the way that are bridges; they are kept or left out, never moved

    Returns
    -------
    points, hung
        The line, and which of its legs are bridges; where no legs beside the way keep out of closed
        ground, those between points of the way itself; where these do not either, the way
    """
    coarse = ground._replace(step_m=COARSER * ground.step_m)
    strips = (
        (coarse, ROW_CELLS, ACROSS, ONWARD),
        (ground, ROW_CELLS, ACROSS, ONWARD),
        (ground, 0.0, (), ONWARD_ALONE),
    )
    for seen, apart, across, onward in strips:
        places, count, bridges = _rows_of(points, hung, apart, across)
        taken, _ = _weave.sized(10**6)(seen, field, terms, places, count, bridges, KEPT, onward)
        rows = np.flatnonzero(taken >= 0)
        line, legs = np.ascontiguousarray(places[rows, taken[rows]]), bridges[rows[:-1]]
        if rows.size and np.isfinite(line_price(ground, field, terms, line, legs)):
            return line, legs
    return points, hung


def _rows_of(
    points: FloatArray, hung: BoolArray, apart: float, across: tuple[float, ...]
) -> tuple[FloatArray, IntArray, BoolArray]:
    """Return rows of places across a way as (rows, most, 2), how many each has, and the bridges.

    Ends of the way and of bridges are rows of one place; with 0 cells apart each point is one.
    """
    rows, bridges = [points[:1]], list[bool]()
    stays = np.append(hung, True) | np.append(True, hung) if apart > 0.0 else True
    for a, b in pairwise(np.flatnonzero(np.broadcast_to(stays, points.shape[:1])).tolist()):
        inner = () if hung[a] else _across(points[a : b + 1], apart, across)
        for row in (*inner, points[b : b + 1]):
            rows.append(row)
            bridges.append(bool(hung[a]))
    count = np.array([len(row) for row in rows], dtype=np.int64)
    places = np.zeros((len(rows), int(count.max()), 2))
    for at, row in enumerate(rows):
        places[at, : len(row)] = row
    return places, count, np.array(bridges, dtype=np.bool_)


def _across(part: FloatArray, apart: float, across: tuple[float, ...]) -> Iterator[FloatArray]:
    """Yield the rows of places across a piece of the way, without its ends."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(part, axis=0).T))])
    rows = int(along[-1] / apart) if apart > 0.0 else 1
    at = np.linspace(0.0, along[-1], max(rows, 1) + 1)
    middle = np.column_stack([np.interp(at, along, part[:, k]) for k in (0, 1)])
    beside = np.append(0.0, np.outer(across, [1.0, -1.0]))
    for k in range(1, rows):
        ahead = middle[min(k + 2, rows)] - middle[max(k - 2, 0)]
        size = max(float(np.hypot(*ahead)), 1e-9)
        yield middle[k] + beside[:, None] * np.array([-ahead[1], ahead[0]]) / size
