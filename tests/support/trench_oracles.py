"""Slow and plain answers to the questions the trench room answers fast."""

from __future__ import annotations

import numpy as np


def turns(height):
    """Return (summits, sags) of a line, level stretches counted once."""
    step = np.diff(height)
    sense = np.sign(step[np.abs(step) > 1e-6])
    change = np.diff(sense)
    return int(np.sum(change < 0)), int(np.sum(change > 0))


def area_below(station, highest, line):
    """Return the area between ceiling and line by trapezoids."""
    return float(np.trapezoid(highest - line, station))


def least_over_levels(station, highest, lowest, levels, rising=0.0, falling=0.0):
    """Return the least (summits, sags, area) over all lines on the given levels.

    Every combination of level and direction at each station is carried forward: exhaustive, and
    exact wherever the best line lies on the levels.
    """
    n, m = station.size, levels.size
    weight = np.zeros(n)
    weight[:-1] += np.diff(station) / 2
    weight[1:] += np.diff(station) / 2
    far = (n + 1, n + 1, np.inf)
    state = {}
    for k in range(m):
        if lowest[0] - 1e-9 <= levels[k] <= highest[0] + 1e-9:
            state[(k, 0)] = (0, 0, weight[0] * (highest[0] - levels[k]))
    for i in range(1, n):
        step = station[i] - station[i - 1]
        new = {}
        for (k, sense), (summits, sags, area) in state.items():
            for j in range(m):
                if not lowest[i] - 1e-9 <= levels[j] <= highest[i] + 1e-9:
                    continue
                change = levels[j] - levels[k]
                if change > 1e-9 and change < rising * step - 1e-9:
                    continue
                if change < -1e-9 and -change < falling * step - 1e-9:
                    continue
                if abs(change) <= 1e-9 and (rising > 0 or falling > 0):
                    continue
                to = sense if abs(change) <= 1e-9 else (1 if change > 0 else -1)
                value = (
                    summits + (sense == 1 and to == -1),
                    sags + (sense == -1 and to == 1),
                    area + weight[i] * (highest[i] - levels[j]),
                )
                if value < new.get((j, to), far):
                    new[(j, to)] = value
        state = new
    return min(state.values()) if state else None


def taut_string(station, highest, lowest):
    """Return the shortest path through the gates of a corridor whose two ends are single points.

    The funnel of Lee and Preparata (1984): the path to the newest gate is kept as an apex with a
    convex upper and lower chain.
    """
    points = [(station[0], highest[0])]
    apex = 0
    n = station.size
    while apex < n - 1:
        z0 = points[-1][1]
        upper, lower = np.inf, -np.inf
        upper_at = lower_at = apex
        for i in range(apex + 1, n):
            to_high = (highest[i] - z0) / (station[i] - station[apex])
            to_low = (lowest[i] - z0) / (station[i] - station[apex])
            if to_low > upper + 1e-15:
                points.append((station[upper_at], highest[upper_at]))
                apex = upper_at
                break
            if to_high < lower - 1e-15:
                points.append((station[lower_at], lowest[lower_at]))
                apex = lower_at
                break
            if to_high <= upper:
                upper, upper_at = to_high, i
            if to_low >= lower:
                lower, lower_at = to_low, i
        else:
            points.append((station[-1], highest[-1]))
            break
    x, z = np.array(points).T
    return np.interp(station, x, z)
