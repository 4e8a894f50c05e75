"""The best line through a corridor: fewest summits and sags, then least digging.

Given its summits, the highest line is known: from each summit it falls as slowly as it may under
the ceiling (a running least of ``highest + g s``) until it meets the line that rises, as slowly as
it may, to the next summit. Digging less means lying higher, so only the choice of summits is open.
They lie where the ceiling has a local top, every summit of a line with the fewest of them belongs
to one place in the order, and a dynamic programme over those few candidates gives the least
digging. Sums along the falling and rising envelopes are telescoped, so that the price of a stretch
between two summits costs a binary search.
"""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.trench.choice import Lane, Reaches, Sheared, choose, lay_stretch
from routing.trench.envelope import envelopes
from routing.trench.places import place_in_order
from routing.trench.reach import Reach, fewest_extremes, reach
from routing.value import dataclass

__all__ = ["GradeLine", "best_grade_line"]


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeLine:
    """The best line: elevations (n,) [m] and the summits and sags it was built from, by index."""

    elevation_m: FloatArray
    summits: IntArray
    sags: IntArray
    keeps_grade: bool

    def __post_init__(self) -> None:
        object.__setattr__(self, "elevation_m", frozen(self.elevation_m))
        object.__setattr__(self, "summits", frozen(self.summits, np.int64))
        object.__setattr__(self, "sags", frozen(self.sags, np.int64))


def best_grade_line(
    station_m: FloatArray,
    highest_m: FloatArray,
    lowest_m: FloatArray,
    *,
    rising: float = 0.0,
    falling: float = 0.0,
) -> GradeLine:
    """Return the line with fewest summits and sags, steep enough where it can be, then least dug.

    In this order: the fewest summits of any line between ``lowest`` and ``highest`` that breaks at
    stations; among those the fewest sags; then, where the least grades fit without a further summit
    or sag, they hold everywhere and the answer has the least area between the line and ``highest``
    (trapezoids over the stations), which is the least excavation for a trench of one width: that
    is exact. Otherwise the length below the least grades is kept short by a rule, not by proof: a
    stretch between two summits that cannot keep them has the sag that leaves least of it below
    grade, is laid as high as it goes at the least grade and follows the floor where that is not
    enough. :func:`~routing.trench.straight.straighten` puts a price on every metre that is left.

    Parameters
    ----------
    station_m : FloatArray
        Strictly rising, shape (n,), n >= 2 [m]
    highest_m, lowest_m : FloatArray
        Corridor, ``lowest <= highest``, shape (n,) [m]
    rising, falling : float
        Least grade of rising and falling stretches, >= 0 [-]

    Returns
    -------
    GradeLine
        Elevations, shape (n,) [m]; indices of its summits and sags

    Notes
    -----
    The count is that of the taut string, the line with the fewest local extremes of all [1]_; the
    tests compare both, and the digging with brute force over small corridors.

    References
    ----------
    .. [1] P. L. Davies and A. Kovac. *Local extremes, runs, strings and multiresolution*. The
       Annals of Statistics 29(1), 2001, pp. 1-65.

    Examples
    --------
    >>> line = best_grade_line(np.array([0.0, 1.0, 2.0, 3.0]), np.array([3.0, 1.0, 1.5, 0.0]),
    ...                        np.array([2.0, 0.0, 0.5, -1.0]))
    >>> line.elevation_m.tolist(), line.summits.tolist()
    ([3.0, 1.0, 1.0, 0.0], [])
    """
    plain = reach(station_m, highest_m, lowest_m, rising=0.0, falling=0.0)
    graded, keeps = plain, True
    if rising > 0.0 or falling > 0.0:
        graded = reach(station_m, highest_m, lowest_m, rising=rising, falling=falling)
        keeps = fewest_extremes(graded) == fewest_extremes(plain)
    lane = Lane(station_m, highest_m, lowest_m, float(falling), float(rising))
    route = _best_route(lane, plain, graded, keeps)
    elevation = np.empty(station_m.size)
    lay = lay_stretch.sized(10 * station_m.size)
    for p, q, r in route:
        lay(lane, p, q, r, elevation)
    last = station_m.size - 1
    return GradeLine(
        elevation_m=elevation,
        summits=np.array([p for p, _, _ in route if p > 0], dtype=np.int64),
        sags=np.array([q for _, q, _ in route if q not in (0, last)], dtype=np.int64),
        keeps_grade=keeps,
    )


def _best_route(lane: Lane, plain: Reach, graded: Reach, keeps: bool) -> list[tuple[int, int, int]]:
    """Return the chosen stretches as indices (summit or start, sag, summit or end)."""
    n = lane.station.size
    weight = np.zeros(n)
    weight[:-1] += np.diff(lane.station) / 2.0
    weight[1:] += np.diff(lane.station) / 2.0
    env = envelopes(lane.station, lane.highest, weight, rising=lane.rising, falling=lane.falling)
    # Without room for the least grade everywhere, summits are counted without it.
    counted = graded if keeps else plain
    order = place_in_order(env.candidate, counted.fall_to, counted.rise_from)
    nodes = np.flatnonzero(order >= 0)
    nodes = nodes[np.argsort(order[nodes], kind="stable")]
    starts = np.searchsorted(order[nodes], np.arange(order[n - 1] + 2)).astype(np.int64)
    sizes = np.diff(starts)
    pairs = int(np.sum(sizes[:-1] * sizes[1:]))
    sheared = Sheared(
        weight, env.falling_m, env.rising_m, env.falling_total, env.rising_total,
        env.falling_least, env.rising_least, env.weight_sum, env.moment_sum,
    )  # fmt: skip
    reaches = Reaches(
        counted.fall_to, counted.rise_from, graded.fall_to, graded.rise_from, bool(keeps)
    )
    before, sag_at = choose.sized(100 * pairs)(lane, sheared, reaches, nodes, starts)
    route: list[tuple[int, int, int]] = []
    b = nodes.size - 1
    while before[b] >= 0:
        route.append((int(nodes[before[b]]), int(sag_at[b]), int(nodes[b])))
        b = int(before[b])
    return route[::-1]
