"""Which tile of a grid holds a cell: looked up at once, however many tiles there are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.value import dataclass

__all__ = ["TileIndex", "index_tiles"]

Box = tuple[int, int, int, int]
"""First row, first column, row past the last, column past the last."""

RIM = 1e-6
"""How far beyond a tile's edge a place still counts as on it [cells]: rounding of projections."""

MOST_OWNERS = 4_000_000
"""Most squares of the table of owners [-]; tiles so odd that they need more are refused."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TileIndex:
    """The grid cut along every edge of a tile; ``owner`` names the first tile on each square.

    ``boxes`` holds the tiles' places, shape (tiles, 4), as :func:`index_tiles` got them; ``owner``
    is -1 where no tile lies, ``depth`` the number of tiles there.
    """

    boxes: IntArray
    row_edges: IntArray
    col_edges: IntArray
    owner: NDArray[np.int32]
    depth: NDArray[np.int32]

    @property
    def full(self) -> bool:
        """Whether every cell of the grid belongs to a tile."""
        return bool((self.owner >= 0).all())

    @property
    def single(self) -> bool:
        """Whether no cell belongs to two tiles."""
        return bool((self.depth <= 1).all())

    def owners(self, rows: IntArray, cols: IntArray) -> IntArray:
        """Return the first tile that holds each cell, -1 where none does."""
        return self._look(self.owner, rows, cols, -1)

    def owners_at(self, row: FloatArray, col: FloatArray) -> IntArray:
        """Return the first tile that holds each place in node coordinates, its rim included."""
        found = self.owners(_nearest(row), _nearest(col))
        for down, right in ((-RIM, -RIM), (-RIM, RIM), (RIM, -RIM), (RIM, RIM)):
            bare = np.flatnonzero(found < 0)
            if not bare.size:
                break
            found[bare] = self.owners(_nearest(row[bare] + down), _nearest(col[bare] + right))
        return found

    def shared(self, rows: IntArray, cols: IntArray) -> BoolArray:
        """Return which cells belong to more than one tile."""
        return self._look(self.depth, rows, cols, 0) > 1

    def touched(self, top: int, left: int, bottom: int, right: int) -> IntArray:
        """Return the tiles that reach into a rectangle of cells, in their order."""
        rows, cols = self.boxes[:, [0, 2]], self.boxes[:, [1, 3]]
        inside = (rows[:, 0] < bottom) & (rows[:, 1] > top)
        inside &= (cols[:, 0] < right) & (cols[:, 1] > left)
        return np.flatnonzero(inside)

    def _look(
        self, table: NDArray[np.int32], rows: IntArray, cols: IntArray, outside: int
    ) -> IntArray:
        down = np.searchsorted(self.row_edges, rows, side="right") - 1
        across = np.searchsorted(self.col_edges, cols, side="right") - 1
        height, width = table.shape
        inside = (down >= 0) & (down < height) & (across >= 0) & (across < width)
        found = table[np.clip(down, 0, height - 1), np.clip(across, 0, width - 1)]
        return np.where(inside, found, outside).astype(np.int64)


def index_tiles(boxes: Sequence[Box]) -> TileIndex | None:
    """Return the index of tiles at these places, None if they overlap in too many ways."""
    table = np.asarray(boxes, dtype=np.int64).reshape(-1, 4)
    row_edges = np.unique(table[:, [0, 2]])
    col_edges = np.unique(table[:, [1, 3]])
    if (row_edges.size - 1) * (col_edges.size - 1) > MOST_OWNERS:
        return None
    owner = np.full((row_edges.size - 1, col_edges.size - 1), -1, dtype=np.int32)
    depth = np.zeros(owner.shape, dtype=np.int32)
    tops, bottoms = np.searchsorted(row_edges, table[:, [0, 2]]).T
    lefts, rights = np.searchsorted(col_edges, table[:, [1, 3]]).T
    for number in range(table.shape[0] - 1, -1, -1):  # the first tile is laid last, on top
        place = np.s_[tops[number] : bottoms[number], lefts[number] : rights[number]]
        owner[place] = number
        depth[place] += 1
    return TileIndex(
        boxes=frozen(table, np.int64),
        row_edges=frozen(row_edges, np.int64),
        col_edges=frozen(col_edges, np.int64),
        owner=frozen(owner, np.int32),
        depth=frozen(depth, np.int32),
    )


def _nearest(place: FloatArray) -> IntArray:
    """Return the cells whose squares hold these node coordinates."""
    return np.floor(place + 0.5).astype(np.int64)
