"""Pictures as bytes of a file."""

from __future__ import annotations

from typing import Literal

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.io import MemoryFile

from routing.terrain.formats import GDAL_OPTIONS

__all__ = ["encoded"]

QUALITY = {"WEBP": 82, "JPEG": 80}
"""Small files in which nothing is seen of the loss; common practice, no source."""


def encoded(picture: NDArray[np.uint8], driver: Literal["WEBP", "JPEG"]) -> bytes:
    """Return a picture, (bands, rows, cols), as a file of one kind."""
    bands, height, width = picture.shape
    with rasterio.Env(**GDAL_OPTIONS), MemoryFile() as memory:
        with memory.open(
            driver=driver,
            width=width,
            height=height,
            count=bands,
            dtype="uint8",
            quality=QUALITY[driver],
            transform=rasterio.Affine.scale(2.0, -2.0),  # unplaced pictures raise a warning
        ) as dataset:
            dataset.write(picture)
        return bytes(memory.read())
