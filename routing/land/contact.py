"""Places where a line meets another: crossed from side to side, or only touched, at which angle."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from routing.arrays import FloatArray
from routing.land.track import Track, near_turn
from routing.line.ground.places import degree_m
from routing.value import dataclass

__all__ = ["Contact", "contacts"]

TOLERANCE_M = 1e-4
"""How far beyond the end of a leg or piece a meeting still counts as on it [m]."""
SAME_M = 0.01
"""Meetings closer than this along both lines are one [m]."""
ALONG_RAD = 1e-6
"""Directions closer than this are the same [rad]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Contact:
    """A place where the line meets another one, and the least angle between them there [deg].

    ``crosses`` is False where the line touches the other one, ends at it, or turns back.
    """

    station_m: float
    angle_deg: float
    crosses: bool


@dataclass(frozen=True, slots=True)
class _Hit:
    """A leg meets a piece of a path: where along both [m], and whether between the ends of both."""

    station_m: float
    along_m: float
    leg: int
    piece: int
    inner: bool


def contacts(track: Track, paths: Sequence[FloatArray]) -> tuple[Contact, ...]:
    """Return where a line meets other lines, in order of station.

    Parameters
    ----------
    track : Track
        The line [deg, m]
    paths : sequence of FloatArray
        The other lines, (n, 2), in the same degrees or whole turns away; one whose last place is
        its first is a ring [deg]

    Returns
    -------
    contacts : tuple of Contact
        One for each meeting; where the lines run one along the other there is none

    Notes
    -----
    Where a vertex of either lies on the other, the directions before and behind decide: the line
    crosses if those of the other one part its own.

    Examples
    --------
    >>> line = Track(station_m=np.array([0.0, 200.0, 400.0]), lon=np.array([0.0, 0.002, 0.004]),
    ...              lat=np.zeros(3))
    >>> road = np.array([[0.0019, -0.001], [0.0021, 0.001]])
    >>> [(round(each.station_m, 2), round(each.angle_deg, 1), each.crosses)
    ...  for each in contacts(line, [road])]
    [(200.0, 84.3, True)]
    """
    found: list[Contact] = []
    for part in near_turn(paths, float(np.mean(track.lon))):
        path = _distinct(part)
        if len(path) < 2:
            continue
        ring = len(path) > 3 and bool((path[0] == path[-1]).all())
        hits = sorted(_hits(track, path), key=lambda hit: hit.station_m)
        for group in _grouped(hits, round_m=_lengths(path).sum() if ring else math.inf):
            contact = _contact(track, path, group, ring)
            if contact is not None:
                found.append(contact)
    return tuple(sorted(found, key=lambda each: each.station_m))


def _distinct(path: FloatArray) -> FloatArray:
    keep = np.ones(len(path), dtype=np.bool_)
    keep[1:] = np.any(np.diff(path, axis=0) != 0.0, axis=1)
    return path[keep]


def _hits(track: Track, path: FloatArray) -> Iterator[_Hit]:
    starts, ends = path[:-1], path[1:]
    lengths = _lengths(path)
    before = np.concatenate([[0.0], np.cumsum(lengths)])
    for leg, index in track.meetings(starts, ends, TOLERANCE_M):
        along = (leg.end - leg.start) * leg.scale
        edge = (ends[index] - starts[index]) * leg.scale
        from_a = (starts[index] - leg.start) * leg.scale
        cross = along[0] * edge[:, 1] - along[1] * edge[:, 0]
        leg_m, edge_m = math.hypot(*along), np.hypot(edge[:, 0], edge[:, 1])
        apart = np.abs(cross) > ALONG_RAD * leg_m * edge_m
        safe = np.where(apart, cross, 1.0)
        share = (from_a[:, 0] * edge[:, 1] - from_a[:, 1] * edge[:, 0]) / safe
        place = (from_a[:, 0] * along[1] - from_a[:, 1] * along[0]) / safe
        inner = _within(share * leg_m, leg_m, -TOLERANCE_M)
        inner &= _within(place * edge_m, edge_m, -TOLERANCE_M)
        met = apart & _within(share * leg_m, leg_m, TOLERANCE_M)
        met &= _within(place * edge_m, edge_m, TOLERANCE_M)
        for at in np.flatnonzero(met):
            t, u = min(max(float(share[at]), 0.0), 1.0), min(max(float(place[at]), 0.0), 1.0)
            piece = int(index[at])
            yield _Hit(
                leg.from_m + t * (leg.to_m - leg.from_m),
                float(before[piece] + u * lengths[piece]),
                leg.number,
                piece,
                bool(inner[at]),
            )


def _lengths(path: FloatArray) -> FloatArray:
    """Return the lengths of a path's pieces, good enough to tell its places apart [m]."""
    steps = np.diff(path, axis=0) * degree_m(float(np.mean(path[:, 1])))
    lengths: FloatArray = np.hypot(steps[:, 0], steps[:, 1])
    return lengths


def _within(at: FloatArray, length: FloatArray | float, margin: float) -> np.ndarray:
    inside: np.ndarray = (at >= -margin) & (at <= length + margin)
    return inside


def _grouped(hits: Sequence[_Hit], round_m: float) -> Iterator[list[_Hit]]:
    """Yield the hits of each meeting: near one another along both lines, a ring going round."""
    left = list(hits)
    while left:
        group = [left.pop(0)]
        for hit in list(left):
            if hit.station_m - group[-1].station_m > SAME_M:
                break
            apart = abs(hit.along_m - group[0].along_m)
            if min(apart, abs(round_m - apart)) <= SAME_M:
                group.append(hit)
                left.remove(hit)
        yield group


def _contact(track: Track, path: FloatArray, group: Sequence[_Hit], ring: bool) -> Contact | None:
    inner = next((hit for hit in group if hit.inner), None)
    hit = inner or group[0]
    lon, lat = track.at(hit.station_m)
    scale = degree_m(lat)
    own = _rays(np.column_stack([track.lon, track.lat]), hit.leg, (lon, lat), scale, False)
    other = _rays(path, hit.piece, (lon, lat), scale, ring)
    if any(_apart(a, b) < ALONG_RAD for a in own for b in other):
        return None
    angle = min(min(_apart(a, b), math.pi - _apart(a, b)) for a in own for b in other)
    return Contact(
        station_m=hit.station_m,
        angle_deg=math.degrees(angle),
        crosses=len(own) == 2 and len(other) == 2 and _parted(own, other),
    )


def _rays(
    places: FloatArray, piece: int, at: tuple[float, float], scale: FloatArray, ring: bool
) -> list[float]:
    """Return the directions in which a line leaves a place on one of its pieces [rad]."""
    last = len(places) - 1
    back, ahead = piece, piece + 1
    if math.hypot(*((places[back] - at) * scale)) <= SAME_M:
        back = back - 1 if back > 0 else (last - 1 if ring else -1)
    elif math.hypot(*((places[ahead] - at) * scale)) <= SAME_M:
        ahead = ahead + 1 if ahead < last else (1 if ring else last + 1)
    ends = [places[k] for k in (back, ahead) if 0 <= k <= last]
    return [math.atan2(*((end - at) * scale)[::-1]) for end in ends]


def _apart(a: float, b: float) -> float:
    """Return the angle between two directions, 0 to pi [rad]."""
    return abs((a - b + math.pi) % (2.0 * math.pi) - math.pi)


def _parted(own: Sequence[float], other: Sequence[float]) -> bool:
    """Return whether the two directions of one line lie on both sides of those of the other."""
    turn = (other[1] - other[0]) % (2.0 * math.pi)
    sides = [(ray - other[0]) % (2.0 * math.pi) < turn for ray in own]
    return sides[0] != sides[1]
