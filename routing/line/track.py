"""A walked track made into a line: spikes, and places where somebody stood, taken out."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np

from routing.arrays import FloatArray
from routing.finding import Finding
from routing.line.route import MEAN_RADIUS_M, Route

__all__ = ["clean_track", "looks_walked"]

STANDING_RADIUS_M: Final = 5.0
"""How far fixes scatter about somebody who stands still [m]; common practice, no source: a handheld
receiver is good to 5 to 10 m, but its error drifts slowly."""

STANDING_POINTS: Final = 5
"""Fewest fixes that make a place where somebody stood [-]."""

STANDING_PATH: Final = 3.0
"""Path within the radius, in radii, that only standing still gives [-]; a hairpin gives about 2."""

SPIKE_STEPS: Final = 5.0
SPIKE_LEAST_M: Final = 15.0
"""A spike steps out and back by more than both: so many usual steps [-], and so far [m]."""

SPIKE_POINTS: Final = 3
"""Most fixes in a row that may be out together [-]."""

SPIKE_RETURN: Final = 0.5
"""Greatest gap left by taking a spike out, as a share of the way out [-]."""

WALKED_STEP_M: Final = 10.0
WALKED_POINTS: Final = 200
"""A line with so many points, so close, may be a recorded one."""


@dataclass(slots=True)
class _Tally:
    """What cleaning took out."""

    spikes: int = 0
    places: int = 0
    stood: int = 0


def clean_track(route: Route) -> Route:
    """Return a walked line without spikes and without the knots of standing still.

    Parameters
    ----------
    route : Route
        The line as recorded, its repeated points already dropped

    Returns
    -------
    Route
        The line cleaned, with a finding ``track_cleaned`` that says what was changed; the same line
        if nothing was

    Notes
    -----
    A *spike* is one to three fixes in a row that lie further from their neighbours than 15 m and
    five usual (median) steps, while the neighbours lie near each other. A *stationary cluster* is a
    run of five fixes or more within 5 m whose path is longer than three times that; its median
    place stands for it. Corners, hairpins and ways walked there and back stay. The work grows in
    proportion to the number of points.

    Examples
    --------
    >>> lat = [46.0 + 0.0001 * i for i in range(20)]
    >>> lat[10] = 46.01
    >>> clean_track(Route(name="walk", lon=[7.0] * 20, lat=lat)).lat.size
    19
    """
    if route.lon.size < 4:
        return route
    x, y = _plane(route)
    tally = _Tally()
    kept = _without_spikes(x, y, tally)
    groups = _standing(x, y, kept, tally)
    if not (tally.spikes or tally.places):
        return route
    lon = np.array([_middle(route.lon, group) for group in groups])
    lat = np.array([_middle(route.lat, group) for group in groups])
    words = []
    if tally.places:
        words.append(
            f"{tally.stood} points of standing still at {tally.places} place(s) became one each"
        )
    if tally.spikes:
        words.append(f"{tally.spikes} point(s) that jump out and back were left out")
    found = Finding(
        code="track_cleaned",
        severity="note",
        message=f"The walked track of {route.lon.size} points was cleaned to {len(groups)}: "
        f"{' and '.join(words)}. Set clean = false under [study] to keep it as recorded.",
    )
    return Route(
        name=route.name,
        lon=lon,
        lat=lat,
        dropped=route.dropped,
        recorded=route.recorded,
        findings=(*route.findings, found),
    )


def looks_walked(route: Route) -> bool:
    """Return whether a line that came as a drawn one has the knots or spikes of a walked one."""
    if route.recorded or route.lon.size < WALKED_POINTS:
        return False
    x, y = _plane(route)
    if float(np.median(np.hypot(np.diff(x), np.diff(y)))) > WALKED_STEP_M:
        return False
    return clean_track(route) is not route


def _plane(route: Route) -> tuple[FloatArray, FloatArray]:
    """Return places in a plane, good to a part in 200 for the few metres that matter here [m]."""
    lat = np.radians(route.lat)
    scale = math.cos(float(lat.mean()))
    x: FloatArray = np.radians(route.lon - route.lon[0]) * (MEAN_RADIUS_M * scale)
    y: FloatArray = (lat - lat[0]) * MEAN_RADIUS_M
    return x, y


def _without_spikes(x: FloatArray, y: FloatArray, tally: _Tally) -> list[int]:
    """Return the indices of points that are not part of a spike."""
    usual = float(np.median(np.hypot(np.diff(x), np.diff(y))))
    out_m = max(SPIKE_LEAST_M, SPIKE_STEPS * usual)
    xs, ys = x.tolist(), y.tolist()
    kept: list[int] = []
    for at in range(len(xs)):
        for count in range(1, SPIKE_POINTS + 1):
            if len(kept) <= count:
                break
            before, first, last = kept[-count - 1], kept[-count], kept[-1]
            back = math.hypot(xs[at] - xs[last], ys[at] - ys[last])
            if back <= out_m:
                break  # no jump between the last point kept and this one
            out = math.hypot(xs[first] - xs[before], ys[first] - ys[before])
            left = math.hypot(xs[at] - xs[before], ys[at] - ys[before])
            if out > out_m and left < SPIKE_RETURN * min(out, back):
                del kept[-count:]
                tally.spikes += count
                break
        kept.append(at)
    return kept


def _standing(x: FloatArray, y: FloatArray, kept: list[int], tally: _Tally) -> list[list[int]]:
    """Return the kept points in groups: alone, or with those of the same standing still."""
    xs, ys = x[kept].tolist(), y[kept].tolist()
    path = [0.0]
    for (x0, y0), (x1, y1) in pairwise(zip(xs, ys, strict=True)):
        path.append(path[-1] + math.hypot(x1 - x0, y1 - y0))
    groups: list[list[int]] = []
    at, count = 0, len(kept)
    while at < count:
        end = at + 1
        while end < count and math.hypot(xs[end] - xs[at], ys[end] - ys[at]) <= STANDING_RADIUS_M:
            end += 1
        long = path[end - 1] - path[at] > STANDING_PATH * STANDING_RADIUS_M
        if end - at >= STANDING_POINTS and long:
            groups.append(kept[at:end])
            tally.places += 1
            tally.stood += end - at
            at = end
            continue
        # The next look starts half a radius of path on: no point is looked at more often than a
        # fixed number of times, however close together they lie.
        onward = path[at] + 0.5 * STANDING_RADIUS_M
        groups.append([kept[at]])
        at += 1
        while at < count and at < end and path[at] < onward:
            groups.append([kept[at]])
            at += 1
    return groups


def _middle(degrees: FloatArray, group: list[int]) -> float:
    """Return the middle of a group; a single point keeps its value to the last bit."""
    return float(degrees[group[0]]) if len(group) == 1 else float(np.median(degrees[group]))
