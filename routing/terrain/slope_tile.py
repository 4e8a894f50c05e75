"""Steepness of the ground in the square tiles of web maps, by classes."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from routing.arrays import FloatArray
from routing.terrain.map_tile import TileSource, tile_heights
from routing.terrain.picture import encoded
from routing.terrain.reduced import Floats

__all__ = ["CLASSES", "slope_classes", "slope_tile"]

CLASSES = (
    (0.25, (240, 228, 66, 120)),
    (0.40, (230, 159, 0, 140)),
    (0.60, (213, 94, 0, 160)),
    (1.00, (120, 30, 60, 180)),
)
"""Rise over length from which a colour holds (red, green, blue, cover); our own choice. Trenching
across ground of 1 in 4 begins to ask for a level bench, at 1 in 1 nobody stands."""


def slope_classes(heights: Floats, pixel_m: FloatArray) -> NDArray[np.uint8]:
    """Return the picture (4, rows, columns) of heights that have a margin of one pixel.

    Parameters
    ----------
    heights : array
        Elevations, NaN where missing [m]
    pixel_m : array
        Size of a pixel in each row [m]

    Returns
    -------
    picture : array of uint8
        Red, green, blue and cover [-]

    Notes
    -----
    Central differences over two pixels; clear beside missing ground.
    """
    size = 2.0 * pixel_m[1:-1, None]
    across = (heights[1:-1, 2:] - heights[1:-1, :-2]) / size
    down = (heights[2:, 1:-1] - heights[:-2, 1:-1]) / size
    slope = np.hypot(across, down)
    picture = np.zeros((4, *slope.shape), dtype=np.uint8)
    for least, colour in CLASSES:
        steep = slope >= least  # NaN is never steep
        for band, value in zip(picture, colour, strict=True):
            band[steep] = value
    return picture


def slope_tile(source: TileSource, zoom: int, x: int, y: int) -> bytes | None:
    """Return the steepness in one tile as WebP, None where nothing is steep."""
    found = tile_heights(source, zoom, x, y)
    if found is None:
        return None
    picture = slope_classes(*found)
    return encoded(picture, "WEBP") if picture[3].any() else None
