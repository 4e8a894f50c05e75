"""What the legs of a line cost on the ground as it is, dug or hung, with their bends and turns.

Prices are those of the graph, taken at many places along each leg.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.compiled import inner_kernel, kernel
from routing.search.graph import Field, Terms
from routing.search.surface import between_cells
from routing.search.turns import turn

__all__ = [
    "MOST_SEEN",
    "Ground",
    "bench_price",
    "bend_at",
    "bend_price",
    "bends_price",
    "dug_leg",
    "ground_at",
    "height_at",
    "hung_leg",
    "leg_price",
    "line_price",
    "whole_price",
]

FULL_BEND_DEG = 22.5
"""A turn from here up costs a whole bend, a lesser one in proportion [deg]."""
HALF_PIPE_M = 0.15
"""Half an outside diameter, and a little, that the crown lies above the centreline [m]."""
MOST_SEEN = 200_000
"""Most heights looked at along a line [-]."""


class Ground(NamedTuple):
    """The ground that legs are priced on, in rows and columns of the search's grid.

    ``heights`` may be finer than that grid, by ``factor``; ``step_m`` is how far apart a leg is
    looked at, ``bend`` the price of a bend, ``radius_m`` the least radius of an arc that takes the
    place of a corner.
    """

    heights: Any
    factor: float
    south_m: float
    east_m: float
    step_m: float
    bend: float
    radius_m: float = 0.0


@inner_kernel
def height_at(ground: Any, row: Any, col: Any) -> Any:
    """Return the bilinear height of a place, NaN where a corner is missing; clamped to the rim."""
    half = 0.5 * (ground.factor - 1.0)
    return between_cells(ground.heights, row * ground.factor + half, col * ground.factor + half)


@kernel
def _heights(ground: Any, row: Any, col: Any) -> Any:
    found = np.empty(row.size)
    for at in range(row.size):
        found[at] = height_at(ground, row[at], col[at])
    return found


@inner_kernel
def _side(ground: Any, row: Any, col: Any, across_row: Any, across_col: Any) -> Any:
    """Return the slope across a leg at a place, 0 beside missing ground [-]."""
    left = height_at(ground, row - across_row, col - across_col)
    right = height_at(ground, row + across_row, col + across_col)
    side = abs(right - left) / (2.0 * ground.step_m)
    return 0.0 if math.isnan(side) else side


@inner_kernel
def _bench(terms: Any, side: Any) -> Any:
    """Return the price of the bench that a metre asks for; infinite where none can be cut."""
    if side <= terms.bench_from:
        return 0.0
    if side >= terms.cut:
        return np.inf
    return terms.bench * side / (1.0 - side / terms.cut)


@kernel
def _benches(ground: Any, terms: Any, points: Any, hung: Any) -> Any:
    """Return the price of all benches along a line; too steep ground is as the steepest."""
    total = 0.0
    for at in range(points.shape[0] - 1):
        if hung[at]:
            continue
        down = (points[at + 1, 0] - points[at, 0]) * ground.south_m
        right = (points[at + 1, 1] - points[at, 1]) * ground.east_m
        length = math.sqrt(down * down + right * right)
        if length == 0.0:
            continue
        steps = max(1, math.ceil(length / ground.step_m))
        across_row = right / length * ground.step_m / ground.south_m
        across_col = -down / length * ground.step_m / ground.east_m
        for k in range(steps):
            share = (k + 0.5) / steps
            row = points[at, 0] + (points[at + 1, 0] - points[at, 0]) * share
            col = points[at, 1] + (points[at + 1, 1] - points[at, 1]) * share
            side = _side(ground, row, col, across_row, across_col)
            total += length / steps * _bench(terms, min(side, 0.9 * terms.cut))
    return total


@inner_kernel
def _metre(
    ground: Any,
    field: Any,
    terms: Any,
    row: Any,
    col: Any,
    across_row: Any,
    across_col: Any,
    grade: Any,
) -> Any:
    """Return the price of a metre of ditch at a place, with bench and toll; infinite if closed."""
    rows, cols = field.shut.shape
    if row < -0.5 or col < -0.5 or row >= rows - 0.5 or col >= cols - 0.5:
        return np.inf
    r = int(row + 0.5)
    c = int(col + 0.5)
    if field.shut[r, c] != 0:
        return np.inf
    ditch = terms.trench
    if abs(grade) > terms.steep_from:
        ditch *= terms.steep_factor
    side = _side(ground, row, col, across_row, across_col)
    return ditch + _bench(terms, side) + field.extra[r, c]


@inner_kernel
def _strain(field: Any, row: Any, col: Any) -> Any:
    """Return the factor on the price at a place."""
    rows, cols = field.shut.shape
    r = min(max(int(row + 0.5), 0), rows - 1)
    return field.strain[r, min(max(int(col + 0.5), 0), cols - 1)]


@kernel
def dug_leg(
    ground: Any, field: Any, terms: Any, points: Any, at: Any, seen: Any, count: Any
) -> Any:
    """Return the price of the leg from a point to the next, and how many heights were seen.

    The heights on the way go into ``seen`` from ``count`` on.
    """
    down = (points[at + 1, 0] - points[at, 0]) * ground.south_m
    right = (points[at + 1, 1] - points[at, 1]) * ground.east_m
    length = math.sqrt(down * down + right * right)
    if length == 0.0:
        return np.inf, count
    steps = max(1, math.ceil(length / ground.step_m))
    flat = length / steps
    across_row = right / length * ground.step_m / ground.south_m
    across_col = -down / length * ground.step_m / ground.east_m
    total = 0.0
    # Beyond this the pipe lies above the intake's water even in the deepest trench.
    ceiling = terms.intake_m + terms.depth_m + terms.slack_m - HALF_PIPE_M
    here = height_at(ground, points[at, 0], points[at, 1])
    for k in range(1, steps + 1):
        row = points[at, 0] + (points[at + 1, 0] - points[at, 0]) * k / steps
        col = points[at, 1] + (points[at + 1, 1] - points[at, 1]) * k / steps
        there = height_at(ground, row, col)
        if math.isnan(there) or there > ceiling:
            return np.inf, count
        metre = _metre(
            ground, field, terms, row, col, across_row, across_col, (there - here) / flat
        )
        if metre == np.inf:
            return np.inf, count
        head = terms.intake_m - 0.5 * (here + there) + terms.depth_m
        pipe = field.by_head[min(max(int(head), 0), field.by_head.size - 1)]
        slope = math.sqrt(flat * flat + (there - here) * (there - here))
        total += _strain(field, row, col) * (flat * metre + pipe * slope)
        if count < seen.size:
            seen[count] = there
            count += 1
        here = there
    return total, count


@kernel
def hung_leg(ground: Any, field: Any, terms: Any, points: Any, at: Any) -> Any:
    """Return the price of a bridge from a point to the next."""
    down = (points[at + 1, 0] - points[at, 0]) * ground.south_m
    right = (points[at + 1, 1] - points[at, 1]) * ground.east_m
    here = height_at(ground, points[at, 0], points[at, 1])
    there = height_at(ground, points[at + 1, 0], points[at + 1, 1])
    head = terms.intake_m - 0.5 * (here + there) + terms.depth_m
    pipe = field.by_head[min(max(int(head), 0), field.by_head.size - 1)]
    flat = math.sqrt(down * down + right * right)
    return flat * terms.span + pipe * math.sqrt(flat * flat + (there - here) * (there - here))


@inner_kernel
def _turns(terms: Any, seen: Any, count: Any) -> Any:
    """Return the price of the summits and sags that stand out by more than can be dug through."""
    total = 0.0
    falling = True
    extreme = seen[0]
    for k in range(1, count):
        falling, extreme, price = turn(falling, extreme, seen[k], terms)
        total += price
    return total


@inner_kernel
def bend_price(ground: Any, y0: Any, x0: Any, y1: Any, x1: Any) -> Any:
    """Return the price of the bend between two legs [m]; beyond a right angle there is none.

    An arc of radius R begins R tan(angle / 2) before the corner, and has half of each leg at most.
    """
    turned = abs(math.atan2(x0 * y1 - y0 * x1, x0 * x1 + y0 * y1))
    angle = math.degrees(turned)
    if angle > 90.0:
        return np.inf
    if ground.radius_m > 0.0:
        shorter = min(x0 * x0 + y0 * y0, x1 * x1 + y1 * y1)
        if ground.radius_m * math.tan(0.5 * turned) > 0.5 * math.sqrt(shorter):
            return np.inf
    return ground.bend * (0.2 + min(1.0, angle / FULL_BEND_DEG))


@inner_kernel
def bend_at(ground: Any, points: Any, at: Any) -> Any:
    """Return the price of the turn at a point between two legs."""
    y0 = (points[at, 0] - points[at - 1, 0]) * ground.south_m
    x0 = (points[at, 1] - points[at - 1, 1]) * ground.east_m
    y1 = (points[at + 1, 0] - points[at, 0]) * ground.south_m
    x1 = (points[at + 1, 1] - points[at, 1]) * ground.east_m
    return bend_price(ground, y0, x0, y1, x1)


@inner_kernel
def bends_price(ground: Any, points: Any) -> Any:
    """Return the price of the turns between legs; a turn beyond a right angle is no line."""
    total = 0.0
    for at in range(1, points.shape[0] - 1):
        total += bend_at(ground, points, at)
    return total


@kernel
def whole_price(ground: Any, field: Any, terms: Any, points: Any, hung: Any, seen: Any) -> Any:
    """Return the price of a line of legs; infinite where it enters closed ground."""
    total = bends_price(ground, points)
    seen[0] = height_at(ground, points[0, 0], points[0, 1])
    count = 1
    for at in range(points.shape[0] - 1):
        if total == np.inf:
            return total
        if hung[at]:
            total += hung_leg(ground, field, terms, points, at)
            seen[count] = height_at(ground, points[at + 1, 0], points[at + 1, 1])
            count += 1
        else:
            price, count = dug_leg(ground, field, terms, points, at, seen, count)
            total += price
    return total + _turns(terms, seen, count)


@kernel
def leg_price(
    ground: Any, field: Any, terms: Any, points: Any, at: Any, hung: Any, seen: Any
) -> Any:
    """Return the price of one leg, dug or hung, and how many heights of it stand in ``seen``."""
    if not hung:
        return dug_leg(ground, field, terms, points, at, seen, 0)
    seen[0] = height_at(ground, points[at + 1, 0], points[at + 1, 1])
    return hung_leg(ground, field, terms, points, at), 1


def line_price(
    ground: Ground, field: Field, terms: Terms, points: FloatArray, hung: BoolArray
) -> float:
    """Return the price of a line of legs.

    Parameters
    ----------
    ground : Ground
        What legs are priced on
    field : Field
        Closed cells, tolls and pipe prices of the graph
    terms : Terms
        What a metre costs
    points : FloatArray, shape (n, 2)
        Rows and columns of its corners [cells]
    hung : BoolArray, shape (n - 1,)
        Legs that are bridges

    Returns
    -------
    price : float
        Infinite where it enters closed ground, or turns by more than a right angle [money]
    """
    seen = np.empty(MOST_SEEN)
    return float(whole_price.sized(10**6)(ground, field, terms, points, hung, seen))


def bench_price(ground: Ground, terms: Terms, points: FloatArray, hung: BoolArray) -> float:
    """Return what the benches along a line of legs cost, on slopes that ask for one.

    Parameters
    ----------
    ground : Ground
        What legs are priced on
    terms : Terms
        Price of a bench, the slopes from which one is cut and on which none can be
    points : FloatArray, shape (n, 2)
        Rows and columns of its corners [cells]
    hung : BoolArray, shape (n - 1,)
        Legs that are bridges, which need none

    Returns
    -------
    price : float
        Ground too steep to be benched is priced at nine tenths of the steepest slope [money]
    """
    return float(_benches.sized(10**6)(ground, terms, points, hung))


def ground_at(ground: Ground, row: FloatArray, col: FloatArray) -> FloatArray:
    """Return the bilinear heights of places.

    Parameters
    ----------
    ground : Ground
        The ground
    row, col : FloatArray, shape (n,)
        Rows and columns of the search's grid [cells]

    Returns
    -------
    height : FloatArray, shape (n,)
        Outside as at the rim; NaN where a cell beside the place is missing [m]
    """
    return np.asarray(_heights.sized(row.size)(ground, row, col), dtype=np.float64)
