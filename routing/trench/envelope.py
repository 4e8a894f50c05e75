"""Running envelopes of the ceiling, with the sums that price a stretch in a few look-ups.

The highest line that falls from a summit ``p`` by at least grade ``g`` is
``min(highest[p..i] + g s[p..i]) - g s[i]``. Its minimum is carried from station to station by a
chain of ever smaller values that is the same for every start, so the weighted sum along it is the
difference of two totals. Lines that rise to a summit are the mirror image.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray
from routing.compiled import kernel
from routing.value import dataclass

__all__ = ["Envelopes", "envelopes"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Envelopes:
    """Look-up tables over n stations for falling and rising envelopes of the ceiling."""

    falling_m: FloatArray
    """``highest + falling x station``, (n,) [m]."""
    rising_m: FloatArray
    """``highest - rising x station``, (n,) [m]."""
    falling_total: FloatArray
    """Weighted sum of the falling envelope from each start to the end, (n + 1,) [m2]."""
    rising_total: FloatArray
    """Weighted sum of the rising envelope from the start to each end, (n + 1,), shifted by one."""
    falling_least: IntArray
    """Sparse table: leftmost least of ``falling_m`` over 2**k stations, (levels, n)."""
    rising_least: IntArray
    """Sparse table: rightmost least of ``rising_m``, (levels, n)."""
    weight_sum: FloatArray
    """Running sum of the weights, (n + 1,) [m]."""
    moment_sum: FloatArray
    """Running sum of weight x station, (n + 1,) [m2]."""
    candidate: BoolArray
    """Interior stations at which a summit of the best line can lie, (n,)."""


def envelopes(
    station_m: FloatArray,
    highest_m: FloatArray,
    weight_m: FloatArray,
    *,
    rising: float,
    falling: float,
) -> Envelopes:
    """Return the tables for one ceiling and its least grades [-]."""
    fall = highest_m + falling * station_m
    rise = highest_m - rising * station_m
    weight_sum = np.concatenate(([0.0], np.cumsum(weight_m)))
    moment_sum = np.concatenate(([0.0], np.cumsum(weight_m * station_m)))
    totals = chain_totals.sized(6 * station_m.size)
    fall_total, rise_total = totals(fall, rise, weight_sum, moment_sum, falling, rising)
    candidate = np.zeros(station_m.size, dtype=np.bool_)
    # A summit may move to a neighbour that is higher by more than the least grade without
    # lowering any part of the line; so the best ones are where no neighbour is.
    no_better_right = (rise[2:] < rise[1:-1]) | (highest_m[2:] < highest_m[1:-1])
    no_better_left = (fall[:-2] <= fall[1:-1]) | (highest_m[:-2] <= highest_m[1:-1])
    candidate[1:-1] = no_better_right & no_better_left
    return Envelopes(
        falling_m=fall,
        rising_m=rise,
        falling_total=fall_total,
        rising_total=rise_total,
        falling_least=_sparse(fall, leftmost=True),
        rising_least=_sparse(rise, leftmost=False),
        weight_sum=weight_sum,
        moment_sum=moment_sum,
        candidate=candidate,
    )


def _sparse(values: FloatArray, *, leftmost: bool) -> IntArray:
    """Return the index of the least value over each run of 2**k stations, (levels, n)."""
    n = values.size
    levels = max(1, n.bit_length())
    table = np.zeros((levels, n), dtype=np.int64)
    table[0] = np.arange(n)
    for level in range(1, levels):
        half = 1 << (level - 1)
        width = n - 2 * half + 1
        if width <= 0:
            break
        left, right = table[level - 1, :width], table[level - 1, half : half + width]
        take_left = values[left] <= values[right] if leftmost else values[left] < values[right]
        table[level, :width] = np.where(take_left, left, right)
    return table


@kernel
def chain_totals(
    fall: FloatArray,
    rise: FloatArray,
    weight_sum: FloatArray,
    moment_sum: FloatArray,
    falling: float,
    rising: float,
) -> tuple[FloatArray, FloatArray]:
    """Return the totals along the chains of smaller values (see the class for their meaning)."""
    n = fall.size
    fall_total = np.zeros(n + 1)
    rise_total = np.zeros(n + 1)
    ahead = np.full(n, n, dtype=np.int64)
    for c in range(n - 1, -1, -1):
        nxt = c + 1
        while nxt < n and fall[nxt] >= fall[c]:
            nxt = ahead[nxt]
        ahead[c] = nxt
        fall_total[c] = (
            fall[c] * (weight_sum[nxt] - weight_sum[c])
            - falling * (moment_sum[nxt] - moment_sum[c])
            + fall_total[nxt]
        )
    for c in range(n):
        prv = c - 1
        while prv >= 0 and rise[prv] >= rise[c]:
            prv = ahead[prv]
        ahead[c] = prv
        rise_total[c + 1] = (
            rise[c] * (weight_sum[c + 1] - weight_sum[prv + 1])
            + rising * (moment_sum[c + 1] - moment_sum[prv + 1])
            + rise_total[prv + 1]
        )
    return fall_total, rise_total
