"""What layers of the land mean in a valley: closed and dear ground, powerhouses far from a road."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import shapely
from numpy.typing import NDArray

from routing.arrays import FloatArray, frozen
from routing.errors import SettingsError
from routing.land import GROUND
from routing.search.bans import closed_land, ground_tolls, touched_cells
from routing.search.grid import steps_m
from routing.search.prices import classes_of, land_prices, price_book
from routing.search.valley.places import Chains
from routing.settings import Settings
from routing.terrain import GridReference, Terrain
from routing.value import dataclass

__all__ = ["CROSSED", "closed_cells", "crossed_cells", "dug_cells", "near_road"]

CROSSED = tuple(sorted(land_prices(), key=lambda kind: kind != "stream"))
"""Kinds of land with a price of crossing, each by its bit; streams first."""


@dataclass(frozen=True, slots=True, kw_only=True)
class _Box:
    """A rectangle of a terrain's grid."""

    reference: GridReference
    row0: int
    col0: int
    shape: tuple[int, int]

    def nodes(self, lon: FloatArray, lat: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Return rows and columns of places in the rectangle."""
        row, col = self.reference.to_nodes(lon, lat)
        return row - self.row0, col - self.col0


def closed_cells(
    terrain: Terrain, settings: Settings, box: tuple[int, int, int, int]
) -> NDArray[np.uint8]:
    """Return the cells of a box (rows, then columns) that no-go land closes; empty if none is."""
    layers = [each.layer for each in settings.layer if each.kind == "no-go"]
    if not layers:
        return np.zeros((0, 0), dtype=np.uint8)
    return closed_land(_box(terrain, box), layers)


def dug_cells(
    terrain: Terrain, settings: Settings, box: tuple[int, int, int, int]
) -> NDArray[np.float32]:
    """Return what a cubic metre of trench costs more in each cell of a box by its class of ground.

    Empty where no layer has classes of ground.
    """
    layers = [each.layer for each in settings.layer if each.kind == GROUND]
    if not layers:
        return np.zeros((0, 0), dtype=np.float32)
    book = price_book(settings.prices, settings.energy, classes_of(layers))
    return ground_tolls(_box(terrain, box), layers, book.dearer_m3)


def crossed_cells(
    terrain: Terrain, settings: Settings, box: tuple[int, int, int, int]
) -> NDArray[np.uint8]:
    """Return the kinds of land in each cell of a box, a bit for each of :data:`CROSSED`.

    Empty where no layer has such land.
    """
    layers = [each.layer for each in settings.layer if each.kind in CROSSED]
    if not layers:
        return np.zeros((0, 0), dtype=np.uint8)
    grid = _box(terrain, box)
    found = np.zeros(grid.shape, dtype=np.uint8)
    for layer in layers:
        for shape in layer.shapes:
            found[touched_cells(grid, shape)] |= np.uint8(1 << CROSSED.index(layer.kind))
    return found


def _box(terrain: Terrain, box: tuple[int, int, int, int]) -> _Box:
    top, bottom, left, right = box
    shape = bottom - top, right - left
    return _Box(reference=terrain.reference, row0=top, col0=left, shape=shape)


def near_road(chains: Chains, terrain: Terrain, settings: Settings) -> Chains:
    """Return the chains with powerhouses only where a road is near enough, if that is asked."""
    most = settings.screen.most_road
    if most is None:
        return chains
    roads = [shape for each in settings.layer if each.kind == "road" for shape in each.features]
    if not roads:
        raise SettingsError(
            "screen.most_road is given, but there is no layer of roads.",
            'Give roads as a [[layer]] of kind = "road", or leave most_road out.',
        )
    rows, cols = terrain.shape
    scale = np.array(steps_m(terrain.reference, rows / 2.0, cols / 2.0))
    parts = [part for shape in roads for part in shape.parts]
    nodes = (terrain.reference.to_nodes(part[:, 0], part[:, 1]) for part in parts)
    tree = shapely.STRtree([shapely.LineString(np.column_stack(each) * scale) for each in nodes])
    stops = shapely.points(np.column_stack([chains.row, chains.col]) * scale)
    _, away = tree.query_nearest(stops, return_distance=True, all_matches=False)
    return replace(chains, stop=frozen(np.where(away <= most, chains.stop, 0), np.int64))
