"""Humps that could be dug through a little beyond the depth limit, each with its price."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray
from routing.trench.choice import Lane, lay_stretch
from routing.trench.grade_line import GradeLine
from routing.value import dataclass

__all__ = ["MOST_EXTRA_DEPTH_M", "DigOffer", "dig_offers"]

MOST_EXTRA_DEPTH_M = 1.5
"""Humps that need more extra depth than this are not offered [m] (our own choice)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DigOffer:
    """What it costs to lay the pipe through one summit without a high point.

    ``extra_depth_m`` is the most by which the trench would pass the depth limit, ``depth_m`` the
    depth that it would have, ``extra_area_m2`` the further area dug in the profile; all between
    the two stations.
    """

    index: int
    station_m: float
    from_m: float
    to_m: float
    extra_depth_m: float
    depth_m: float
    extra_area_m2: float


def dig_offers(
    station_m: FloatArray,
    highest_m: FloatArray,
    lowest_m: FloatArray,
    line: GradeLine,
    *,
    needed_m: FloatArray,
    rising: float,
    falling: float,
) -> tuple[DigOffer, ...]:
    """Return an offer for each summit that could be dug through within 1.5 m beyond the limit.

    The pipe keeps the least grades, so the offer is not optimistic; only the depth limit gives
    way, and only between the summits beside the hump. ``needed_m`` is the depth of the trench at
    each station with the pipe at its highest.
    """
    n = station_m.size
    knots = [0, *(int(i) for i in line.summits), n - 1]
    z = line.elevation_m
    lane = Lane(station_m, highest_m, np.full(n, -np.inf), float(falling), float(rising))
    out = np.empty(n)
    lay = lay_stretch.sized(6 * n)
    offers = []
    for p, summit, r in zip(knots[:-2], knots[1:-1], knots[2:], strict=True):
        part = slice(p, r + 1)
        best = None
        for q in _sag_choices(station_m, highest_m, p, r, n, rising=rising, falling=falling):
            lay(lane, p, q, r, out)
            deepest = float(np.max(lowest_m[part] - out[part]))
            if best is None or deepest < best[0] - 1e-9:
                change = z[part] - out[part]
                area = float(np.trapezoid(change, station_m[part]))
                moved = np.flatnonzero(np.abs(change) > 1e-6)
                depth = needed_m[part] + highest_m[part] - out[part]
                best = (deepest, area, moved, float(np.max(depth[moved], initial=0.0)))
        if best is None or best[0] > MOST_EXTRA_DEPTH_M or best[2].size == 0:
            continue
        deepest, area, moved, depth_m = best
        offers.append(
            DigOffer(
                index=summit,
                station_m=float(station_m[summit]),
                from_m=float(station_m[p + max(int(moved[0]) - 1, 0)]),
                to_m=float(station_m[min(p + int(moved[-1]) + 1, r)]),
                extra_depth_m=max(deepest, 0.0),
                depth_m=depth_m,
                extra_area_m2=area,
            )
        )
    return tuple(offers)


def _sag_choices(
    station_m: FloatArray,
    highest_m: FloatArray,
    p: int,
    r: int,
    n: int,
    *,
    rising: float,
    falling: float,
) -> list[int]:
    """Return where the one sag between p and r may lie: where both envelopes meet, or an end."""
    s, h = station_m[p : r + 1], highest_m[p : r + 1]
    down = np.minimum.accumulate(h + falling * s) - falling * s
    up = (np.minimum.accumulate((h - rising * s)[::-1]))[::-1] + rising * s
    last = int(np.flatnonzero(down >= up)[-1]) if np.any(down >= up) else 0
    choices = [p + last, min(p + last + 1, r)]
    if p == 0:
        choices.append(0)
    if r == n - 1:
        choices.append(n - 1)
    # A sag exactly on a neighbouring summit would be no line at all.
    return [q for q in dict.fromkeys(choices) if p < q < r or q in (0, n - 1)]
