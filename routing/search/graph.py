"""The hillside as a graph: cells, and the price of every move and bridge between two of them.

A move goes to one of 16 neighbours (the 8 around a cell and the 8 a knight's move away). What it
costs depends on its direction: on the slope across it and on the class of pipe that its level asks.
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
    "PAGE",
    "Field",
    "Graph",
    "Moves",
    "Terms",
    "field_of",
    "graph_of",
    "moves_on",
    "paged",
]

HEADINGS = 16
MOVES = (
    (0, 1), (1, 2), (1, 1), (2, 1), (1, 0), (2, -1), (1, -1), (1, -2),
    (0, -1), (-1, -2), (-1, -1), (-2, -1), (-1, 0), (-2, 1), (-1, 1), (-1, 2),
)  # fmt: skip
"""Rows and columns of each heading's move, clockwise from east where rows run south."""
CLEAR_M = 0.3
"""Least height of a bridge over the ground between its ends [m]."""
PAGE = 32
"""Cells a side of a square whose prices are worked out together [-]."""
MOST_PAGES = 512
"""Such squares whose prices are kept [-], 32 MB."""


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
    of the pipe that each whole metre of static head asks for.
    """

    heights: Any
    shut: Any
    extra: Any
    strain: Any
    by_head: Any


class Moves(NamedTuple):
    """The 16 moves on one grid: steps, lengths, slopes' directions, and the price of each turn."""

    row: IntArray
    col: IntArray
    length_m: FloatArray
    across_row: FloatArray
    across_col: FloatArray
    turn: FloatArray


class Pages(NamedTuple):
    """Prices of moves, worked out for squares of cells when one of them is asked for.

    ``price`` is (pages, cells of a square by rows, 16); ``page`` says which page a square is on, -1
    where on none, ``block`` which square is on a page, ``oldest`` which page is written next.
    """

    price: Any
    page: Any
    block: Any
    oldest: Any


class Graph(NamedTuple):
    """A hillside with the price of every move on it.

    Prices of moves are infinite where a move cannot be, and without the strain of the cell it leads
    to. Bridges are listed by the cell they begin in: those of a cell are the entries from
    ``first`` of it to the next; ``ending`` lists them by the cell they end in, from ``last`` on.
    """

    field: Any
    pages: Any
    strain: Any
    heights: Any
    first: Any
    last: Any
    ending: Any
    begin: Any
    end: Any
    heading: Any
    jump: Any
    hung: Any
    terms: Any
    moves: Any


@kernel
def _slopes(heights: Any, row: Any, col: Any) -> Any:
    """Return how the ground rises by a row and by a column, level beside missing ground [m]."""
    rows, cols = heights.shape
    up = max(row - 1, 0)
    down = min(row + 1, rows - 1)
    left = max(col - 1, 0)
    right = min(col + 1, cols - 1)
    by_row = (heights[down, col] - heights[up, col]) / max(down - up, 1)
    by_col = (heights[row, right] - heights[row, left]) / max(right - left, 1)
    return 0.0 if math.isnan(by_row) else by_row, 0.0 if math.isnan(by_col) else by_col


@kernel
def _prices(field: Any, terms: Any, moves: Any, top: Any, left: Any, price: Any) -> None:
    """Fill in what each move from the cells of a page costs; infinite where it cannot be."""
    heights, shut, extra, by_head = field.heights, field.shut, field.extra, field.by_head
    rows, cols = heights.shape
    deepest = by_head.size - 1
    for cell in range(PAGE * PAGE):
        row = top + cell // PAGE
        col = left + cell % PAGE
        if row >= rows or col >= cols:
            continue
        by_row, by_col = _slopes(heights, row, col)
        for h in range(16):
            price[cell, h] = np.inf
            r = row + moves.row[h]
            c = col + moves.col[h]
            if r < 0 or c < 0 or r >= rows or c >= cols or shut[row, col] != 0 or shut[r, c] != 0:
                continue
            if h % 2 == 1:  # a knight's move brushes two cells
                if abs(moves.row[h]) == 2:
                    half = row + moves.row[h] // 2
                    if shut[half, col] != 0 or shut[half, c] != 0:
                        continue
                else:
                    half = col + moves.col[h] // 2
                    if shut[row, half] != 0 or shut[r, half] != 0:
                        continue
            side = abs(by_row * moves.across_row[h] + by_col * moves.across_col[h])
            if side >= terms.cut:
                continue
            flat = moves.length_m[h]
            rise = heights[r, c] - heights[row, col]
            ditch = terms.trench
            if abs(rise) > terms.steep_from * flat:
                ditch *= terms.steep_factor
            if side > terms.bench_from:
                ditch += terms.bench * side / (1.0 - side / terms.cut)
            ditch += 0.5 * (extra[row, col] + extra[r, c])
            head = terms.intake_m - 0.5 * (heights[row, col] + heights[r, c]) + terms.depth_m
            pipe = by_head[min(max(int(head), 0), deepest)]
            price[cell, h] = math.sqrt(flat * flat + rise * rise) * pipe + flat * ditch


@kernel
def paged(graph: Any, block: Any) -> Any:
    """Return the page of a block of cells, filled in place of the oldest if it is not there."""
    pages = graph.pages
    cols = graph.field.heights.shape[1]
    across = (cols + PAGE - 1) // PAGE
    at = pages.oldest[0]
    pages.oldest[0] = (at + 1) % pages.block.size
    if pages.block[at] >= 0:
        pages.page[pages.block[at]] = -1
    pages.block[at] = block
    pages.page[block] = at
    top = block // across * PAGE
    left = block % across * PAGE
    _prices(graph.field, graph.terms, graph.moves, top, left, pages.price[at])
    return at


@kernel
def _hangs(heights: Any, shut: Any, moves: Any, row: Any, col: Any, h: Any, jump: Any) -> Any:
    """Return whether a bridge over so many moves hangs free."""
    rows, cols = heights.shape
    r = row + jump * moves.row[h]
    c = col + jump * moves.col[h]
    if r < 0 or c < 0 or r >= rows or c >= cols or shut[r, c] != 0:
        return False
    here = heights[row, col]
    fall = (heights[r, c] - here) / jump
    for k in range(1, jump):
        y = row + k * moves.row[h]
        x = col + k * moves.col[h]
        if shut[y, x] != 0 or heights[y, x] > here + k * fall - CLEAR_M:
            return False
    return True


@kernel
def _bridges(field: Any, terms: Any, moves: Any, first: Any, lists: Any, hung: Any) -> Any:
    """List the bridges by the cell they begin in; with empty lists count them only."""
    heights, shut = field.heights, field.shut
    rows, cols = heights.shape
    count = 0
    for cell in range(rows * cols):
        first[cell] = count
        row = cell // cols
        col = cell % cols
        if shut[row, col] != 0:
            continue
        for h in range(0, 16, 2):
            r = row + moves.row[h]
            c = col + moves.col[h]
            if r < 0 or c < 0 or r >= rows or c >= cols:
                continue
            for jump in range(2, min(14, int(terms.longest_m / moves.length_m[h])) + 1):
                if not _hangs(heights, shut, moves, row, col, h, jump):
                    continue
                if hung.size > 0:
                    r = row + jump * moves.row[h]
                    c = col + jump * moves.col[h]
                    flat = jump * moves.length_m[h]
                    rise = heights[r, c] - heights[row, col]
                    head = terms.intake_m - 0.5 * (heights[r, c] + heights[row, col])
                    head = min(max(int(head + terms.depth_m), 0), field.by_head.size - 1)
                    toll = 0.5 * (field.extra[row, col] + field.extra[r, c])
                    lists[0, count] = cell
                    lists[1, count] = r * cols + c
                    lists[2, count] = h
                    lists[3, count] = jump
                    hung[count] = math.sqrt(flat * flat + rise * rise) * field.by_head[
                        head
                    ] + flat * (terms.span + toll)
                count += 1
    first[rows * cols] = count
    return count


def moves_on(east_m: float, south_m: float, turn: Callable[[float], float]) -> Moves:
    """Return the moves on a grid.

    Parameters
    ----------
    east_m, south_m : float
        Distance of two columns and of two rows, > 0 [m]
    turn : callable
        Price of a turn by its angle, 0 to 180 [deg]; infinite where it is too sharp [money]

    Returns
    -------
    Moves
        Arrays over headings, (16,); ``turn`` is (16, 16), by the heading before and the one after
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
    """Return a hillside.

    Parameters
    ----------
    heights : NDArray of float32, shape (rows, columns)
        Ground, NaN where missing [m]
    shut : NDArray of uint8, shape (rows, columns)
        Not 0 where no line may go; missing ground must be shut
    extra : NDArray of float32, shape (rows, columns)
        Toll of the land [money/m]
    strain : NDArray of float32, shape (rows, columns)
        Factor on the price, > 0; for the graph alone (1, 1) where it is the same everywhere [-]
    by_head : FloatArray, shape (heads,)
        Price of pipe for each whole metre of head at rest, the last for all above [money/m]

    Returns
    -------
    Field
        The hillside
    """
    return Field(heights, shut, extra, strain, by_head)


def graph_of(field: Field, terms: Terms, moves: Moves) -> Graph:
    """Return a hillside with the price of every move, and its bridges.

    Parameters
    ----------
    field : Field
        The hillside
    terms : Terms
        What a metre costs; with ``longest_m`` of 0 there are no bridges
    moves : Moves
        Those on the grid of the field

    Returns
    -------
    Graph
        Prices of moves by pages, of bridges by number [money]
    """
    size, work = field.heights.size, field.heights.size * HEADINGS
    blocks = math.prod(-(-side // PAGE) for side in field.heights.shape)
    kept = min(blocks, MOST_PAGES)
    pages = Pages(
        price=np.empty((kept, PAGE * PAGE, HEADINGS), dtype=np.float32),
        page=np.full(blocks, -1, dtype=np.int32),
        block=np.full(kept, -1, dtype=np.int32),
        oldest=np.zeros(1, dtype=np.int64),
    )
    first = last = np.zeros(size + 1, dtype=np.int32)
    lists, hung = np.zeros((4, 0), dtype=np.int32), np.zeros(0)
    if terms.longest_m > 0.0:
        list_bridges = _bridges.sized(work)
        count = list_bridges(field, terms, moves, first, lists, hung)
        lists, hung = np.zeros((4, count), dtype=np.int32), np.zeros(count)
        list_bridges(field, terms, moves, first, lists, hung)
    ending = np.argsort(lists[1], kind="stable").astype(np.int32)
    if ending.size:
        last = np.zeros(size + 1, dtype=np.int32)
        np.cumsum(np.bincount(lists[1], minlength=size), out=last[1:])
    return Graph(
        field=field,
        pages=pages,
        strain=field.strain.reshape(-1),
        heights=field.heights.reshape(-1),
        first=first,
        last=last,
        ending=ending,
        begin=lists[0],
        end=lists[1],
        heading=lists[2],
        jump=lists[3],
        hung=hung,
        terms=terms,
        moves=moves,
    )
