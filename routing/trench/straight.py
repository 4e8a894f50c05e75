"""Straight grades: the least digging plus a price for each break of grade.

A crew sets out straights. Between breaks at stations the line is straight, so it keeps the corridor
exactly when it keeps it at every station that it passes. A dynamic programme carries the cheapest
way to reach each station, at each of a few levels, falling and rising: from there a window of
slopes, narrowed station by station, says which levels further on can be seen. Digging is linear in
the levels at both ends, so two prefix sums price a piece. A few levels over the whole corridor find
the breaks; zooms round the line found settle their levels. The line that digs least is among the
levels of every pass, so a pass never has more turns than it and never costs more than the last.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.compiled import repays
from routing.trench.grade_line import GradeLine
from routing.trench.pieces import (
    BELOW_GRADE_M2,
    SHORT_PIECE_M3,
    Ground,
    Rules,
    knots_of,
    search,
    traced,
)
from routing.trench.pieces_plain import search_plain
from routing.value import dataclass

__all__ = [
    "DRAGGED_PASSES",
    "FULL_PASSES",
    "QUICK_PASSES",
    "BreakTerms",
    "Pass",
    "Straights",
    "joined",
    "straighten",
]

LONGEST_PIECE_M = (200.0, 1000.0)
"""How far pieces are looked for, at first and in fine passes, which move breaks but little [m]."""
FINE_SHARE = 0.1
"""Passes whose levels reach over less of the corridor than this are fine ones [-]."""


class Pass(NamedTuple):
    """One search: how many levels it tries at a station and how far they and its breaks may go.

    ``reach`` is a share of the corridor round the line found so far [-]. In the search after this
    one breaks move by ``roam``, a share of the pieces beside them [-].
    """

    levels: int
    reach: float
    roam: float


FULL_PASSES = (Pass(17, 1.0, 0.3), Pass(9, 0.12, 0.12), Pass(9, 0.04, 0.04), Pass(9, 0.015, 0.015))
"""For the pipe as it is to be laid."""
QUICK_PASSES = (Pass(7, 1.0, 0.3), Pass(5, 0.15, 0.15))
"""For what is only to be compared."""
DRAGGED_PASSES = (Pass(5, 1.0, 0.1), Pass(7, 0.15, 0.1))
"""For a line being dragged: on seven lines half the time of the quick ones where stations are many,
and 0 to 8 % of the whole price above the full ones (quick: 0 to 10 %)."""
STATION_WORK = 60
"""Work of a pass at one station, as loop steps, where nothing is compiled [-] (measured)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BreakTerms:
    """What a break is worth, and the grades and lengths that pieces must have.

    ``break_price_m3`` is the digging that one break may save [m3], ``least_piece_m`` the shortest
    piece wanted [m]; ``rising`` and ``falling`` are the least grades [-].
    """

    break_price_m3: float
    least_piece_m: float = 0.0
    rising: float = 0.0
    falling: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Straights:
    """A line of straights: where it breaks, by index, both ends among them; elevations (n,) [m]."""

    breaks: IntArray
    elevation_m: FloatArray

    def __post_init__(self) -> None:
        object.__setattr__(self, "breaks", frozen(self.breaks, np.int64))
        object.__setattr__(self, "elevation_m", frozen(self.elevation_m))


def straighten(
    station_m: FloatArray,
    highest_m: FloatArray,
    lowest_m: FloatArray,
    width_m: FloatArray,
    line: GradeLine,
    terms: BreakTerms,
    passes: tuple[Pass, ...] = FULL_PASSES,
) -> Straights:
    r"""Return the line of least digging plus price of breaks, with no more turns than ``line``.

    .. math::
        \min \int b\,(z_{high} - z)\,ds + p\,N

    Parameters
    ----------
    station_m : FloatArray
        Strictly rising, shape (n,), n >= 2 [m]
    highest_m, lowest_m : FloatArray
        Corridor, ``lowest <= highest``, shape (n,) [m]
    width_m : FloatArray
        Width of the trench between stations, 0 where nothing is dug, shape (n - 1,) [m]
    line : GradeLine
        The line with fewest turns and least digging through the same corridor
    terms : BreakTerms
        Price ``p`` of a break, least length of a piece, least grades
    passes : tuple of Pass
        Levels of each pass, odd, and how far they and the breaks may go [-]

    Returns
    -------
    Straights
        Breaks and elevations. In this order: no more summits than ``line``, no more sags, shortest
        below the least grades, fewest pieces shorter than the least, least digging and breaks

    Notes
    -----
    Breaks lie at stations. The levels leave a gap to the very best line: on 14 grounds and two
    prices it was 0.04 % of the whole digging at most against 49 levels and two zooms of 33. Breaks
    between stations do not pay: with a station every 1.25 m they saved 0.1 to 0.5 % of the whole
    digging on four real lines (1 to 4 % of the digging beyond least cover and the breaks together),
    for three to ten times the work. A price of 0 gives ``line`` itself.

    Examples
    --------
    >>> s, high = np.arange(5.0), np.array([4.0, 2.9, 2.1, 0.9, 0.0])
    >>> line = GradeLine(elevation_m=high, summits=np.array([]), sags=np.array([]),
    ...                  keeps_grade=True)
    >>> straight = straighten(s, high, high - 0.5, np.ones(4), line, BreakTerms(break_price_m3=1.0))
    >>> straight.breaks.tolist(), straight.elevation_m.round(2).tolist()
    ([0, 4], [3.9, 2.9, 1.9, 0.9, -0.1])
    """
    z = np.clip(line.elevation_m, lowest_m, highest_m)
    breaks = np.arange(station_m.size)
    if terms.break_price_m3 == 0.0:
        return joined(station_m, breaks, z)
    ground = _ground(station_m, highest_m, lowest_m, width_m)
    rules = _rules(ground, width_m, terms, line.keeps_grade)
    may_break = _thinned(ground, terms) if line.keeps_grade else np.ones(station_m.size, np.bool_)
    worst = rules.turn * (2 * line.summits.size + line.sags.size + 1)
    work = STATION_WORK * station_m.size * len(passes)
    for count, share, roam in passes:
        rules = rules._replace(longest=LONGEST_PIECE_M[share < FINE_SHARE])
        level = _levels(ground, z, breaks, count, share)
        found = _searched(ground, level, may_break, rules, work)
        if found[0] >= worst:
            # A turn more: some station that was left out is needed for a break.
            may_break = np.ones(station_m.size, np.bool_)
            found = _searched(ground, level, may_break, rules, work)
        _, breaks, knots = found
        z = np.clip(np.interp(station_m, station_m[breaks], knots), lowest_m, highest_m)
        may_break = _near(station_m, breaks, terms.least_piece_m, roam)
    return joined(station_m, breaks, z)


def _ground(
    station_m: FloatArray, highest_m: FloatArray, lowest_m: FloatArray, width_m: FloatArray
) -> Ground:
    plan = width_m * np.diff(station_m)
    return Ground(
        station=station_m,
        highest=highest_m,
        lowest=lowest_m,
        ceiling=_running(plan * (highest_m[1:] + highest_m[:-1]) / 2.0),
        sums=_running(plan),
        moments=_running(plan * (station_m[1:] + station_m[:-1]) / 2.0),
    )


def _rules(ground: Ground, width_m: FloatArray, terms: BreakTerms, keeps: bool) -> Rules:
    """Return what prices a piece, a turn so dear that nothing else can outweigh it."""
    length = float(ground.station[-1] - ground.station[0])
    dug = float(np.max(width_m)) * length * float(np.max(ground.highest - ground.lowest))
    pieces = ground.station.size * (terms.break_price_m3 + SHORT_PIECE_M3)
    return Rules(
        price=terms.break_price_m3,
        least=terms.least_piece_m,
        longest=LONGEST_PIECE_M[0],
        rising=terms.rising,
        falling=terms.falling,
        keeps=keeps,
        turn=1.0 + dug + pieces + BELOW_GRADE_M2 * length,
    )


def _running(parts: FloatArray) -> FloatArray:
    return np.concatenate(([0.0], np.cumsum(parts)))


def _levels(
    ground: Ground, z: FloatArray, breaks: IntArray, count: int, share: float
) -> FloatArray:
    """Return levels to try at each station, highest first [m]; ``z`` is among them.

    Round a line found they reach over a share of the corridor; where the pieces before and after
    would run on are two more, so that a break can be saved without a step of level.
    """
    high, low = ground.highest[:, None], ground.lowest[:, None]
    if share >= 1.0:
        # Closer together near the ceiling, where the best lines run.
        level = high - (high - low) * np.linspace(0.0, 1.0, count) ** 1.5
        nearest = np.argmin(np.abs(level - z[:, None]), axis=1)
        level[np.arange(z.size), nearest] = z
        return level
    level = z[:, None] + (high - low) * share * np.linspace(1.0, -1.0, count)
    level[:, count // 2] = z
    s, knot = ground.station, ground.station[breaks]
    slope = np.diff(z[breaks]) / np.diff(knot)
    piece = np.minimum(np.searchsorted(breaks, np.arange(s.size), "right") - 1, slope.size - 1)
    beside = [np.maximum(piece - 1, 0), np.minimum(piece + 1, slope.size - 1)]
    run_on = [z[breaks[each]] + slope[each] * (s - knot[each]) for each in beside]
    return -np.sort(-np.clip(np.column_stack((level, *run_on)), low, high), axis=1)


def _thinned(ground: Ground, terms: BreakTerms) -> BoolArray:
    """Return where the line may break: one station in each half of a least piece.

    Dips of the ceiling and tops of the floor stay, for there the corridor is tight.
    """
    high, low = ground.highest, ground.lowest
    kept = np.ones(high.size, dtype=np.bool_)
    dip = (high[1:-1] <= np.minimum(high[:-2], high[2:])) & (high[:-2] != high[2:])
    top = (low[1:-1] >= np.maximum(low[:-2], low[2:])) & (low[:-2] != low[2:])
    if terms.least_piece_m > 0.0:
        along = (ground.station - ground.station[0]) / (terms.least_piece_m / 2.0)
        kept[1:-1] = dip | top | (np.diff(np.floor(along))[:-1] > 0)
    return kept


def _near(station_m: FloatArray, breaks: IntArray, least_m: float, share: float) -> BoolArray:
    """Return where breaks may move to: a share of the pieces beside them, or two stations."""
    n = station_m.size
    room = share * np.diff(station_m[breaks])
    before = station_m[breaks] - np.concatenate(([0.0], room)) - least_m
    after = station_m[breaks] + np.concatenate((room, [0.0])) + least_m
    first = np.minimum(np.searchsorted(station_m, before), np.maximum(breaks - 2, 0))
    end = np.maximum(np.searchsorted(station_m, after, "right"), np.minimum(breaks + 3, n))
    marks = np.zeros(n + 1)
    np.add.at(marks, first, 1.0)
    np.add.at(marks, end, -1.0)
    return np.asarray(np.cumsum(marks)[:-1] > 0.0)


def _searched(
    ground: Ground, level: FloatArray, may_break: BoolArray, rules: Rules, work: int
) -> tuple[float, IntArray, FloatArray]:
    """Return the cost of the cheapest line, its breaks with both ends, and its levels there."""
    form = search.native if repays(work) else search_plain
    ways = form(ground, level, may_break, rules)
    fall, rise = ways.fall[-1], ways.rise[-1]
    k = int(np.argmin(np.minimum(fall, rise)))
    cost = float(min(fall[k], rise[k]))
    if cost == np.inf:
        return cost, np.empty(0, np.int64), np.empty(0)
    end, rising = level.size - level.shape[1] + k, bool(rise[k] < fall[k])
    places = traced.sized(work)(ways, level, rules.turn, end, rising)
    breaks, levels = np.divmod(places, level.shape[1])
    return cost, breaks, level[breaks, levels]


def joined(station_m: FloatArray, breaks: IntArray, z: FloatArray) -> Straights:
    """Return the straights with collinear pieces joined, each station exactly on its straight."""
    knots = knots_of(station_m, breaks, z)
    return Straights(breaks=knots, elevation_m=np.interp(station_m, station_m[knots], z[knots]))
