"""Streams: the cells through which a stated area drains, and lines made of them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.arrays import BoolArray, FloatArray, IntArray, frozen
from routing.catchment.areas import Flags, strips_of_areas
from routing.catchment.codes import DCOL, DROW, OUT
from routing.catchment.descent import Whole
from routing.catchment.drainage import Drainage
from routing.compiled import kernel
from routing.need import need
from routing.value import dataclass

__all__ = ["StreamLine", "StreamNetwork", "stream_lines", "stream_network"]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamNetwork:
    """The cells through which ``threshold_m2`` or more drains.

    Attributes
    ----------
    drainage : Drainage
        Where the water of the whole grid goes
    threshold_m2 : float
        Least catchment area of a stream's cell [m2]
    cell : array of int, shape (n,)
        Cells, row x columns + column, rising [-]
    area_m2 : array, shape (n,)
        Catchment area of each [m2]
    at_least : array of uint8, shape (n,)
        1 where water may come from beyond the raster
    below : array of int, shape (n,)
        Which of these cells each drains to, -1 where it leaves the raster [-]
    """

    drainage: Drainage
    threshold_m2: float
    cell: IntArray
    area_m2: FloatArray
    at_least: Flags
    below: Whole

    def places(self, index: Any) -> tuple[IntArray, IntArray]:
        """Return rows and columns of the cells of an index."""
        row, col = np.divmod(self.cell[index], self.drainage.shape[1])
        return row, col

    def above(self, threshold_m2: float) -> StreamNetwork:
        """Return the network of a higher threshold; itself where the threshold is no higher."""
        kept = self.area_m2 >= threshold_m2
        if threshold_m2 <= self.threshold_m2 or kept.all():
            return self
        # What lies below a cell has a larger area, so that it is kept too.
        number = np.append(np.cumsum(kept) - 1, -1)
        return StreamNetwork(
            drainage=self.drainage,
            threshold_m2=threshold_m2,
            cell=frozen(self.cell[kept], dtype=np.int64),
            area_m2=frozen(self.area_m2[kept]),
            at_least=frozen(self.at_least[kept], dtype=np.uint8),
            below=frozen(number[self.below[kept]], dtype=np.int32),
        )

    def find(self, row: int, col: int) -> int:
        """Return the index of a cell, -1 where it is on no stream."""
        wanted = row * self.drainage.shape[1] + col
        at = int(np.searchsorted(self.cell, wanted))
        return at if at < self.cell.size and self.cell[at] == wanted else -1


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamLine:
    """A stream from its head or a confluence down to the next confluence or the raster's edge.

    ``index`` are its cells in the network, downstream, with the one in which it ends. ``area_m2``
    is what drains to its lower end, without what else meets there; ``at_least`` says that water may
    come from beyond the raster. ``order`` is Strahler's: 1 at a head, one more where two of the
    same order meet.
    """

    network: StreamNetwork
    index: IntArray
    area_m2: float
    at_least: bool
    order: int

    def lonlat(self) -> tuple[FloatArray, FloatArray]:
        """Return longitudes and latitudes of the cells' centres [deg]."""
        return self.network.drainage.terrain.reference.to_lonlat(*self.network.places(self.index))


def stream_network(
    drainage: Drainage,
    threshold_m2: float,
    *,
    progress: Callable[[float], None] | None = None,
) -> StreamNetwork:
    """Return the cells through which an area or more drains.

    Parameters
    ----------
    drainage : Drainage
        What :func:`routing.catchment.drain` returned
    threshold_m2 : float
        Least catchment area of a stream, > 0 [m2]
    progress : callable, optional
        Is told the share of the work that is done, 0 to 1

    Returns
    -------
    StreamNetwork
        The streams' cells with what drains through them
    """
    need("The least catchment area of a stream", threshold_m2, above=0.0, unit="m2")
    rows, cols = drainage.shape
    cells, areas, flags = [], [], []
    for strip in strips_of_areas(drainage):
        found = np.flatnonzero(strip.area_m2.reshape(-1) >= threshold_m2)
        cells.append(found + strip.first * cols)
        areas.append(strip.area_m2.reshape(-1)[found])
        flags.append(strip.at_least.reshape(-1)[found])
        if progress is not None:
            progress(strip.last / rows)
    cell = np.concatenate(cells)
    return StreamNetwork(
        drainage=drainage,
        threshold_m2=threshold_m2,
        cell=frozen(cell, dtype=np.int64),
        area_m2=frozen(np.concatenate(areas)),
        at_least=frozen(np.concatenate(flags), dtype=np.uint8),
        below=frozen(_below(drainage, cell), dtype=np.int32),
    )


def _below(drainage: Drainage, cell: IntArray) -> NDArray[np.int32]:
    """Return which cell of a sorted list each of them drains to, -1 for none."""
    way = drainage.directions.reshape(-1)[cell]
    step = np.append(DROW * drainage.shape[1] + DCOL, 0)[np.minimum(way, OUT)]
    return np.where(way < OUT, np.searchsorted(cell, cell + step), -1).astype(np.int32)


@kernel
def _orders(below: Whole, donors: Whole, order: Whole, second: Whole) -> None:
    """Fill Strahler's order of each cell; ``order`` and ``second`` come as 0."""
    for i in range(below.shape[0]):
        j = i
        while donors[j] == 0:
            donors[j] = -1
            if order[j] == 0:
                order[j] = 1
            elif second[j] == order[j]:
                order[j] += 1
            k = below[j]
            if k < 0:
                break
            if order[j] > order[k]:
                second[k] = order[k]
                order[k] = order[j]
            elif order[j] > second[k]:
                second[k] = order[j]
            donors[k] -= 1
            j = k


@kernel
def _trace(below: Whole, starts: IntArray, stop: BoolArray, path: Whole, ends: IntArray) -> None:
    """Write the cells of all lines into ``path``, and where each line ends there."""
    n = 0
    for i in range(starts.shape[0]):
        j = starts[i]
        path[n] = j
        n += 1
        while below[j] >= 0:
            j = below[j]
            path[n] = j
            n += 1
            if stop[j]:
                break
        ends[i] = n


def stream_lines(
    network: StreamNetwork,
    *,
    threshold_m2: float | None = None,
    box: tuple[int, int, int, int] | None = None,
) -> list[StreamLine]:
    """Return the streams as lines between heads, confluences and the raster's edge.

    Parameters
    ----------
    network : StreamNetwork
        Cells of the streams
    threshold_m2 : float, optional
        Only streams of this area or more; at least the network's own [m2]
    box : tuple of 4 int, optional
        First row, end row, first column, end column: only lines with a cell in it

    Returns
    -------
    list of StreamLine
        In order of their first cell; a line includes the cell of the confluence that ends it
    """
    network = network.above(threshold_m2 or 0.0)
    size = network.cell.size
    donors = np.bincount(network.below[network.below >= 0], minlength=size).astype(np.int32)
    order, second = np.zeros(size, dtype=np.int32), np.zeros(size, dtype=np.int32)
    _orders.sized(10 * size)(network.below, donors.copy(), order, second)
    stop = donors > 1
    starts = np.flatnonzero(donors != 1)
    path = np.empty(size + starts.size, dtype=np.int32)
    ends = np.empty(starts.size, dtype=np.int64)
    _trace.sized(10 * size)(network.below, starts, stop, path, ends)
    lines = []
    for first, last, start in zip(np.append(0, ends)[:-1], ends, starts, strict=True):
        index = path[first:last].astype(np.int64)
        if last - first > 1 and (box is None or _touches(network, index, box)):
            own = index[-2] if stop[index[-1]] else index[-1]
            lines.append(
                StreamLine(
                    network=network,
                    index=index,
                    area_m2=float(network.area_m2[own]),
                    at_least=bool(network.at_least[own]),
                    order=int(order[start]),
                )
            )
    return lines


def _touches(network: StreamNetwork, index: IntArray, box: tuple[int, int, int, int]) -> bool:
    row, col = network.places(index)
    return bool(np.any((row >= box[0]) & (row < box[1]) & (col >= box[2]) & (col < box[3])))
