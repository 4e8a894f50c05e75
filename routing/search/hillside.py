"""The ground that a search looks at, before it is known which end goes with which."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from routing.arrays import IntArray, frozen
from routing.land import Layer
from routing.search.bans import bed_tolls, closed_land, closed_steep, ground_tolls, land_tolls
from routing.search.grid import MOST_CELLS, Place, SearchGrid, search_grid
from routing.search.ladder import Ladder, ladders
from routing.search.legs import Ground
from routing.search.prices import PriceBook, classes_of, price_book
from routing.settings import Settings
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["STATION_BOUND", "STATION_BOUND_TRENCH", "Hillside", "find_hillside"]

STATION_BOUND = ("valve", "branch", "tap", "relief", "survey", "waive")
"""Tables that speak of a drawn line by its stations: left out of proposals."""
STATION_BOUND_TRENCH = ("span", "limit", "ground")
"""The same within [trench]."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hillside:
    """Ground, land and prices of a search; alike for all its pairs of ends.

    ``shut`` has a bit for each reason why land or slope closes a cell, ``tolls`` is what land costs
    by the metre, ``beside`` the share of it that is not in a study's bill, ``dearer_m3`` what a
    cubic metre of trench costs more by the class of the ground; ``tables`` are the settings that
    every proposal is studied with, ``ladder`` the pipes for a length and a fall [m].
    """

    terrain: Terrain
    grid: SearchGrid
    tables: Mapping[str, Any]
    settings: Settings
    book: PriceBook
    ladder: Callable[[float, float], Ladder]
    ground: Ground
    shut: NDArray[np.uint8]
    tolls: NDArray[np.float32]
    beside: NDArray[np.float32]
    dearer_m3: NDArray[np.float32]


def find_hillside(
    terrain: Terrain,
    places: Sequence[Place],
    settings: Settings,
    *,
    beds: tuple[IntArray, IntArray] | None = None,
    most_cells: int = MOST_CELLS,
) -> Hillside:
    """Return the ground about some places, with what lies on it.

    Parameters
    ----------
    terrain : Terrain
        The raster
    places : sequence of Place
        All that must lie on the grid [deg]
    settings : Settings
        What the study is told
    beds : tuple of IntArray, optional
        Rows and columns of the raster's cells in which streams run [-]
    most_cells : int
        Most cells of the search's grid [-]

    Returns
    -------
    Hillside
        Ground, prices, land, and pipes to choose from

    Raises
    ------
    OutsideTerrain
        If a place lies outside the raster.
    """
    asked = settings.search
    grid = search_grid(terrain, list(places), asked.reach, most_cells)
    layers: list[Layer] = [each.layer for each in settings.layer]
    book = price_book(settings.prices, settings.energy, classes_of(layers))
    choose = asked.pipe == "choose" or (
        asked.pipe is None and not settings.pipe and settings.flow.design is not None
    )
    across, beside = land_tolls(grid, layers, book.land)
    if beds is not None:
        beside += bed_tolls(grid, beds, book.land["stream"])
    return Hillside(
        terrain=terrain,
        grid=grid,
        tables=_tables(settings),
        settings=settings,
        book=book,
        ladder=ladders(settings, book, choose=choose),
        ground=_ground(grid, book, asked.least_radius or 0.0),
        shut=closed_land(grid, layers) | closed_steep(grid, settings.trench.steepest_ground),
        tolls=across + beside,
        beside=beside,
        dearer_m3=ground_tolls(grid, layers, book.dearer_m3),
    )


def _tables(settings: Settings) -> dict[str, Any]:
    """Return the settings' tables that hold for a line that nobody has drawn yet."""
    tables = {key: value for key, value in settings.given.items() if key not in STATION_BOUND}
    trench = {
        key: value
        for key, value in tables.pop("trench", {}).items()
        if key not in STATION_BOUND_TRENCH
    }
    study = {
        key: value
        for key, value in tables.pop("study", {}).items()
        if key not in ("line", "reverse", "clean")
    }
    return {
        **({"study": study} if study else {}),
        **tables,
        **({"trench": trench} if trench else {}),
    }


def _ground(grid: SearchGrid, book: PriceBook, radius_m: float) -> Ground:
    """Return the ground that legs are priced on: the raster in full where that is in memory."""
    fine = grid.window.heights_m if grid.window is not None else frozen(grid.heights)
    return Ground(
        heights=fine,
        factor=float(grid.factor if grid.window is not None else 1),
        south_m=grid.south_m,
        east_m=grid.east_m,
        step_m=0.5 * grid.cell_m,
        bend=book.bend,
        radius_m=radius_m,
    )
