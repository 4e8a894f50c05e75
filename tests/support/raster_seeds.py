"""Small sound rasters of every format, as bytes, for readers to be fed with damaged ones."""

from __future__ import annotations

import tempfile
import zipfile
from functools import cache
from pathlib import Path

import numpy as np
import rasterio
from rasterio.transform import Affine

__all__ = ["LINE", "seeds"]

LINE = ([15.0003, 15.0020], [46.9533, 46.9521])
"""Longitudes and latitudes of a line across all seeds."""

PRJ = "EPSG:32633"


@cache
def seeds() -> dict[str, bytes]:
    """Return the bytes of each seed by the name its file should have."""
    z = (500 + np.add.outer(np.arange(20.0), 2 * np.arange(20.0))).astype("float32")
    common = {
        "height": 20, "width": 20, "count": 1, "dtype": "float32", "crs": PRJ,
        "transform": Affine(10, 0, 500_000, 0, -10, 5_200_000),
    }  # fmt: skip
    kinds = {
        "strips.tif": {"driver": "GTiff"},
        "tiles.tif": {
            "driver": "GTiff", "tiled": True, "blockxsize": 16, "blockysize": 16,
            "compress": "deflate", "predictor": 3, "nodata": -9999,
        },
        "big.tif": {"driver": "GTiff", "bigtiff": "YES", "compress": "lzw"},
        "a.img": {"driver": "HFA"},
        "b.gpkg": {"driver": "GPKG", "nodata": -9999},
    }  # fmt: skip
    found: dict[str, bytes] = {}
    with tempfile.TemporaryDirectory() as folder:
        for name, options in kinds.items():
            path = Path(folder) / name
            with rasterio.open(path, "w", **common, **options) as dataset:
                dataset.write(z, 1)
            found[name] = path.read_bytes()
        rows = "\n".join(" ".join(f"{value:g}" for value in row) for row in z)
        text = f"ncols 20\nnrows 20\nxllcorner 500000\nyllcorner 5199800\ncellsize 10\n{rows}\n"
        found["c.asc"] = text.encode()
        archive = Path(folder) / "d.zip"
        with zipfile.ZipFile(archive, "w", zipfile.ZIP_DEFLATED) as packed:
            packed.writestr("in/tiles.tif", found["tiles.tif"])
        found["d.zip"] = archive.read_bytes()
    return found
