"""What is understood of a terrain, for a person to check before trusting a study."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Any

import numpy as np
from rasterio.windows import Window

from routing.arrays import FloatArray
from routing.terrain.accuracy import LE90_FACTOR, LE95_FACTOR
from routing.terrain.blocks import clean
from routing.terrain.formats import FORMAT_NAMES
from routing.terrain.raster import Raster, opened, read_valid, settled
from routing.terrain.terrain import Terrain

__all__ = ["bounds_deg", "describe_terrain"]

MOST_CELLS = 60_000_000
"""Cells read for range and voids [-]; of a larger raster an even share of its parts is read."""

PART_CELLS = 1_000_000
"""Cells read at a time [-]."""

MOST_NAMES = 20
"""Files, or further grids, named one by one [-]."""


def describe_terrain(terrain: Terrain) -> dict[str, Any]:
    """Return the facts of a terrain, with the range of its elevations and the share missing.

    Parameters
    ----------
    terrain : Terrain
        What :func:`open_terrain` returned

    Returns
    -------
    facts : dict
        Names carry units; values are text, numbers, lists or None. ``read_share`` is the share of
        the cells that range and voids come from: 1 unless the raster is very large [-]

    Raises
    ------
    UnreadableRaster
        If a part cannot be decoded.
    """
    found = _range(terrain)
    west, south, east, north = bounds_deg(terrain)
    first = terrain.tiles[0]
    names = [tile.path.name for tile in terrain.tiles]
    if len(names) > MOST_NAMES:
        names = [*names[:MOST_NAMES], f"and {len(names) - MOST_NAMES} more"]
    facts = {
        "files": names,
        "format": FORMAT_NAMES[first.driver],
        "rows": terrain.shape[0],
        "columns": terrain.shape[1],
        "crs": terrain.crs_name,
        "cell_m": round(terrain.cell_m, 4),
        "bounds_deg": {"west": west, "south": south, "east": east, "north": north},
        "data_type": first.dtype,
        "unit": terrain.unit,
        "unit_source": terrain.unit_source,
        "metres_per_unit": terrain.metres_per_unit,
        "vertical_datum": terrain.vertical_datum,
        "rmse_m": terrain.rmse_m,
        "missing_value": None if first.nodata is None or np.isnan(first.nodata) else first.nodata,
        **found,
        "accuracy": _accuracy(terrain),
    }
    if terrain.others:
        facts["other_grids"] = [
            describe_terrain(replace(grid, others=())) for grid in terrain.others[:MOST_NAMES]
        ]
    return facts


def _range(terrain: Terrain) -> dict[str, Any]:
    """Return the range of elevations and the share missing, of the cells read."""
    low, high, missing, read, whole = np.inf, -np.inf, 0, 0, True
    with settled():
        for heights in _parts(terrain):
            good = heights[np.isfinite(heights)]
            read += heights.size
            missing += heights.size - good.size
            if good.size:
                low, high = min(low, float(good.min())), max(high, float(good.max()))
                whole = whole and bool((good == np.round(good)).all())
    known = bool(np.isfinite(low))
    metres = terrain.metres_per_unit
    return {
        "lowest_m": round(low * metres, 3) if known else None,
        "highest_m": round(high * metres, 3) if known else None,
        "whole_units_only": whole if known else None,
        "missing_share": round(missing / read, 6),
        "read_share": round(read / _cells(terrain), 4),
    }


def _accuracy(terrain: Terrain) -> dict[str, Any] | None:
    """Return what the terrain's elevations are good for: as stated, else as usual for their kind.

    The linear errors hold for normal errors without bias; None where nothing is known.
    """
    kind, stated = terrain.kind, terrain.rmse_m is not None
    error = terrain.rmse_m if stated else kind.rmse_m if kind else None
    shown = kind if not stated else None
    if error is None:
        return None
    return {
        "kind": kind.label if kind else None,
        "kind_told_by": terrain.kind_source,
        "rmse_m": error,
        "le90_m": round(LE90_FACTOR * error, 3),
        "le95_m": round(LE95_FACTOR * error, 3),
        "error_told_by": "this raster or its settings" if stated else "studies",
        "source": shown.source if shown else None,
        "status": shown.status if shown else None,
    }


def _cells(terrain: Terrain) -> int:
    """Return how many cells the files hold together."""
    return sum(tile.shape[0] * tile.shape[1] for tile in terrain.tiles)


def _parts(terrain: Terrain) -> Iterator[FloatArray]:
    """Yield elevations of the files in their unit, part by part; of large files an even share."""
    every = -(-_cells(terrain) // MOST_CELLS)
    skip = 0  # parts still to be passed over, carried from file to file
    for tile in terrain.tiles:
        windows = _Windows(tile)
        wanted = range(skip, len(windows), every)
        if wanted:
            with opened(tile.path, tile.driver) as dataset:
                for number in wanted:
                    window = windows[number]
                    raw = dataset.read(tile.band, window=window)
                    yield clean(tile, raw, read_valid(dataset, tile, window))
        skip = (skip - len(windows)) % every


class _Windows:
    """The windows that cover a file, each of about a million cells, of whole blocks if it can."""

    def __init__(self, tile: Raster) -> None:
        self._shape = rows, cols = tile.shape
        high, wide = tile.block
        # A block larger than a part is read piece by piece: it is decoded once and kept.
        self._across = min(cols, PART_CELLS, max(1, PART_CELLS // (high * wide)) * wide)
        rows_fit = max(1, PART_CELLS // self._across)
        self._down = min(rows, rows_fit // high * high if rows_fit >= high else rows_fit)
        self._per_row = -(-cols // self._across)

    def __len__(self) -> int:
        """Return how many there are."""
        return -(-self._shape[0] // self._down) * self._per_row

    def __getitem__(self, number: int) -> Window:
        """Return one of them, counted along rows."""
        top, left = number // self._per_row * self._down, number % self._per_row * self._across
        rows, cols = self._shape
        return Window(left, top, min(self._across, cols - left), min(self._down, rows - top))


def bounds_deg(terrain: Terrain) -> tuple[float, float, float, float]:
    """Return west, south, east and north of the grids' outline [deg]; east may run past 180."""
    boxes = np.array([_outline(grid) for grid in terrain.grids])
    boxes[:, [0, 2]] -= 360.0 * np.round((boxes[:, [0]] - boxes[0, 0]) / 360.0)
    box = (*boxes[:, :2].min(axis=0), *boxes[:, 2:].max(axis=0))
    west, south, east, north = (round(float(value), 6) for value in box)
    return west, south, east, north


def _outline(terrain: Terrain) -> tuple[float, float, float, float]:
    """Return the outline of the terrain's own grid [deg]."""
    rows, cols = terrain.shape
    side = np.linspace(0.0, 1.0, 21)
    row = np.concatenate([side * 0, side, side * 0 + 1, side[::-1]]) * rows - 0.5
    col = np.concatenate([side, side * 0 + 1, side[::-1], side * 0]) * cols - 0.5
    lon, lat = terrain.reference.to_lonlat(row, col)
    lon, lat = lon[np.isfinite(lon)], lat[np.isfinite(lat)]
    lon = lon - 360.0 * np.cumsum(np.round(np.diff(lon, prepend=lon[:1]) / 360.0))
    return float(lon.min()), float(lat.min()), float(lon.max()), float(lat.max())
