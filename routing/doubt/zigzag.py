"""Turning points that no pipe avoids: the zigzag between a floor and a ceiling."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.compiled import kernel
from routing.value import dataclass

__all__ = ["Turns", "forced_turns"]

FIRST_ROWS = 64
"""Rows in which the first turn is looked for; where it is not, four times as many."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Turns:
    """Forced turning points of many grounds, all in one list of length k.

    ``ground`` is the column of the ground, ``place`` the row of the station, ``summit`` False for
    sags. Those of one ground stand in order of place.
    """

    ground: IntArray
    place: IntArray
    summit: BoolArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "ground", frozen(self.ground, np.int64))
        object.__setattr__(self, "place", frozen(self.place, np.int64))
        object.__setattr__(self, "summit", frozen(self.summit, np.bool_))

    def summits_of(self, grounds: int) -> IntArray:
        """Return the number of summits of each of so many grounds."""
        return np.bincount(self.ground[self.summit], minlength=grounds)


def forced_turns(floor_m: FloatArray, ceiling_m: FloatArray) -> Turns:
    """Return the summits and sags of the pipe with the fewest of them, for many grounds at once.

    Parameters
    ----------
    floor_m, ceiling_m : FloatArray, shape (n,) or (n, g)
        Lowest and highest allowed elevation of the pipe at n stations of g grounds, the floor
        nowhere above the ceiling; -inf and inf where the pipe is free [m]

    Returns
    -------
    Turns
        Interior summits, each where the floor is highest, and sags, each where the ceiling is
        lowest

    Notes
    -----
    A pipe that falls must rise again when the floor comes above the least ceiling since it began
    to fall; one that rises must fall when the ceiling comes below the highest floor. Each piece
    runs as far as it can, so no pipe has fewer turns. With one play = ceiling - floor everywhere
    these are the turning points of the ground that exceed the play. Least grades are left out:
    they never cost the laid pipe a turn.

    Examples
    --------
    >>> ground = np.array([9.0, 5.0, 5.4, 4.9, 7.0, 2.0])
    >>> turns = forced_turns(ground - 0.5, ground)
    >>> turns.place.tolist(), turns.summit.tolist()
    ([3, 4], [False, True])
    """
    low = np.ascontiguousarray(floor_m.reshape(floor_m.shape[0], -1))
    high = np.ascontiguousarray(ceiling_m.reshape(ceiling_m.shape[0], -1))
    ground, place, summit = _zigzag(low, high)
    return Turns(ground=ground, place=place, summit=summit)


@kernel
def _walk(low: Any, high: Any, begin: Any, places: Any, summits: Any) -> Any:
    """Return how many turns each ground has; they are put down from its place in ``begin`` on."""
    count, width = low.shape
    found = np.zeros(width, dtype=np.int64)
    begun = np.zeros(width, dtype=np.bool_)
    rising = np.zeros(width, dtype=np.bool_)
    best = np.empty(width)
    place = np.zeros(width, dtype=np.int64)
    top = low[0].copy()
    bottom = high[0].copy()
    for row in range(count):
        for at in range(width):
            floor = low[row, at]
            ceiling = high[row, at]
            if begun[at]:
                # While rising the mirror image of the ground is looked at: one rule for both ways.
                reach = -floor if rising[at] else ceiling
                if reach < best[at]:
                    best[at] = reach
                    place[at] = row
                against = -ceiling if rising[at] else floor
                if not against > best[at]:
                    continue
                if begin.size:
                    places[begin[at] + found[at]] = place[at]
                    summits[begin[at] + found[at]] = rising[at]
                found[at] += 1
                rising[at] = not rising[at]
            else:
                top[at] = max(top[at], floor)
                bottom[at] = min(bottom[at], ceiling)
                falls = ceiling < top[at]
                if not (falls or floor > bottom[at]):
                    continue
                begun[at] = True
                rising[at] = not falls
            best[at] = -floor if rising[at] else ceiling
            place[at] = row
    return found


@kernel
def _zigzag(low: Any, high: Any) -> Any:
    """Return ground, place and sense of all turns, ground by ground."""
    none = np.zeros(0, dtype=np.int64)
    found = _walk(low, high, none, none, np.zeros(0, dtype=np.bool_))
    place = np.zeros(found.sum(), dtype=np.int64)
    summit = np.zeros(place.size, dtype=np.bool_)
    _walk(low, high, np.cumsum(found) - found, place, summit)
    return np.repeat(np.arange(found.size), found), place, summit


@_zigzag.plainly
def _zigzag_plain(low: FloatArray, high: FloatArray) -> tuple[IntArray, IntArray, BoolArray]:
    """Return the same in array operations, all grounds row by row."""
    count, width = low.shape
    falls, begun = _begun(low, high)
    start = np.where(begun.any(axis=0), begun.argmax(axis=0), count)
    first = np.minimum(start, falls.shape[0] - 1)
    rising = np.where(start < count, ~falls[first, np.arange(width)], False)
    begins: dict[int, IntArray] = {}
    for row in np.unique(start[start < count]).tolist():
        begins[row] = np.flatnonzero(start == row)
    # While rising the mirror image of the ground is looked at, so that one rule serves both ways.
    best = np.full(width, np.nan)  # compares as false until a ground has begun
    place = np.zeros(width, dtype=np.int64)
    found: list[tuple[IntArray, IntArray, BoolArray]] = []
    for row in range(min(begins, default=count), count):
        floor, ceiling = low[row], high[row]
        reach = np.where(rising, -floor, ceiling)
        against = np.where(rising, -ceiling, floor)
        better = reach < best
        np.copyto(best, reach, where=better)
        np.copyto(place, row, where=better)
        over = against > best
        if row in begins:
            new = begins[row]
            best[new] = reach[new]
            place[new] = row
            over[new] = False
        if over.any():
            at = np.flatnonzero(over)
            found.append((at, place[at], rising[at]))
            rising[at] = ~rising[at]
            best[at] = np.where(rising[at], -floor[at], ceiling[at])
            place[at] = row
    if not found:
        none = np.zeros(0, dtype=np.int64)
        return none, none, none.astype(np.bool_)
    ground, spot, top = (np.concatenate(parts) for parts in zip(*found, strict=True))
    order = np.argsort(ground, kind="stable")
    return ground[order], spot[order], top[order]


def _begun(low: FloatArray, high: FloatArray) -> tuple[BoolArray, BoolArray]:
    """Return by which rows a pipe must fall, and must fall or rise: as far as all grounds need."""
    count = low.shape[0]
    rows = min(FIRST_ROWS, count)
    while True:
        falls = high[:rows] < np.maximum.accumulate(low[:rows], axis=0)
        begun = falls | (low[:rows] > np.minimum.accumulate(high[:rows], axis=0))
        if rows == count or begun.any(axis=0).all():
            return falls, begun
        rows = min(4 * rows, count)
