"""The search for straights: the cheapest way to each level of each station, piece by piece.

The loops here run compiled; ``pieces_plain`` has the same in array operations for a short line. The
mathematics stands in ``straight``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.compiled import kernel

__all__ = [
    "BELOW_GRADE_M2",
    "SHORT_PIECE_M3",
    "SLACK",
    "Ground",
    "Rules",
    "Ways",
    "knots_of",
    "search",
    "traced",
]

SHORT_PIECE_M3 = 20.0
"""Price of a piece shorter than the least one [m3]: worth it for a turn or a grade (our own)."""
BELOW_GRADE_M2 = 100.0
"""Price of each metre below the least grade [m3/m]: no digging is worth it (our own)."""
NEAR, STRIDE = 24, 4
"""Stations from which on only every fourth is tried as the far end of a piece: wide and even ground
would make the search quadratic, and there one station more or less is worth next to nothing."""
SLACK = 1e-9
"""Rounding allowance in elevations [m]."""
TIE = 1e-6
"""Pieces that would have to cost less by more than this are not priced one by one [m3]."""


class Ground(NamedTuple):
    """The corridor along its stations, with the running integrals that price a piece."""

    station: FloatArray
    highest: FloatArray
    lowest: FloatArray
    ceiling: FloatArray
    """Of width times ceiling [m3]."""
    sums: FloatArray
    """Of width [m2]."""
    moments: FloatArray
    """Of width times station [m3]."""


class Rules(NamedTuple):
    """What a break, a short piece, a flat metre and a turn cost, and how far a piece may go."""

    price: float
    """Of a break [m3]."""
    least: float
    """Shortest piece wanted [m]."""
    longest: float
    """How far pieces are looked for [m]."""
    rising: float
    falling: float
    """The least grades [-]."""
    keeps: bool
    """Whether every piece must keep them."""
    turn: float
    """A price that nothing else on the line can outweigh [m3]."""


class Ways(NamedTuple):
    """The least cost to reach each level falling and rising, and the place before each.

    A place is ``station * levels + level``.
    """

    fall: FloatArray
    rise: FloatArray
    fall_from: IntArray
    rise_from: IntArray


class _Start(NamedTuple):
    """One station to leave: the costs of leaving its levels and the slopes that each sees."""

    place: int
    level: FloatArray
    down: FloatArray
    up: FloatArray
    low: FloatArray
    high: FloatArray


class _Span(NamedTuple):
    """What prices the pieces between two stations; ``flat_*`` the changes below the grades."""

    far: float
    base: float
    dug: float
    arm: float
    flat_low: float
    flat_high: float
    flat_price: float


@kernel
def search(ground: Ground, level: FloatArray, may_break: BoolArray, rules: Rules) -> Ways:
    """Return the cheapest ways to each level, (stations, levels), highest first.

    A summit costs two turns, a sag one: of lines with equally many summits the fewest sags wins,
    and one summit more is never made good by sags.
    """
    n, count = level.shape
    price, turn = rules.price, rules.turn
    fall, rise = np.full((n, count), np.inf), np.full((n, count), np.inf)
    fall_from = np.full((n, count), -1, dtype=np.int64)
    ways = Ways(fall, rise, fall_from, fall_from.copy())
    fall[0, :], rise[0, :] = -price, -price
    down, up = np.empty(count), np.empty(count)
    low, high = np.empty(count), np.empty(count)
    for j in range(n - 1):
        if not may_break[j]:
            continue
        for k in range(count):
            down[k], up[k] = fall[j, k] + price, rise[j, k] + price
            low[k], high[k] = -np.inf, np.inf
            doubled = k > 0 and level[j, k] == level[j, k - 1]
            if doubled or (down[k] == np.inf and up[k] == np.inf):
                high[k] = -np.inf
            elif j > 0:
                down[k] = min(down[k], up[k] + 2.0 * turn)
                up[k] = min(up[k], fall[j, k] + price + turn)
        start = _Start(j * count, level[j], down, up, low, high)
        look_ahead(j, start, ground, level, may_break, rules, ways)
    return ways


@kernel
def look_ahead(
    j: int,
    start: _Start,
    ground: Ground,
    level: FloatArray,
    may_break: BoolArray,
    rules: Rules,
    ways: Ways,
) -> None:
    """Price every piece that starts at station ``j``; keep what is cheaper."""
    n, count = level.shape
    station, lowest, highest = ground.station, ground.lowest, ground.highest
    ceiling, sums, moments = ground.ceiling, ground.sums, ground.moments
    z, low, high = start.level, start.low, start.high
    for i in range(j + 1, n):
        far = station[i] - station[j]
        if far > rules.longest and i > j + NEAR:
            break
        each, floor, ceil = 1.0 / far, lowest[i] - SLACK, highest[i] + SLACK
        seen = 0
        for k in range(count):
            least, most = (floor - z[k]) * each, (ceil - z[k]) * each
            low[k] = least if least > low[k] else low[k]
            high[k] = most if most < high[k] else high[k]
            seen += low[k] <= high[k]
        if seen == 0:
            break
        if not may_break[i] or (i > j + NEAR and i % STRIDE != 0 and i != n - 1):
            continue
        dug = sums[i] - sums[j]
        arm = (moments[i] - moments[j] - station[j] * dug) / far
        base = ceiling[i] - ceiling[j] + (SHORT_PIECE_M3 if far < rules.least - SLACK else 0.0)
        flat_price = np.inf if rules.keeps else BELOW_GRADE_M2 * far
        # Changes of level between these two are flatter than the least grade.
        flat = (SLACK - rules.falling * far, rules.rising * far - SLACK)
        span = _Span(far, base, dug, arm, flat[0], flat[1], flat_price)
        to = Ways(ways.fall[i], ways.rise[i], ways.fall_from[i], ways.rise_from[i])
        price_pieces(start, span, level[i], to)


@kernel
def price_pieces(start: _Start, span: _Span, level: FloatArray, ways: Ways) -> None:
    """Price the pieces from the levels of one station to those of another.

    Cost is linear in both levels, so that one look at the dearest level reached tells whether a
    start can better any.
    """
    fall, rise, fall_from, rise_from = ways
    base, dug, arm = span.base, span.dug, span.arm
    falls = rises = -np.inf
    for m in range(level.size):
        falls = max(falls, fall[m] + level[m] * arm)
        rises = max(rises, rise[m] + level[m] * arm)
    for k in range(start.level.size):
        z, down, up = start.level[k], start.down[k], start.up[k]
        if start.low[k] > start.high[k]:
            continue
        least = base - z * dug + z * arm - TIE
        may_fall = least + down < falls and level[-1] <= z + SLACK
        may_rise = least + up < rises and level[0] >= z - SLACK
        if not (may_fall or may_rise):
            continue
        lowest, highest = z + start.low[k] * span.far, z + start.high[k] * span.far
        for m in range(level.size):
            if level[m] > highest:
                continue
            if level[m] < lowest:
                break
            change = level[m] - z
            cost = base - z * dug - change * arm
            if span.flat_low < change < span.flat_high:
                cost += span.flat_price
            if change <= SLACK and cost + down < fall[m]:
                fall[m], fall_from[m] = cost + down, start.place + k
            if change >= -SLACK and cost + up < rise[m]:
                rise[m], rise_from[m] = cost + up, start.place + k


@kernel
def traced(ways: Ways, level: FloatArray, turn: float, place: int, rising: bool) -> IntArray:
    """Return the places of the cheapest way that ends at a place falling or rising, first first."""
    count = level.shape[1]
    places = np.empty(level.shape[0], dtype=np.int64)
    first = places.size - 1
    places[first] = place
    while place >= count:
        station, k = place // count, place % count
        place = ways.rise_from[station, k] if rising else ways.fall_from[station, k]
        station, k = place // count, place % count
        # The line arrived there in the sense that was cheaper to go on from as it did.
        up, down = ways.rise[station, k], ways.fall[station, k]
        rising = up <= down + turn if rising else up + 2.0 * turn < down
        first -= 1
        places[first] = place
    return places[first:]


@kernel
def knots_of(station_m: FloatArray, breaks: IntArray, z: FloatArray) -> IntArray:
    """Return the breaks where the line through them bends by more than rounding, and both ends."""
    kept = np.empty(breaks.size, dtype=np.int64)
    kept[0], last = breaks[0], 0
    for b in range(1, breaks.size - 1):
        before, at, after = kept[last], breaks[b], breaks[b + 1]
        share = (station_m[at] - station_m[before]) / (station_m[after] - station_m[before])
        if abs(z[before] + share * (z[after] - z[before]) - z[at]) > SLACK:
            last += 1
            kept[last] = at
    kept[last + 1] = breaks[-1]
    return kept[: last + 2]
