"""Slow and plain answers to the questions the trench room answers fast."""

from __future__ import annotations

import numpy as np
from hypothesis import strategies as st


@st.composite
def corridors(draw, most=9, unit=0.05):
    """Corridors on a lattice of elevations, so that the best line lies on the lattice too."""
    n = draw(st.integers(2, most))
    step = draw(st.lists(st.integers(1, 4), min_size=n - 1, max_size=n - 1))
    high = draw(st.lists(st.integers(0, 20), min_size=n, max_size=n))
    width = draw(st.lists(st.integers(0, 12), min_size=n, max_size=n))
    station = np.concatenate(([0.0], np.cumsum(step))).astype(float)
    highest = np.array(high) * unit
    return station, highest, highest - np.array(width) * unit


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


def below_grade(station, line, rising, falling):
    """Return the length of the steps of a line that are flatter than the least grade."""
    run, rise = np.diff(station), np.diff(line)
    flat = (rise > -falling * run + 1e-8) & (rise < rising * run - 1e-8)
    return float(run[flat].sum())


def least_price(station, highest, lowest, levels, price, width=1.0, rising=0.0, falling=0.0):
    """Return the least (summits, sags, digging + price * breaks) of lines of straights on levels.

    Every pair of stations and levels is tried as a piece, each checked station by station; numbers
    of turns are compared as such, not as prices. None where the grades do not fit.
    """
    n = station.size
    state = {(0, z, sense): (0, 0, -price) for z in levels[0] for sense in (-1, 1)}
    for i in range(1, n):
        for z in levels[i]:
            for j in range(i):
                run = station[i] - station[j]
                inner = slice(j, i + 1)
                for z0 in levels[j]:
                    grade = (z - z0) / run
                    if not (grade >= rising - 1e-12 or grade <= -falling + 1e-12):
                        continue
                    piece = z0 + grade * (station[inner] - station[j])
                    if np.any(piece > highest[inner] + 1e-9):
                        continue
                    if np.any(piece < lowest[inner] - 1e-9):
                        continue
                    dug = width * np.trapezoid(highest[inner] - piece, station[inner])
                    for before in (-1, 1):
                        old = state.get((j, z0, before))
                        if old is None:
                            continue
                        sense = before if abs(grade) < 1e-12 else (1 if grade > 0 else -1)
                        turn = j > 0 and sense != before
                        new = (
                            old[0] + (turn and sense < 0),
                            old[1] + (turn and sense > 0),
                            old[2] + dug + price,
                        )
                        key = (i, z, sense)
                        if key not in state or new < state[key]:
                            state[key] = new
    ends = [value for (i, _, _), value in state.items() if i == n - 1]
    return min(ends) if ends else None


def least_digging(station, highest, lowest, breaks, senses, width=1.0, rising=0.0, falling=0.0):
    """Return the least digging of a line that breaks at ``breaks`` and falls or rises as told.

    A linear programme in the levels at the breaks: every station within the corridor, every piece
    at least as steep as the least grade.
    """
    from scipy.optimize import linprog

    m, n = len(breaks), station.size
    share = np.zeros((n, m))
    for column in range(m):
        hat = np.zeros(m)
        hat[column] = 1.0
        share[:, column] = np.interp(station, station[breaks], hat)
    weight = np.zeros(n)
    weight[:-1] += np.diff(station) / 2
    weight[1:] += np.diff(station) / 2
    steep = np.zeros((m - 1, m))
    run = np.diff(station[breaks])
    for piece, sense in enumerate(senses):
        steep[piece, piece : piece + 2] = (sense, -sense)
    least = -np.where(np.array(senses) > 0, rising, falling) * run
    # Depths below the lowest ceiling keep the numbers small.
    datum = float(highest.min())
    found = linprog(
        -(weight @ share),
        A_ub=np.vstack((share, -share, steep)),
        b_ub=np.concatenate((highest - datum, datum - lowest, least)),
        bounds=(None, None),
        method="highs",
    )
    assert found.status == 0, found.message
    return width * float(weight @ (highest - datum) + found.fun)
