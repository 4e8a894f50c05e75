"""Pieces of terrain kept in memory while a line is dragged over them."""

from __future__ import annotations

import math
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable

from routing.line import Route
from routing.terrain import GridWindow, Terrain, read_window
from routing.value import dataclass

__all__ = ["WindowCache"]

METRES_PER_DEGREE = 111_320.0
"""Length of a degree along the equator [m]; only sizes are estimated with it."""
GENEROUS = 0.5
"""Room left on each side of a line, as a share of its extent, so that dragging stays inside."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Bounds:
    """An extent in degrees, WGS 84."""

    west: float
    south: float
    east: float
    north: float

    def holds(self, other: Bounds) -> bool:
        """Whether ``other`` lies inside."""
        return (
            self.west <= other.west
            and self.south <= other.south
            and self.east >= other.east
            and self.north >= other.north
        )

    def wider(self, share: float, least_m: float) -> Bounds:
        """Return this extent with room on every side: a share of it, or a least length."""
        middle = math.cos(math.radians(min(85.0, abs(self.south + self.north) / 2)))
        across = max(share * (self.east - self.west), least_m / (METRES_PER_DEGREE * middle))
        along = max(share * (self.north - self.south), least_m / METRES_PER_DEGREE)
        return Bounds(
            west=self.west - across,
            south=self.south - along,
            east=self.east + across,
            north=self.north + along,
        )

    def bulge_m(self) -> float:
        """Return how far a leg, straight in the terrain's own system, may leave the extent [m].

        The sagitta of a parallel over a chord is length squared x tan(latitude) / 8 Earth radii;
        this is its value at 79 degrees, more than any at the places where people live.
        """
        length = METRES_PER_DEGREE * max(self.east - self.west, self.north - self.south)
        return length**2 / 1e7

    def cells(self, cell_m: float) -> float:
        """Return about how many cells of that size the extent has."""
        middle = math.cos(math.radians((self.south + self.north) / 2))
        width = (self.east - self.west) * METRES_PER_DEGREE * max(middle, 0.0)
        height = (self.north - self.south) * METRES_PER_DEGREE
        return width * height / cell_m**2


class WindowCache:
    """The windows used last, bounded in number and size; safe for threads."""

    def __init__(self, *, max_windows: int, max_cells: int) -> None:
        self._max_windows = max_windows
        self._max_cells = max_cells
        self._lock = threading.Lock()
        self._kept: OrderedDict[tuple[Hashable, Bounds], GridWindow] = OrderedDict()
        self._terrains: OrderedDict[Hashable, Terrain] = OrderedDict()

    def terrain(self, key: Hashable, open_it: Callable[[], Terrain]) -> Terrain:
        """Return the facts of a terrain, read once; a stored terrain's files never change."""
        with self._lock:
            known = self._terrains.get(key)
        if known is None:
            known = open_it()
            with self._lock:
                self._terrains[key] = known
                while len(self._terrains) > self._max_windows:
                    self._terrains.popitem(last=False)
        return known

    def window(self, key: Hashable, terrain: Terrain, route: Route) -> GridWindow | None:
        """Return a window of ``terrain`` that holds ``route``, or None where it would be too big.

        ``key`` says which terrain it is, as it was opened.
        """
        wanted = Bounds(
            west=float(route.lon.min()),
            south=float(route.lat.min()),
            east=float(route.lon.max()),
            north=float(route.lat.max()),
        )
        wanted = wanted.wider(0.0, 2.0 * terrain.cell_m + wanted.bulge_m())
        with self._lock:
            for place, window in self._kept.items():
                if place[0] == key and place[1].holds(wanted):
                    self._kept.move_to_end(place)
                    return window
        for bounds in (wanted.wider(GENEROUS, 20.0 * terrain.cell_m), wanted):
            if bounds.cells(terrain.cell_m) <= self._max_cells:
                break
        else:
            return None
        window = read_window(
            terrain, bounds.west, bounds.south, bounds.east, bounds.north, margin_cells=2
        )
        with self._lock:
            self._kept[key, bounds] = window
            while len(self._kept) > self._max_windows:
                self._kept.popitem(last=False)
        return window
