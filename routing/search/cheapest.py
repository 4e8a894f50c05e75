"""The cheapest way over the graph of a hillside, and the least that is still to go from each cell.

A state is a cell and the heading with which it was entered, since a move also costs what it turns:
the line itself, and the climb (a summit wants a vent, a sag a drain).
:func:`least_to_go` is the exact cost of the same moves without turns, summits and sags: never more
than the true cost to go, so that the search guided by it finds the least cost.
"""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from routing.arrays import IntArray
from routing.compiled import kernel
from routing.search.graph import HEADINGS, MOVES, PAGE, Graph, paged

__all__ = ["Found", "least_cost", "least_to_go"]

FIRST = 255
"""Mark of a state that the search began with.

Others hold the heading before in their lower four bits and the moves of a bridge above, 1 for a
move in the ground; 0 is a state not met yet, so that memory never written to takes no room.
"""


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
def _least(graph: Any, cols: Any, to: Any, start: Any) -> Any:
    price, page = graph.pages.price, graph.pages.page
    strain, moves = graph.strain, graph.moves
    across = (cols + PAGE - 1) // PAGE
    alike = strain.size == 1
    size = graph.heights.size
    cost = np.full(size, np.inf, dtype=np.float32)
    keys = np.empty(4096, dtype=np.float32)
    items = np.empty(4096, dtype=np.int32)
    count = 0
    for cell in to:
        cost[cell] = 0.0
        count = _push(keys, items, count, np.float32(0.0), cell)
    while count > 0:
        key = keys[0]
        cell = np.int64(items[0])
        count = _pop(keys, items, count)
        if key > cost[cell]:
            continue
        if cell == start:
            # No cell that is left is nearer than this one.
            for other in range(size):
                cost[other] = min(cost[other], key)
            break
        row = cell // cols
        col = cell % cols
        bridges = graph.last[cell + 1] - graph.last[cell]
        for k in range(16 + bridges):
            if k < 16:
                r = row - moves.row[k]
                c = col - moves.col[k]
                other = r * cols + c
                if c < 0 or c >= cols or other < 0 or other >= size:
                    continue
                block = r // PAGE * across + c // PAGE
                at = np.int64(page[block])
                if at < 0:
                    at = paged(graph, block)
                step = np.float64(price[at, r % PAGE * PAGE + c % PAGE, k])
            else:
                at = graph.ending[graph.last[cell] + k - 16]
                other = int(graph.begin[at])
                step = graph.hung[at]
            new = np.float32(np.float64(key) + step * strain[0 if alike else cell])
            if new < cost[other]:
                cost[other] = new
                if count == keys.size:
                    keys = np.append(keys, np.empty(count, dtype=np.float32))
                    items = np.append(items, np.empty(count, dtype=np.int32))
                count = _push(keys, items, count, new, other)
    return cost


@kernel
def _turned(before: Any, rise: Any, terms: Any) -> Any:
    """Return the price of a sag or a summit between two moves, by the rises of both."""
    if before <= 0.0 and rise > 0.0:
        return terms.drain * min(1.0, rise / terms.slack_m)
    if before > 0.0 and rise <= 0.0:
        return terms.vent * min(1.0, before / terms.slack_m)
    return 0.0


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
def _states(graph: Any, cols: Any, to_go: Any, start: Any, ends: Any, cost: Any, came: Any) -> Any:
    price, page = graph.pages.price, graph.pages.page
    strain, heights, moves = graph.strain, graph.heights, graph.moves
    across = (cols + PAGE - 1) // PAGE
    alike = strain.size == 1
    keys = np.empty(4096, dtype=np.float64)
    items = np.empty(4096, dtype=np.int64)
    count = 0
    looked = 0
    cell = start
    heading = -1
    so_far = 0.0
    before = 0.0
    while True:
        looked += 1
        row = cell // cols
        col = cell % cols
        within = row % PAGE * PAGE + col % PAGE
        block = row // PAGE * across + col // PAGE
        leaf = np.int64(page[block])
        if leaf < 0:
            leaf = paged(graph, block)
        bridges = graph.first[cell + 1] - graph.first[cell] if heading >= 0 else 0
        for k in range(16 + bridges):
            h = k
            jump = 1
            other = cell
            if k < 16:
                if heading >= 0 and moves.turn[heading, h] == np.inf:
                    continue
                step = np.float64(price[leaf, within, k])
                if step < np.inf:
                    other += moves.row[k] * cols + moves.col[k]
            else:
                at = graph.first[cell] + k - 16
                h = int(graph.heading[at])
                jump = int(graph.jump[at])
                other = int(graph.end[at])
                step = np.float64(graph.hung[at] if h == heading else np.inf)
            step *= strain[0 if alike else other]
            if heading >= 0:
                step += moves.turn[heading, h]
                rise = np.float64(heights[other]) - np.float64(heights[cell])
                step += _turned(before, rise, graph.terms)
            onward = np.float64(to_go[other])
            new = np.float32(so_far + step)
            state = (other << 4) | h
            if new < np.inf and (came[state] == 0 or new < cost[state]) and onward < np.inf:
                cost[state] = new
                came[state] = FIRST if heading < 0 else (heading | (jump << 4))
                if count == keys.size:
                    keys = np.append(keys, np.empty(count, dtype=np.float64))
                    items = np.append(items, np.empty(count, dtype=np.int64))
                count = _push(keys, items, count, np.float64(new) + onward, state)
        state, count = _next(keys, items, count, cost, to_go)
        if state < 0 or ends[state >> 4]:
            break
        so_far = np.float64(cost[state])
        cell = state >> 4
        heading = state & 15
        moved = 1 if came[state] == FIRST else np.int64(came[state] >> 4)
        back = cell - moved * (moves.row[heading] * cols + moves.col[heading])
        before = np.float64(heights[cell]) - np.float64(heights[back])
    return (np.inf if state < 0 else np.float64(cost[state])), state, looked


class Found(NamedTuple):
    """The least-cost way: its cells in order, their cost [money], how many states were opened."""

    cells: IntArray
    spans: tuple[tuple[int, int], ...]
    """Places in ``cells`` between which a bridge hangs."""
    cost: float
    opened: int


def least_to_go(
    graph: Graph, cols: int, to: IntArray, start: int | None = None
) -> NDArray[np.float32]:
    """Return the least that the way from each cell to the nearest of ``to`` can cost.

    The exact cost of the same moves without turns, summits and sags [1]_. Told where a way starts,
    it ends there: cells that are dearer are given the cost of that cell, which is less than theirs.

    Parameters
    ----------
    graph : Graph
        Prices of all moves
    cols : int
        Columns of its grid
    to : IntArray, shape (n,)
        Cells to arrive at, by number: row times ``cols`` plus column
    start : int, optional
        Cell from which the cost is wanted

    Returns
    -------
    to_go : NDArray of float32, shape (cells,)
        Least cost, infinite where no open cells lead there [money]

    References
    ----------
    .. [1] Dijkstra, E. W. *A note on two problems in connexion with graphs*, Numerische
       Mathematik 1, 1959.
    """
    form = _least.sized(graph.heights.size * HEADINGS)
    return np.asarray(form(graph, cols, to, -1 if start is None else start), dtype=np.float32)


def least_cost(
    graph: Graph, cols: int, to_go: NDArray[np.float32], start: int, ends: IntArray
) -> Found | None:
    """Return the least-cost way from a cell to one of ``ends``; None if there is none.

    A search over states guided by what is still to go [1]_, which is never more than the truth, so
    that the first way to arrive is the cheapest.

    Parameters
    ----------
    graph : Graph
        Prices of all moves
    cols : int
        Columns of its grid
    to_go : NDArray of float32, shape (cells,)
        What :func:`least_to_go` says for the same graph and ends [money]
    start : int
        Cell to begin in, by number
    ends : IntArray, shape (n,)
        Cells to arrive at, by number

    Returns
    -------
    Found or None
        Cells from start to end, the bridges among its legs, and the cost

    References
    ----------
    .. [1] Hart, P. E., Nilsson, N. J. and Raphael, B. *A formal basis for the heuristic
       determination of minimum cost paths*, IEEE Transactions on Systems Science and
       Cybernetics 4, 1968.
    """
    last = np.zeros(graph.heights.size, dtype=np.bool_)
    last[ends] = True
    states = graph.heights.size * HEADINGS
    costs, came = np.zeros(states, dtype=np.float32), np.zeros(states, dtype=np.uint8)
    form = _states.sized(states)
    cost, state, opened = form(graph, cols, to_go, start, last, costs, came)
    if state < 0:
        return None
    cells, hung = [int(state) >> 4], []
    while True:
        mark, heading = int(came[state]), int(state) & 15
        jump = 1 if mark == FIRST else mark >> 4
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
