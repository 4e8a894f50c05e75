"""Which summits and sags: the price of a stretch between two, and the dynamic programme.

The loops here run interpreted for one ordinary line and compiled for long lines and services; the
mathematics stands in ``grade_line``.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.compiled import kernel

__all__ = ["Lane", "Reaches", "Sheared", "choose", "lay_stretch"]


class Lane(NamedTuple):
    """The corridor over stations (n,) [m], and the least grades down and up [-]."""

    station: FloatArray
    highest: FloatArray
    lowest: FloatArray
    falling: float
    rising: float


class Sheared(NamedTuple):
    """The ceiling sheared by the least grades, with what makes sums along it differences."""

    weight: FloatArray
    fall: FloatArray
    rise: FloatArray
    fall_total: FloatArray
    rise_total: FloatArray
    fall_least: IntArray
    rise_least: IntArray
    weight_sum: FloatArray
    moment_sum: FloatArray


class Reaches(NamedTuple):
    """How far a line falls from each station and from how far it rises to it: at all, at grade."""

    plain_fall_to: IntArray
    plain_rise_from: IntArray
    fall_to: IntArray
    rise_from: IntArray
    keeps: bool


class Between(NamedTuple):
    """Two summits, the sags that fit between them (at grade, at all), and one-piece lines."""

    p: int
    r: int
    low: int
    high: int
    plain_low: int
    plain_high: int
    may_rise: bool
    may_fall: bool


@kernel
def least_left(table: IntArray, values: FloatArray, first: int, last: int) -> int:
    """Return the index of the leftmost least value in ``first..last``."""
    level = 0
    while (2 << level) <= last - first + 1:
        level += 1
    i = table[level, first]
    j = table[level, last - (1 << level) + 1]
    return int(i if values[i] <= values[j] else j)


@kernel
def least_right(table: IntArray, values: FloatArray, first: int, last: int) -> int:
    """Return the index of the rightmost least value in ``first..last``."""
    level = 0
    while (2 << level) <= last - first + 1:
        level += 1
    i = table[level, first]
    j = table[level, last - (1 << level) + 1]
    return int(j if values[j] <= values[i] else i)


@kernel
def price(lane: Lane, sheared: Sheared, p: int, q: int, r: int) -> float:
    """Return the weighted elevation of the highest line summit p, sag q, summit r.

    Station p is left out unless it is the start of the line, so that stretches add up.
    """
    station, falling, rising = lane.station, lane.falling, lane.rising
    weight, fall, rise = sheared.weight, sheared.fall, sheared.rise
    fall_total, rise_total = sheared.fall_total, sheared.rise_total
    fall_least, rise_least = sheared.fall_least, sheared.rise_least
    weight_sum, moment_sum = sheared.weight_sum, sheared.moment_sum
    c = least_left(fall_least, fall, p, q)
    low_left = fall[c] - falling * station[q]
    d = least_right(rise_least, rise, q, r)
    low_right = rise[d] + rising * station[q]
    total = weight[q] * min(low_left, low_right)
    if q > p:
        c = least_left(fall_least, fall, p, q - 1)
        total += fall_total[p] - fall_total[c]
        total += fall[c] * (weight_sum[q] - weight_sum[c])
        total -= falling * (moment_sum[q] - moment_sum[c])
        if p > 0:
            total -= weight[p] * (fall[p] - falling * station[p])
    if q < r:
        d = least_right(rise_least, rise, q + 1, r)
        total += rise_total[r + 1] - rise_total[d + 1]
        total += rise[d] * (weight_sum[d + 1] - weight_sum[q + 1])
        total += rising * (moment_sum[d + 1] - moment_sum[q + 1])
    return float(total)


@kernel
def crossing(lane: Lane, sheared: Sheared, p: int, r: int, low: int, high: int) -> int:
    """Return the last station in ``low..high`` where the falling envelope is the upper one.

    ``low - 1`` if there is none.
    """
    station, falling, rising = lane.station, lane.falling, lane.rising
    fall, rise = sheared.fall, sheared.rise
    fall_least, rise_least = sheared.fall_least, sheared.rise_least
    first, last = low - 1, high
    while first < last:
        middle = (first + last + 1) // 2
        c = least_left(fall_least, fall, p, middle)
        d = least_right(rise_least, rise, middle, r)
        left = fall[c] - falling * station[middle]
        right = rise[d] + rising * station[middle]
        if left >= right:
            first = middle
        else:
            last = middle - 1
    return first


@kernel
def lay_stretch(lane: Lane, p: int, q: int, r: int, out: FloatArray) -> float:
    """Write the line summit p, sag q, summit r to ``out[p..r]``; return the length below grade.

    It lies as high as the ceiling and the least grades let it, and follows the floor where the
    least grade would leave the corridor.
    """
    station, highest, lowest, falling, rising = lane
    n = station.size
    floor = lowest[q]
    out[q] = floor
    for i in range(q - 1, p - 1, -1):
        floor = max(floor, lowest[i])
        out[i] = floor
    floor = lowest[q]
    for i in range(q + 1, r + 1):
        floor = max(floor, lowest[i])
        out[i] = floor
    left = np.inf
    if q > p or p == 0:
        ceiling = highest[p]
        left = ceiling
        for i in range(p + 1, q + 1):
            ceiling = min(ceiling, highest[i])
            slow = left - falling * (station[i] - station[i - 1])
            if i - 1 > p or q > p:
                out[i - 1] = left
            left = min(ceiling, max(slow, out[i]))
    right = np.inf
    if r > q or r == n - 1:
        ceiling = highest[r]
        right = ceiling
        for i in range(r - 1, q - 1, -1):
            ceiling = min(ceiling, highest[i])
            slow = right - rising * (station[i + 1] - station[i])
            out[i + 1] = right
            right = min(ceiling, max(slow, out[i]))
    out[q] = min(left, right)
    short = 0.0
    for i in range(p, r):
        step = station[i + 1] - station[i]
        drop = out[i] - out[i + 1]
        if i < q:
            if drop < falling * step - 1e-9:
                short += step
        elif -drop < rising * step - 1e-9:
            short += step
    return short


@kernel
def improves(
    sags: float,
    short: float,
    gain: float,
    best_sags: float,
    best_short: float,
    best_gain: float,
) -> bool:
    """Return whether one line beats another: fewer sags, then less below grade, then less dug.

    Differences of rounding are no gain, so that of equals the first stays.
    """
    if sags != best_sags:
        return sags < best_sags
    if abs(short - best_short) > 1e-9:
        return short < best_short
    return gain > best_gain + 1e-12 * abs(best_gain)


@kernel
def flattest_sag(lane: Lane, p: int, r: int, low: int, high: int, metres: FloatArray) -> int:
    """Return the sag in ``low..high`` that leaves the least length below grade from p to r.

    Sheared by the least grade a line may only sink, but for stretches below grade, which win back
    height at that grade when they are level. So the floor's rises above the lowest ceiling since p
    count the metres, from both sides. Of equals the last counts. ``metres`` is room to work in.
    """
    station, highest, lowest, falling, rising = lane
    u, length = highest[p] + falling * station[p], 0.0
    for i in range(p, r + 1):
        u = min(u, highest[i] + falling * station[i])
        floor = lowest[i] + falling * station[i]
        if floor > u:
            length += (floor - u) / max(falling, 1e-9)
            u = floor
        metres[i] = length
    u, length = highest[r] - rising * station[r], 0.0
    best, least = high, np.inf
    for i in range(r, p - 1, -1):
        u = min(u, highest[i] - rising * station[i])
        floor = lowest[i] - rising * station[i]
        if floor > u:
            length += (floor - u) / max(rising, 1e-9)
            u = floor
        if low <= i <= high and metres[i] + length < least - 1e-9:
            best, least = i, metres[i] + length
    return best


@kernel
def sag_tries(
    lane: Lane, sheared: Sheared, between: Between, room: FloatArray, tries: IntArray
) -> int:
    """Write the sags worth trying between summits p and r to ``tries``; return how many.

    A line of one piece, falling to the end or rising from the start, comes first, so that of
    equals the falling one is taken. Then where the two envelopes meet, within ``low..high`` where
    the least grades fit, else near the lowest ceiling and where least of the way is below grade.
    """
    p, r, low, high, plain_low, plain_high, may_rise, may_fall = between
    last = lane.station.size - 1
    count = 0
    if may_fall and r == last:
        tries[count] = last
        count += 1
    if low <= high:
        x = crossing(lane, sheared, p, r, low, high)
        tries[count] = min(max(x, low), high)
        count += 1
        if low <= x < high:
            tries[count] = x + 1
            count += 1
    elif plain_low <= plain_high:
        d = least_right(sheared.rise_least, sheared.rise, p, r)
        tries[count] = min(max(d, plain_low), plain_high)
        tries[count + 1] = flattest_sag(lane, p, r, plain_low, plain_high, room)
        count += 2
    if may_rise and p == 0:
        tries[count] = 0
        count += 1
    return count


@kernel
def choose(
    lane: Lane, sheared: Sheared, reaches: Reaches, nodes: IntArray, starts: IntArray
) -> tuple[IntArray, IntArray]:
    """Return for each node the node before it and the sag between, on the best line to it.

    ``nodes`` are the stations in use, grouped by place (``starts``); best means fewest sags, then
    shortest below the least grade, then the greatest weighted elevation.
    """
    plain_fall_to, plain_rise_from, fall_to, rise_from, keeps = reaches
    weight = sheared.weight
    last = lane.station.size - 1
    m = nodes.size
    sags = np.full(m, np.inf)
    short = np.full(m, np.inf)
    gain = np.full(m, -1e300)
    before = np.full(m, -1, dtype=np.int64)
    sag_at = np.full(m, -1, dtype=np.int64)
    out = np.empty(lane.station.size)
    tries = np.empty(4, dtype=np.int64)
    sags[0], short[0], gain[0] = 0.0, 0.0, 0.0
    place = 0
    for b in range(1, m):
        while b >= starts[place + 1]:
            place += 1
        r = nodes[b]
        for a in range(starts[place - 1], starts[place]):
            p = nodes[a]
            # A summit inside the line has its sags beside it: one on it would count twice.
            first, final = p + (p > 0), r - (r < last)
            plain_low, plain_high = max(first, plain_rise_from[r]), min(final, plain_fall_to[p])
            if p >= r or plain_low > plain_high or sags[a] == np.inf:
                continue
            low, high = max(first, rise_from[r]), min(final, fall_to[p])
            may_rise = plain_low == 0 and (not keeps or low == 0)
            may_fall = plain_high == last and (not keeps or high == last)
            between = Between(p, r, low, high, plain_low, plain_high, may_rise, may_fall)
            count = sag_tries(lane, sheared, between, out, tries)
            for t in range(count):
                q = tries[t]
                new_short, new_gain = short[a], gain[a]
                if low <= q <= high:
                    new_gain += price(lane, sheared, p, q, r)
                else:
                    new_short += lay_stretch(lane, p, q, r, out)
                    for i in range(p if p == 0 else p + 1, r + 1):
                        new_gain += weight[i] * out[i]
                one_piece = (p == 0 and q == 0) or (r == last and q == last)
                new_sags = sags[a] + (0.0 if one_piece else 1.0)
                if improves(new_sags, new_short, new_gain, sags[b], short[b], gain[b]):
                    sags[b], short[b], gain[b] = new_sags, new_short, new_gain
                    before[b], sag_at[b] = a, q
    return before, sag_at
