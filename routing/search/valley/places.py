"""Places along streams, and for each the chain of places further down the same water."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray, IntArray, frozen
from routing.catchment import StreamNetwork
from routing.catchment.codes import DCOL, DROW, OUT
from routing.value import dataclass

__all__ = ["Chains", "chains_of", "places_on"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Chains:
    """Intakes, and the stream below each of them as cells, one chain after the other.

    ``first`` has one more entry than there are chains: the cells of chain k are those from
    ``first[k]`` to ``first[k + 1]``, the intake itself at the head. ``along_m`` is the way down the
    stream from the intake, ``stop`` says where a powerhouse may stand, ``area_m2`` is the catchment
    of each chain's intake.
    """

    first: IntArray
    row: IntArray
    col: IntArray
    along_m: FloatArray
    stop: IntArray
    area_m2: FloatArray

    @property
    def count(self) -> int:
        """Number of intakes."""
        return self.first.size - 1

    @property
    def candidates(self) -> int:
        """Number of pairs of intake and powerhouse."""
        return int(self.stop.sum())

    def part(self, start: int, end: int) -> Chains:
        """Return some of the chains."""
        a, b = self.first[start], self.first[end]
        return Chains(
            first=frozen(self.first[start : end + 1] - a, np.int64),
            row=frozen(self.row[a:b], np.int64),
            col=frozen(self.col[a:b], np.int64),
            along_m=frozen(self.along_m[a:b]),
            stop=frozen(self.stop[a:b], np.int64),
            area_m2=frozen(self.area_m2[start:end]),
        )

    def chosen(self, which: IntArray) -> Chains:
        """Return the chains of some intakes."""
        lengths = np.diff(self.first)[which]
        first = np.concatenate([[0], np.cumsum(lengths)])
        cells = np.repeat(self.first[which] - first[:-1], lengths) + np.arange(first[-1])
        return Chains(
            first=frozen(first, np.int64),
            row=frozen(self.row[cells], np.int64),
            col=frozen(self.col[cells], np.int64),
            along_m=frozen(self.along_m[cells]),
            stop=frozen(self.stop[cells], np.int64),
            area_m2=frozen(self.area_m2[which]),
        )


def places_on(network: StreamNetwork, spacing_m: float) -> tuple[IntArray, FloatArray]:
    """Return which cells of a network are places, and how far each cell is from the next below.

    Walking up from every mouth, a place stands at each further ``spacing_m`` of the way; the cells
    come as indices of the network, the ways in metres.
    """
    step_m = _steps_m(network)
    below = network.below
    way = np.zeros(below.size)
    # Cells with less water lie above those with more: in falling order of area all are reached
    # after the cell below them.
    for at in np.argsort(-network.area_m2, kind="stable").tolist():
        if below[at] >= 0:
            way[at] = way[below[at]] + step_m[at]
    number = np.floor(way / spacing_m).astype(np.int64)
    last = np.where(below >= 0, number[below], -1)
    return np.flatnonzero(number != last), step_m


def _steps_m(network: StreamNetwork) -> FloatArray:
    """Return the distance from each cell of a network to the one below it [m]."""
    row, col = network.places(slice(None))
    code = network.drainage.directions[row, col]
    lon0, lat0 = network.drainage.terrain.reference.to_lonlat(row, col)
    kept = np.minimum(code, OUT - 1)
    lon1, lat1 = network.drainage.terrain.reference.to_lonlat(row + DROW[kept], col + DCOL[kept])
    east = np.radians(lon1 - lon0) * np.cos(np.radians(lat0))
    steps: FloatArray = np.hypot(east, np.radians(lat1 - lat0)) * 6_371_008.8
    return np.where(code < OUT, steps, 0.0)


def chains_of(network: StreamNetwork, spacing_m: float, most_m: float) -> Chains:
    """Return the chain of every place: the stream below it as far as a line may be long."""
    places, step_m = places_on(network, spacing_m)
    is_place = np.zeros(network.cell.size, dtype=np.bool_)
    is_place[places] = True
    below = network.below
    cells, along, first, areas = [], [], [0], []
    for place in places.tolist():
        at, way, own = place, 0.0, [place]
        ways = [0.0]
        while below[at] >= 0:
            way += float(step_m[at])
            if way > most_m:
                break
            at = int(below[at])
            own.append(at)
            ways.append(way)
        if not is_place[own[1:]].any():
            continue
        cells += own
        along += ways
        first.append(len(cells))
        areas.append(float(network.area_m2[place]))
    index = np.array(cells, dtype=np.int64)
    row, col = network.places(index)
    stop = is_place[index].astype(np.int64)
    stop[np.array(first[:-1], dtype=np.int64)] = 0
    return Chains(
        first=frozen(first, np.int64),
        row=frozen(row, np.int64),
        col=frozen(col, np.int64),
        along_m=frozen(along),
        stop=frozen(stop, np.int64),
        area_m2=frozen(areas),
    )
