"""The hillside as a graph: a state is a cell and the heading with which it was entered.

A move goes to one of 16 neighbours (the 8 around a cell and the 8 a knight's move away). What it
costs depends on its direction: on the slope across it, on the class of pipe that its level asks,
on whether it turns the climb round (a summit wants a vent, a sag a drain) and on the turn itself.
:func:`least_to_go` is the exact cost of the same moves without turns, summits and sags: never more
than the true cost to go, so that the search guided by it finds the least cost.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray, IntArray
from routing.compiled import kernel

__all__ = [
    "HEADINGS",
    "MOVES",
    "Field",
    "Found",
    "Moves",
    "Terms",
    "field_of",
    "least_cost",
    "least_to_go",
    "moves_on",
]

HEADINGS = 16
MOVES = (
    (0, 1), (1, 2), (1, 1), (2, 1), (1, 0), (2, -1), (1, -1), (1, -2),
    (0, -1), (-1, -2), (-1, -1), (-2, -1), (-1, 0), (-2, 1), (-1, 1), (-1, 2),
)  # fmt: skip
"""Rows and columns of each heading's move, clockwise from east where rows run south."""
FIRST = 255
"""Mark of a state that the search began with."""
CLEAR_M = 0.3
"""Least height of a bridge over the ground between its ends [m]."""


class Terms(NamedTuple):
    """What a metre costs, beyond the pipe itself: money per metre, money, metres, grades."""

    intake_m: float
    depth_m: float
    """Ground to the centreline of the pipe."""
    trench: float
    bench: float
    """Bench per metre where the ground falls one in one across it, before the cut face is added."""
    bench_from: float
    """Slope across the line from which a bench is cut."""
    cut: float
    """Rise over run of the cut face: steeper ground cannot be benched."""
    steep_from: float
    steep_factor: float
    vent: float
    drain: float
    slack_m: float
    """A rise of less than this can partly be dug through."""
    span: float
    longest_m: float
    """Longest span; 0 for none."""


class Field(NamedTuple):
    """The hillside: (rows, columns) of ground [m], closed cells, tolls [money/m], strain [-].

    ``shut`` is not zero where no line may go, ``extra`` what land costs by the metre, ``strain`` a
    factor on the price that leads a further search elsewhere; ``by_head`` is the price of a metre
    of the pipe that each whole metre of static head asks for; ``by_row`` and ``by_col`` are how the
    ground rises by a row and by a column [m].
    """

    heights: Any
    shut: Any
    extra: Any
    strain: Any
    by_head: Any
    by_row: Any
    by_col: Any


class Moves(NamedTuple):
    """The 16 moves on one grid: steps, lengths, slopes' directions, and the price of each turn."""

    row: IntArray
    col: IntArray
    length_m: FloatArray
    across_row: FloatArray
    across_col: FloatArray
    turn: FloatArray


@kernel
def _push(keys: Any, items: Any, count: Any, key: Any, item: Any) -> Any:
    at = count
    while at > 0:
        up = (at - 1) >> 1
        if keys[up] <= key:
            break
        keys[at] = keys[up]
        items[at] = items[up]
        at = up
    keys[at] = key
    items[at] = item
    return count + 1


@kernel
def _pop(keys: Any, items: Any, count: Any) -> Any:
    """Take the first entry out, which the caller has read; return how many are left."""
    count -= 1
    key = keys[count]
    item = items[count]
    at = 0
    while True:
        down = 2 * at + 1
        if down >= count:
            break
        if down + 1 < count and keys[down + 1] < keys[down]:
            down += 1
        if keys[down] >= key:
            break
        keys[at] = keys[down]
        items[at] = items[down]
        at = down
    keys[at] = key
    items[at] = item
    return count


@kernel
def _pipe(by_head: Any, head: Any) -> Any:
    """Return the price of a metre of pipe under a static head."""
    return by_head[min(max(int(head), 0), by_head.size - 1)]


@kernel
def _free(shut: Any, row: Any, col: Any, down: Any, right: Any) -> Any:
    """Return whether a move's end, and the cells that a knight's move brushes, are open."""
    rows, cols = shut.shape
    r = row + down
    c = col + right
    if r < 0 or c < 0 or r >= rows or c >= cols or shut[r, c] != 0:
        return False
    if abs(down) == 2:
        half = down // 2
        return shut[row + half, col] == 0 and shut[row + half, c] == 0
    if abs(right) == 2:
        half = right // 2
        return shut[row, col + half] == 0 and shut[r, col + half] == 0
    return True


@kernel
def _plain(
    field: Any, terms: Any, row: Any, col: Any, r: Any, c: Any, flat: Any, ditch: Any
) -> Any:
    """Return what pipe, ditch and tolls of a straight move cost."""
    here = field.heights[row, col]
    there = field.heights[r, c]
    slope = math.sqrt(flat * flat + (there - here) * (there - here))
    head = terms.intake_m - 0.5 * (here + there) + terms.depth_m
    toll = 0.5 * (field.extra[row, col] + field.extra[r, c])
    return slope * _pipe(field.by_head, head) + flat * (ditch + toll)


@kernel
def _turned(before: Any, rise: Any, terms: Any) -> Any:
    """Return the price of a sag or a summit between two moves, by the rises of both."""
    if before <= 0.0 and rise > 0.0:
        return terms.drain * min(1.0, rise / terms.slack_m)
    if before > 0.0 and rise <= 0.0:
        return terms.vent * min(1.0, before / terms.slack_m)
    return 0.0


@kernel
def _slopes(heights: Any, by_row: Any, by_col: Any) -> None:
    """Fill in how the ground rises by a row and by a column, level beside missing ground."""
    rows, cols = heights.shape
    for row in range(rows):
        up = max(row - 1, 0)
        down = min(row + 1, rows - 1)
        for col in range(cols):
            left = max(col - 1, 0)
            right = min(col + 1, cols - 1)
            rise = (heights[down, col] - heights[up, col]) / max(down - up, 1)
            by_row[row, col] = 0.0 if math.isnan(rise) else rise
            rise = (heights[row, right] - heights[row, left]) / max(right - left, 1)
            by_col[row, col] = 0.0 if math.isnan(rise) else rise


@kernel
def _dug(field: Any, terms: Any, moves: Any, row: Any, col: Any, h: Any) -> Any:
    """Return what one move in the ground costs; infinite where it cannot be."""
    if not _free(field.shut, row, col, moves.row[h], moves.col[h]):
        return np.inf
    side = abs(
        field.by_row[row, col] * moves.across_row[h] + field.by_col[row, col] * moves.across_col[h]
    )
    if side >= terms.cut:
        return np.inf
    r = row + moves.row[h]
    c = col + moves.col[h]
    flat = moves.length_m[h]
    ditch = terms.trench
    if abs(field.heights[r, c] - field.heights[row, col]) > terms.steep_from * flat:
        ditch *= terms.steep_factor
    if side > terms.bench_from:
        ditch += terms.bench * side / (1.0 - side / terms.cut)
    return field.strain[r, c] * _plain(field, terms, row, col, r, c, flat, ditch)


@kernel
def _hung(field: Any, terms: Any, moves: Any, row: Any, col: Any, h: Any, jump: Any) -> Any:
    """Return what a bridge over so many moves costs; infinite where it does not hang free."""
    heights = field.heights
    rows, cols = heights.shape
    down = moves.row[h]
    right = moves.col[h]
    r = row + jump * down
    c = col + jump * right
    if r < 0 or c < 0 or r >= rows or c >= cols or field.shut[r, c] != 0:
        return np.inf
    here = heights[row, col]
    fall = (heights[r, c] - here) / jump
    for k in range(1, jump):
        if field.shut[row + k * down, col + k * right] != 0:
            return np.inf
        if heights[row + k * down, col + k * right] > here + k * fall - CLEAR_M:
            return np.inf
    flat = jump * moves.length_m[h]
    return field.strain[r, c] * _plain(field, terms, row, col, r, c, flat, terms.span)


@kernel
def _before(heights: Any, moves: Any, cell: Any, heading: Any, came: Any) -> Any:
    """Return how much the move rose by which a state was entered [m]."""
    cols = heights.shape[1]
    moved = 1 if came == 255 else 1 + (came >> 4)
    row = cell // cols
    col = cell % cols
    back = heights[row - moved * moves.row[heading], col - moved * moves.col[heading]]
    return heights[row, col] - back


@kernel
def _longest(terms: Any, moves: Any, heading: Any, h: Any) -> Any:
    """Return over how many moves a bridge may go on straight from a state; 1: none."""
    if heading != h or h % 2 == 1 or terms.longest_m <= 0.0:
        return 1
    return max(1, min(14, int(terms.longest_m / moves.length_m[h])))


@kernel
def _into(field: Any, terms: Any, moves: Any, cell: Any, h: Any, jump: Any) -> Any:
    """Return from which cell a move leads into another, and its price; infinite if none does."""
    rows, cols = field.heights.shape
    row = cell // cols - jump * moves.row[h]
    col = cell % cols - jump * moves.col[h]
    if row < 0 or col < 0 or row >= rows or col >= cols or field.shut[row, col] != 0:
        return -1, np.inf
    if jump > 1:
        return row * cols + col, _hung(field, terms, moves, row, col, h, jump)
    return row * cols + col, _dug(field, terms, moves, row, col, h)


@kernel
def _least(field: Any, terms: Any, moves: Any, to: Any) -> Any:
    rows, cols = field.heights.shape
    cost = np.full(rows * cols, np.inf, dtype=np.float32)
    keys = np.empty(4096, dtype=np.float64)
    items = np.empty(4096, dtype=np.int64)
    count = 0
    for cell in to:
        if field.shut[cell // cols, cell % cols] == 0:
            cost[cell] = 0.0
            count = _push(keys, items, count, 0.0, cell)
    while count > 0:
        key = keys[0]
        cell = items[0]
        count = _pop(keys, items, count)
        if key > cost[cell]:
            continue
        for h in range(16):
            for jump in range(1, _longest(terms, moves, h, h) + 1):
                other, step = _into(field, terms, moves, cell, h, jump)
                new = np.float32(key + step)
                if step == np.inf or not new < cost[other]:
                    continue
                cost[other] = new
                if count == keys.size:
                    keys = np.append(keys, np.empty(count, dtype=np.float64))
                    items = np.append(items, np.empty(count, dtype=np.int64))
                count = _push(keys, items, count, np.float64(new), other)
    return cost


@kernel
def _next(keys: Any, items: Any, count: Any, cost: Any, to_go: Any) -> Any:
    """Return the state to open next, -1 if none, and how many entries are left."""
    while count > 0:
        key = keys[0]
        state = items[0]
        count = _pop(keys, items, count)
        if key <= np.float64(cost[state]) + np.float64(to_go[state >> 4]):
            return state, count
    return -1, count


@kernel
def _states(field: Any, terms: Any, moves: Any, to_go: Any, start: Any, ends: Any) -> Any:
    heights = field.heights
    rows, cols = heights.shape
    cost = np.full(rows * cols * 16, np.inf, dtype=np.float32)
    came = np.zeros(rows * cols * 16, dtype=np.uint8)
    keys = np.empty(4096, dtype=np.float64)
    items = np.empty(4096, dtype=np.int64)
    count = 0
    looked = 0
    cell = start
    heading = -1
    state = -1
    so_far = 0.0
    before = 0.0
    while True:
        looked += 1
        row = cell // cols
        col = cell % cols
        for h in range(16):
            turn = 0.0 if heading < 0 else moves.turn[heading, h]
            if turn == np.inf:
                continue
            for jump in range(1, _longest(terms, moves, heading, h) + 1):
                if jump == 1:
                    step = _dug(field, terms, moves, row, col, h)
                else:
                    step = _hung(field, terms, moves, row, col, h, jump)
                if step == np.inf:
                    continue
                r = row + jump * moves.row[h]
                c = col + jump * moves.col[h]
                onward = np.float64(to_go[r * cols + c])
                if heading >= 0:
                    step += turn + _turned(before, heights[r, c] - heights[row, col], terms)
                new = np.float32(so_far + step)
                other = ((r * cols + c) << 4) | h
                if new < cost[other] and onward < np.inf:
                    cost[other] = new
                    came[other] = 255 if heading < 0 else (heading | ((jump - 1) << 4))
                    if count == keys.size:
                        keys = np.append(keys, np.empty(count, dtype=np.float64))
                        items = np.append(items, np.empty(count, dtype=np.int64))
                    count = _push(keys, items, count, np.float64(new) + onward, other)
        state, count = _next(keys, items, count, cost, to_go)
        if state < 0 or ends[state >> 4]:
            break
        so_far = np.float64(cost[state])
        cell = state >> 4
        heading = state & 15
        before = _before(heights, moves, cell, heading, came[state])
    return (np.inf if state < 0 else np.float64(cost[state])), state, came, looked


class Found(NamedTuple):
    """The least-cost way: its cells in order, their cost [money], how many states were opened."""

    cells: IntArray
    spans: tuple[tuple[int, int], ...]
    """Places in ``cells`` between which a bridge hangs."""
    cost: float
    opened: int


def moves_on(east_m: float, south_m: float, turn: Callable[[float], float]) -> Moves:
    """Return the moves on a grid whose columns and rows are so far apart [m].

    ``turn`` prices a turn by its angle [deg], infinity where it is too sharp.
    """
    row, col = np.array(MOVES, dtype=np.int64).T
    x, y = col * east_m, row * south_m
    length = np.hypot(x, y)
    bearing = np.degrees(np.arctan2(y, x))
    angle = np.abs((bearing[None, :] - bearing[:, None] + 180.0) % 360.0 - 180.0)
    return Moves(
        row=np.ascontiguousarray(row),
        col=np.ascontiguousarray(col),
        length_m=length,
        # The rise over run across a heading, from the rises by a row and by a column.
        across_row=x / length / south_m,
        across_col=-y / length / east_m,
        turn=np.array([[turn(float(each)) for each in line] for line in angle]),
    )


def field_of(
    heights: NDArray[np.float32],
    shut: NDArray[np.uint8],
    extra: NDArray[np.float32],
    strain: NDArray[np.float32],
    by_head: FloatArray,
) -> Field:
    """Return a hillside with the slopes of its ground worked out."""
    by_row, by_col = np.empty_like(heights), np.empty_like(heights)
    _slopes.sized(heights.size * 4)(heights, by_row, by_col)
    return Field(heights, shut, extra, strain, by_head, by_row, by_col)


def least_to_go(field: Field, terms: Terms, moves: Moves, to: IntArray) -> NDArray[np.float32]:
    """Return the least that the way from each cell to the nearest of ``to`` can cost [money].

    The exact cost of the same moves without turns, summits and sags. Infinite where no open cells
    lead there.
    """
    form = _least.sized(field.heights.size * HEADINGS)
    return np.asarray(form(field, terms, moves, to), dtype=np.float32)


def least_cost(
    field: Field, terms: Terms, moves: Moves, to_go: NDArray[np.float32], start: int, ends: IntArray
) -> Found | None:
    """Return the least-cost way from a cell to one of ``ends``; None if there is none.

    ``to_go`` comes from :func:`least_to_go` for the same field, terms and ends, or cheaper ones; it
    never says more than the truth, so that the first way to arrive is the cheapest.
    """
    last = np.zeros(field.heights.size, dtype=np.bool_)
    last[ends] = True
    form = _states.sized(field.heights.size * HEADINGS)
    cost, state, came, opened = form(field, terms, moves, to_go, start, last)
    if state < 0:
        return None
    cols = field.heights.shape[1]
    cells, hung = [int(state) >> 4], []
    while True:
        mark, heading = int(came[state]), int(state) & 15
        jump = 1 if mark == FIRST else 1 + (mark >> 4)
        cell = cells[-1] - jump * (MOVES[heading][0] * cols + MOVES[heading][1])
        if jump > 1:
            hung.append(len(cells))
        cells.append(cell)
        if mark == FIRST:
            break
        state = (cell << 4) | (mark & 15)
    last_at = len(cells) - 1
    return Found(
        cells=np.array(cells[::-1], dtype=np.int64),
        spans=tuple((last_at - at, last_at - at + 1) for at in reversed(hung)),
        cost=float(cost),
        opened=int(opened),
    )
