"""Stretches of a line that lie within a distance of another line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray
from routing.land.track import Track, near_turn

__all__ = ["stretches_near"]

JOIN_M = 1e-3
"""Stretches closer than this are one [m]."""


def stretches_near(
    track: Track, paths: Sequence[FloatArray], distance_m: float
) -> list[tuple[float, float]]:
    """Return the stretches of a line that lie within a distance of other lines.

    Parameters
    ----------
    track : Track
        The line [deg, m]
    paths : sequence of FloatArray
        The other lines, (n, 2), in the same degrees or whole turns away [deg]
    distance_m : float
        How near, > 0 [m]

    Returns
    -------
    stretches : list of tuple
        First and last station of each, in order [m]

    Notes
    -----
    Exact in the plane that touches the ellipsoid at each leg: the places within a distance of a
    straight piece are convex, so of each leg one stretch of its own is near each piece.

    Examples
    --------
    >>> line = Track(station_m=np.array([0.0, 400.0]), lon=np.array([0.0, 0.004]), lat=np.zeros(2))
    >>> near = stretches_near(line, [np.array([[0.002, -1.0], [0.002, 1.0]])], 20.0)
    >>> [(round(a, 1), round(b, 1)) for a, b in near]
    [(182.0, 218.0)]
    """
    near = near_turn(paths, float(np.mean(track.lon)))
    starts = np.concatenate([path[:-1] for path in near])
    ends = np.concatenate([path[1:] for path in near])
    found: list[tuple[float, float]] = []
    for leg, met in track.meetings(starts, ends, distance_m):
        scale = leg.scale
        along = (leg.end - leg.start) * scale
        first, last = (starts[met] - leg.start) * scale, (ends[met] - leg.start) * scale
        from_, to = _shares(along, first, last, distance_m)
        length = leg.to_m - leg.from_m
        found += [
            (leg.from_m + a * length, leg.from_m + b * length)
            for a, b in zip(from_.tolist(), to.tolist(), strict=True)
            if a < b
        ]
    return _joined(found)


def _shares(
    along: FloatArray, first: FloatArray, last: FloatArray, distance: float
) -> tuple[FloatArray, FloatArray]:
    """Return from which to which share of a leg (from 0) each piece is near; first > last: none."""
    edge = last - first
    length = np.hypot(edge[:, 0], edge[:, 1])
    unit = edge / np.where(length > 0.0, length, 1.0)[:, np.newaxis]
    # Beside the piece, between its ends: two pairs of linear bounds.
    far0 = -(first[:, 0] * unit[:, 0] + first[:, 1] * unit[:, 1])
    far1 = along[0] * unit[:, 0] + along[1] * unit[:, 1]
    off0 = -(first[:, 1] * unit[:, 0] - first[:, 0] * unit[:, 1])
    off1 = along[1] * unit[:, 0] - along[0] * unit[:, 1]
    low, high = _between(far0, far1, np.zeros_like(length), length)
    low2, high2 = _between(
        off0, off1, np.full_like(length, -distance), np.full_like(length, distance)
    )
    low, high = np.maximum(low, low2), np.minimum(high, high2)
    none = (low > high) | (length == 0.0)
    low, high = np.where(none, np.inf, low), np.where(none, -np.inf, high)
    # Round each end of the piece: a square of the share.
    for centre in (first, last):
        a = float(along @ along)
        b = centre @ along
        left = b * b - a * (np.einsum("ij,ij->i", centre, centre) - distance * distance)
        root = np.sqrt(np.maximum(left, 0.0))
        inside = left >= 0.0
        low = np.where(inside, np.minimum(low, (b - root) / a), low)
        high = np.where(inside, np.maximum(high, (b + root) / a), high)
    return np.clip(low, 0.0, 1.0), np.clip(high, 0.0, 1.0)


def _between(
    at0: FloatArray, rate: FloatArray, least: FloatArray, most: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return where at0 + rate x share lies between two bounds."""
    level = np.abs(rate) < 1e-12
    safe = np.where(level, 1.0, rate)
    one, other = (least - at0) / safe, (most - at0) / safe
    low, high = np.minimum(one, other), np.maximum(one, other)
    holds = (at0 >= least) & (at0 <= most)
    low = np.where(level, np.where(holds, -np.inf, np.inf), low)
    high = np.where(level, np.where(holds, np.inf, -np.inf), high)
    return low, high


def _joined(stretches: list[tuple[float, float]]) -> list[tuple[float, float]]:
    joined: list[tuple[float, float]] = []
    for first, last in sorted(stretches):
        if joined and first - joined[-1][1] <= JOIN_M:
            joined[-1] = (joined[-1][0], max(joined[-1][1], last))
        else:
            joined.append((first, last))
    return joined
