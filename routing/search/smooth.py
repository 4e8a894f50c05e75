"""A line of few straight legs, priced on the ground as it is, made cheaper by its own corners.

Each corner is moved as long as that makes the line cheaper, and one that does not earn its keep is
left out. What is known of the legs is kept, so that a change asks for the legs beside it only; a
line's price is always the same sum in the same order.
"""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray
from routing.compiled import inner_kernel, kernel
from routing.search.graph import Field, Terms
from routing.search.legs import Ground, bend_at, height_at, leg_price
from routing.search.turns import turn

__all__ = ["Legs", "legs_of", "smoothed"]


class Legs(NamedTuple):
    """What is kept of a line of n legs; the last two rows are those of a change that is tried.

    Of each leg the price [money], and its heights [m], the first ``counts`` of a row; of the corner
    before it the bend's price; of the line before each leg, and at its end, the state of its turns
    and what those so far cost [money] and count.
    """

    price: Any
    counts: Any
    seen: Any
    bends: Any
    falling: Any
    top: Any
    paid: Any
    turns: Any


def legs_of(ground: Ground, points: FloatArray) -> Legs:
    """Return room for what is kept of a line."""
    size = np.hypot(
        float(np.ptp(points[:, 0])) * ground.south_m, float(np.ptp(points[:, 1])) * ground.east_m
    )
    # Corners may leave the line's rectangle by so much.
    most = int((size + 40.0 * (ground.south_m + ground.east_m)) / ground.step_m) + 10
    legs = len(points) - 1
    return Legs(
        price=np.empty(legs + 2),
        counts=np.zeros(legs + 2, dtype=np.int64),
        seen=np.empty((legs + 2, most)),
        bends=np.zeros(legs),
        falling=np.ones(legs + 1, dtype=np.bool_),
        top=np.empty(legs + 1),
        paid=np.zeros(legs + 1),
        turns=np.zeros(legs + 1, dtype=np.int64),
    )


@inner_kernel
def _through(terms: Any, heights: Any, falling: Any, top: Any, paid: Any, turns: Any) -> Any:
    """Return the state of a line after some heights, what its turns cost and how many they are."""
    for here in heights:
        before = falling
        falling, top, price = turn(falling, top, here, terms)
        if falling != before:
            paid += price
            turns += 1
    return falling, top, paid, turns


@kernel
def _turn_on(terms: Any, kept: Any, since: Any) -> Any:
    """Put down the state of a line after each leg from one on."""
    for leg in range(since, kept.turns.size - 1):
        kept.falling[leg + 1], kept.top[leg + 1], kept.paid[leg + 1], kept.turns[leg + 1] = (
            _through(
                terms,
                kept.seen[leg, : kept.counts[leg]],
                kept.falling[leg],
                kept.top[leg],
                kept.paid[leg],
                kept.turns[leg],
            )
        )


@kernel
def _turned(terms: Any, kept: Any, before: Any, new: Any, onward: Any) -> Any:
    """Return what all turns cost if ``new`` legs of those tried stood between two legs.

    Once the line is in the state that it was in without them, the turns that follow are the same.
    """
    falling, top = kept.falling[before], kept.top[before]
    paid, turns = kept.paid[before], kept.turns[before]
    legs = kept.turns.size - 1
    for leg in range(legs, legs + new):
        falling, top, paid, turns = _through(
            terms, kept.seen[leg, : kept.counts[leg]], falling, top, paid, turns
        )
    for leg in range(onward, legs):
        if falling == kept.falling[leg] and top == kept.top[leg]:
            for _ in range(kept.turns[legs] - kept.turns[leg]):
                paid += terms.drain if falling else terms.vent
                falling = not falling
            return paid
        falling, top, paid, turns = _through(
            terms, kept.seen[leg, : kept.counts[leg]], falling, top, paid, turns
        )
    return paid


@kernel
def _look(ground: Any, field: Any, terms: Any, points: Any, hung: Any, kept: Any) -> Any:
    """Put down all that is kept of a line."""
    kept.top[0] = height_at(ground, points[0, 0], points[0, 1])
    for leg in range(hung.size):
        kept.price[leg], kept.counts[leg] = leg_price(
            ground, field, terms, points, leg, hung[leg], kept.seen[leg]
        )
        if leg > 0:
            kept.bends[leg] = bend_at(ground, points, leg)
    _turn_on(terms, kept, 0)


@inner_kernel
def _tried(ground: Any, field: Any, terms: Any, points: Any, kept: Any, at: Any, best: Any) -> Any:
    """Return what the line costs with a point moved, or something no less than ``best``."""
    legs = points.shape[0] - 1
    price = kept.bends.sum()
    if price == np.inf:
        return price
    for side in range(2):
        kept.price[legs + side], kept.counts[legs + side] = leg_price(
            ground, field, terms, points, at - 1 + side, False, kept.seen[legs + side]
        )
    rest = kept.price[:legs].sum() - kept.price[at - 1] - kept.price[at]
    price = rest + kept.price[legs] + kept.price[legs + 1] + price
    if price < best:
        price += _turned(terms, kept, at - 1, 2, at + 1)
    return price


@inner_kernel
def _take(terms: Any, kept: Any, at: Any) -> Any:
    """Keep the two legs tried for those beside a point."""
    legs = kept.bends.size
    for side in range(2):
        leg = at - 1 + side
        kept.price[leg] = kept.price[legs + side]
        kept.counts[leg] = kept.counts[legs + side]
        kept.seen[leg, : kept.counts[leg]] = kept.seen[legs + side, : kept.counts[leg]]
    _turn_on(terms, kept, at - 1)


@kernel
def _moved(
    ground: Any, field: Any, terms: Any, points: Any, hung: Any, fixed: Any, kept: Any
) -> Any:
    """Move points as long as that makes the line cheaper; return the line's price."""
    legs = points.shape[0] - 1
    _look(ground, field, terms, points, hung, kept)
    bends = np.empty(legs)
    best = kept.price[:legs].sum() + kept.bends.sum() + kept.paid[legs]
    reach = 2.0
    while reach >= 0.2:
        better = False
        for at in range(1, legs):
            if fixed[at]:
                continue
            row = points[at, 0]
            col = points[at, 1]
            first = max(at - 1, 1)
            onward = min(at + 2, legs)
            for k in range(8):
                points[at, 0] = row + reach * math.sin(k * math.pi / 4.0)
                points[at, 1] = col + reach * math.cos(k * math.pi / 4.0)
                bends[first:onward] = kept.bends[first:onward]
                for bend in range(first, onward):
                    kept.bends[bend] = bend_at(ground, points, bend)
                tried = _tried(ground, field, terms, points, kept, at, best)
                if tried < best - 1e-9 * abs(best):
                    best = tried
                    row = points[at, 0]
                    col = points[at, 1]
                    _take(terms, kept, at)
                    better = True
                else:
                    kept.bends[first:onward] = bends[first:onward]
            points[at, 0] = row
            points[at, 1] = col
        if not better:
            reach *= 0.5
    return best


@kernel
def _fewer(
    ground: Any, field: Any, terms: Any, points: Any, hung: Any, fixed: Any, kept: Any
) -> Any:
    """Return the number of a point without which the line is no dearer, 0 if there is none."""
    legs = points.shape[0] - 1
    _look(ground, field, terms, points, hung, kept)
    best = kept.bends.sum()
    for leg in range(legs):
        best += kept.price[leg]
    best += kept.paid[legs]
    line = np.empty((4, 2))
    for at in range(1, legs):
        if fixed[at]:
            continue
        first = max(at - 2, 0)
        last = min(at + 2, legs)
        line[: at - first] = points[first:at]
        line[at - first : last - first] = points[at + 1 : last + 1]
        tried = 0.0
        for bend in range(1, at - 1):
            tried += kept.bends[bend]
        for bend in range(1, last - first - 1):
            tried += bend_at(ground, line, bend)
        for bend in range(at + 2, legs):
            tried += kept.bends[bend]
        if not tried < np.inf:
            continue
        new, kept.counts[legs] = leg_price(
            ground, field, terms, line, at - 1 - first, False, kept.seen[legs]
        )
        for leg in range(at - 1):
            tried += kept.price[leg]
        tried += new
        for leg in range(at + 1, legs):
            tried += kept.price[leg]
        if tried <= best and tried + _turned(terms, kept, at - 1, 1, at + 1) <= best:
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
    told = (ground, field, terms)
    line, legs = points.copy(), hung
    while True:
        price = _moved.sized(work)(*told, line, legs, _ends_of(legs), legs_of(ground, line))
        if not np.isfinite(price):  # no move mends it, and without points it says nothing
            return line, legs, np.inf
        found = len(line)
        while out := int(
            _fewer.sized(work)(*told, line, legs, _ends_of(legs), legs_of(ground, line))
        ):
            line, legs = np.delete(line, out, axis=0), np.delete(legs, out)
        if len(line) == found:
            return line, legs, float(price)


def _ends_of(hung: BoolArray) -> BoolArray:
    """Return the points at the end of a bridge."""
    ends = np.zeros(hung.size + 1, dtype=np.bool_)
    ends[:-1] |= hung
    ends[1:] |= hung
    return ends
