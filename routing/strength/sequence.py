"""The cheapest lawful sequence of pipes along a line, found exactly from the outlet upwards."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.compiled import kernel
from routing.value import dataclass

__all__ = ["Problem", "Stretch", "cheapest", "costs_to_go", "is_lawful", "problem", "running_sum"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """What may lie where, for p pipes and n stations.

    ``holds`` (p, n-1): the pipe may lie between a station and the next. ``joint`` (p, p): cost of
    going from one pipe to another, infinite where that is not lawful. ``strength`` (p,): a weaker
    pipe after a stronger one must run at least to station ``pocket_end`` (n-1,), any other to
    ``run_end`` (n-1,); -1 where the line ends before. ``reach`` (p, n-1): the last station to
    which the pipe holds without a break.
    """

    holds: BoolArray
    joint: FloatArray
    strength: FloatArray
    pocket_end: IntArray
    run_end: IntArray
    reach: IntArray

    @property
    def first_end(self) -> int:
        """Return the station to which the first pipe must run: the whole line where it is short."""
        pieces = self.holds.shape[1]
        return int(self.run_end[0]) if self.run_end[0] >= 0 else pieces


@dataclass(frozen=True, slots=True, kw_only=True)
class Stretch:
    """One pipe, by its number, from one station to another, by their numbers."""

    pipe: int
    start: int
    stop: int


def problem(
    *,
    station_m: FloatArray,
    holds: BoolArray,
    joint: FloatArray,
    strength: FloatArray,
    shortest_pocket_m: float,
    shortest_run_m: float = 0.0,
) -> Problem:
    """Return what may lie where; pockets and runs shorter than given are not lawful."""
    pieces = len(station_m) - 1

    def first_end(length_m: float) -> IntArray:
        ends = np.searchsorted(station_m, station_m[:-1] + length_m - 1e-9)
        # A piece must be laid in any case, so a run ends one station on at the earliest.
        ends = np.maximum(ends, np.arange(1, pieces + 1))
        return np.where(ends > pieces, -1, ends)

    reach = np.empty(holds.shape, dtype=np.int64)
    last = np.full(len(holds), pieces)
    for piece in range(pieces - 1, -1, -1):
        last = np.where(holds[:, piece], last, piece)
        reach[:, piece] = last
    return Problem(
        holds=frozen(holds, np.bool_),
        joint=frozen(joint),
        strength=frozen(strength),
        pocket_end=frozen(first_end(max(shortest_pocket_m, shortest_run_m)), np.int64),
        run_end=frozen(first_end(shortest_run_m), np.int64),
        reach=frozen(reach, np.int64),
    )


@kernel
def costs_to_go(
    weight: FloatArray,
    so_far: FloatArray,
    holds: BoolArray,
    joint: FloatArray,
    strength: FloatArray,
    pocket_end: IntArray,
    run_end: IntArray,
    reach: IntArray,
) -> FloatArray:
    """Return the least cost from each station to the outlet with each pipe laid there, (p, n)."""
    pipes, pieces = weight.shape
    value = np.zeros((pipes, pieces + 1))
    on = np.zeros(pipes)
    pocket = np.zeros(pipes)
    run = np.zeros(pipes)
    for piece in range(pieces - 1, -1, -1):
        end = pocket_end[piece]
        near = run_end[piece]
        for pipe in range(pipes):
            on[pipe] = np.inf
            if holds[pipe, piece]:
                on[pipe] = weight[pipe, piece] + value[pipe, piece + 1]
            pocket[pipe] = np.inf
            if end >= 0 and reach[pipe, piece] >= end:
                pocket[pipe] = so_far[pipe, end] - so_far[pipe, piece] + value[pipe, end]
            run[pipe] = np.inf
            if near >= 0 and reach[pipe, piece] >= near:
                run[pipe] = so_far[pipe, near] - so_far[pipe, piece] + value[pipe, near]
        for above in range(pipes):
            best = on[above]
            for below in range(pipes):
                if below == above:
                    continue
                cost = pocket[below] if strength[below] < strength[above] else run[below]
                cost += joint[above, below]
                if cost < best:
                    best = cost
            value[above, piece] = best
    return value


def running_sum(weight: FloatArray) -> FloatArray:
    """Return the sum of (p, n-1) pieces up to each station, (p, n).

    Parameters
    ----------
    weight : FloatArray
        Pieces between stations, (p, n-1) [any]

    Returns
    -------
    sums : FloatArray
        Their sums from the first station on, (p, n) [any]
    """
    return np.concatenate((np.zeros((len(weight), 1)), np.cumsum(weight, axis=1)), axis=1)


def is_lawful(case: Problem, stretches: Sequence[Stretch]) -> bool:
    """Return whether stretches hold, may meet, and hold no short pocket."""
    for each in stretches:
        if case.reach[each.pipe, each.start] < each.stop:
            return False
    if stretches[0].stop < case.first_end:
        return False
    for above, below in pairwise(stretches):
        if not np.isfinite(case.joint[above.pipe, below.pipe]):
            return False
        weaker = case.strength[below.pipe] < case.strength[above.pipe]
        end = (case.pocket_end if weaker else case.run_end)[below.start]
        if end < 0 or below.stop < end:
            return False
    return True


def cheapest(
    case: Problem, weight: FloatArray, start: FloatArray | None = None
) -> tuple[float, tuple[Stretch, ...], FloatArray]:
    """Return the least cost, its stretches, and the costs to go (p, n); infinite if none is lawful.

    ``weight`` (p, n-1) is the cost of each pipe between each station and the next, ``start`` (p,)
    that of beginning with it.
    """
    pipes, pieces = weight.shape
    so_far = running_sum(weight)
    value = costs_to_go.sized(pipes * pipes * pieces)(
        np.ascontiguousarray(weight),
        so_far,
        case.holds,
        case.joint,
        case.strength,
        case.pocket_end,
        case.run_end,
        case.reach,
    )
    # The first pipe too runs as far as any must: no change at the intake itself.
    end = case.first_end
    first = np.where(case.reach[:, 0] >= end, so_far[:, end] + value[:, end], np.inf)
    if start is not None:
        first = first + start
    pipe = int(np.argmin(first))
    total = float(first[pipe])
    if not np.isfinite(total):
        return total, (), value
    return total, _walk(case, weight, so_far, value, pipe), value


def _walk(
    case: Problem, weight: FloatArray, so_far: FloatArray, value: FloatArray, pipe: int
) -> tuple[Stretch, ...]:
    """Return the stretches by following the costs to go down the line."""
    pieces = weight.shape[1]
    stays = np.where(case.holds, weight + value[:, 1:], np.inf)
    stretches: list[Stretch] = []
    start, station = 0, case.first_end
    while station < pieces:
        pays, other, stop = _changes(case, so_far, value, stays, pipe)
        later = np.flatnonzero(pays[station:])
        if not later.size:
            break
        station += int(later[0])
        stretches.append(Stretch(pipe=pipe, start=start, stop=station))
        pipe, start, station = int(other[station]), station, int(stop[station])
    stretches.append(Stretch(pipe=pipe, start=start, stop=pieces))
    return tuple(stretches)


def _changes(
    case: Problem, so_far: FloatArray, value: FloatArray, stays: FloatArray, pipe: int
) -> tuple[BoolArray, IntArray, IntArray]:
    """Return for each piece, (n-1,): whether to leave a pipe pays, for which, and how far."""
    pieces = np.arange(stays.shape[1])
    weaker = case.strength < case.strength[pipe]
    stop = np.where(weaker[:, None], case.pocket_end, case.run_end)
    fits = (stop >= 0) & (case.reach >= stop)
    fits[pipe] = False
    stop = np.where(fits, stop, pieces)
    laid = np.take_along_axis(so_far + value, stop, axis=1) - so_far[:, :-1]
    options = np.where(fits, case.joint[pipe][:, None] + laid, np.inf)
    other = np.argmin(options, axis=0)
    stay = stays[pipe]
    # A change must pay by more than rounding.
    little = 1e-9 * np.maximum(1.0, np.abs(np.where(np.isfinite(stay), stay, 0.0)))
    pays = ~np.isfinite(stay) | (options[other, pieces] < stay - little)
    return pays, other, stop[other, pieces]
