"""A line of few straight legs, priced on the ground as it is, made cheaper by its own corners.

Each corner is moved as long as that makes the line cheaper, and one that does not earn its keep is
left out.
"""

from __future__ import annotations

import math
from typing import Any

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.compiled import kernel
from routing.search.graph import Field, Terms
from routing.search.legs import (
    MOST_SEEN,
    Ground,
    bends_price,
    height_at,
    leg_price,
    turns_along,
    whole_price,
)

__all__ = ["smoothed"]


@kernel
def _moved(
    ground: Any, field: Any, terms: Any, points: Any, hung: Any, fixed: Any, seen: Any
) -> Any:
    """Move points as long as that makes the line cheaper; return the line's price.

    Prices and heights of the legs are kept; a move asks for the two legs beside it only. Rows
    ``legs`` and ``legs + 1`` of ``seen`` hold those of the move that is tried.
    """
    legs = points.shape[0] - 1
    price = np.empty(legs)
    counts = np.zeros(legs + 2, dtype=np.int64)
    order = np.arange(legs)
    first = height_at(ground, points[0, 0], points[0, 1])
    for leg in range(legs):
        price[leg], counts[leg] = leg_price(ground, field, terms, points, leg, hung[leg], seen[leg])
    best = (
        price.sum() + bends_price(ground, points) + turns_along(terms, first, seen, counts, order)
    )
    reach = 2.0
    while reach >= 0.2:
        better = False
        for at in range(1, legs):
            if fixed[at]:
                continue
            row = points[at, 0]
            col = points[at, 1]
            for k in range(8):
                points[at, 0] = row + reach * math.sin(k * math.pi / 4.0)
                points[at, 1] = col + reach * math.cos(k * math.pi / 4.0)
                one, counts[legs] = leg_price(
                    ground, field, terms, points, at - 1, False, seen[legs]
                )
                two, counts[legs + 1] = leg_price(
                    ground, field, terms, points, at, False, seen[legs + 1]
                )
                rest = price.sum() - price[at - 1] - price[at] + one + two
                if rest >= best:
                    continue
                order[at - 1] = legs
                order[at] = legs + 1
                tried = rest + bends_price(ground, points)
                tried += turns_along(terms, first, seen, counts, order)
                order[at - 1] = at - 1
                order[at] = at
                if tried < best - 1e-9 * abs(best):
                    best = tried
                    row = points[at, 0]
                    col = points[at, 1]
                    price[at - 1] = one
                    price[at] = two
                    for side in range(2):
                        leg = at - 1 + side
                        counts[leg] = counts[legs + side]
                        seen[leg, : counts[leg]] = seen[legs + side, : counts[leg]]
                    better = True
            points[at, 0] = row
            points[at, 1] = col
        if not better:
            reach *= 0.5
    return best


@kernel
def _fewer(
    ground: Any, field: Any, terms: Any, points: Any, hung: Any, fixed: Any, seen: Any
) -> Any:
    """Return the number of a point without which the line is no dearer, 0 if there is none."""
    best = whole_price(ground, field, terms, points, hung, seen)
    kept = np.empty((points.shape[0] - 1, 2))
    flags = np.empty(hung.size - 1, dtype=np.bool_)
    for at in range(1, points.shape[0] - 1):
        if fixed[at]:
            continue
        kept[:at] = points[:at]
        kept[at:] = points[at + 1 :]
        flags[:at] = hung[:at]
        flags[at:] = hung[at + 1 :]
        if whole_price(ground, field, terms, kept, flags, seen) <= best:
            return at
    return 0


def smoothed(
    ground: Ground, field: Field, terms: Terms, points: FloatArray, hung: BoolArray
) -> tuple[FloatArray, BoolArray, float]:
    """Return a line with its corners moved and left out as long as that makes it cheaper.

    Parameters
    ----------
    ground : Ground
        What legs are priced on
    field : Field
        Closed cells, tolls and pipe prices of the graph
    terms : Terms
        What a metre costs
    points : FloatArray, shape (n, 2)
        Rows and columns of the line; the ends stay [cells]
    hung : BoolArray, shape (n - 1,)
        Legs that are bridges; their ends stay

    Returns
    -------
    points, hung, price
        The line; the price is infinite where its legs do not keep out of closed ground [money]
    """
    work = 10**6  # always worth compiling
    told, seen = (ground, field, terms), np.empty(MOST_SEEN)
    line, legs = points.copy(), hung
    while True:
        room = np.empty((legs.size + 2, _most_seen(ground, line)))
        price = _moved.sized(work)(*told, line, legs, _ends_of(legs), room)
        if not np.isfinite(price):  # no move mends it, and without points it says nothing
            return line, legs, np.inf
        out = int(_fewer.sized(work)(*told, line, legs, _ends_of(legs), seen))
        if not out:
            return line, legs, float(price)
        while out:
            line, legs = np.delete(line, out, axis=0), np.delete(legs, out)
            out = int(_fewer.sized(work)(*told, line, legs, _ends_of(legs), seen))


def _most_seen(ground: Ground, points: FloatArray) -> int:
    """Return how many heights a leg may have when points move."""
    size = np.hypot(
        float(np.ptp(points[:, 0])) * ground.south_m, float(np.ptp(points[:, 1])) * ground.east_m
    )
    return int((size + 40.0 * (ground.south_m + ground.east_m)) / ground.step_m) + 10


def _ends_of(hung: BoolArray) -> BoolArray:
    """Return the points at the end of a bridge."""
    ends = np.zeros(hung.size + 1, dtype=np.bool_)
    ends[:-1] |= hung
    ends[1:] |= hung
    return ends
