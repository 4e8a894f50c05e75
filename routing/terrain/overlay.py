"""A georeferenced picture laid over the map: turned to the projection of web maps, made small."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import rasterio
from numpy.typing import NDArray
from rasterio.errors import RasterioError
from rasterio.warp import Resampling, reproject, transform_bounds

from routing.errors import MissingCrs, RasterTooLarge, UnreadableRaster
from routing.terrain.formats import sniff_driver
from routing.terrain.picture import encoded
from routing.terrain.raster import check_size, opened
from routing.value import dataclass

__all__ = ["Overlay", "read_overlay"]

WEB = "EPSG:3857"
"""The projection of web maps."""

MOST_PIXELS = 2048
"""Most pixels a side of the picture as laid over the map [-]."""

MOST_CELLS = 1_000_000_000
"""Most pixels of a picture that is given [-]; each is looked at once."""

REMEDY = "Give a GeoTIFF of up to four bands of 8 bits, such as a scanned map or an air photograph."


@dataclass(frozen=True, slots=True, kw_only=True)
class Overlay:
    """A picture as WebP, and the box that it fills, WGS 84 [deg]."""

    picture: bytes
    west: float
    south: float
    east: float
    north: float


def read_overlay(path: Path) -> Overlay:
    """Return a picture in the projection of web maps.

    Parameters
    ----------
    path : Path
        A GeoTIFF with a coordinate system [-]

    Returns
    -------
    overlay : Overlay
        The picture, clear beyond its edges, and its box

    Raises
    ------
    UnreadableRaster
        If it cannot be read or is no picture.
    MissingCrs
        If it has no coordinate system.
    RasterTooLarge
        If it has too many pixels, or they are packed in pieces too large to unpack.
    """
    try:
        with opened(path, sniff_driver(path)) as source:
            check_size(path, source)
            if source.width * source.height > MOST_CELLS:
                raise RasterTooLarge(
                    f"{path.name} has {source.width} x {source.height} pixels; {MOST_CELLS:,} are "
                    "taken at most.",
                    "Cut out the part around the line, or make it coarser.",
                )
            return _turned(source, path.name)
    except RasterioError as exc:
        raise UnreadableRaster(f"{path.name} cannot be laid over the map: {exc}.", REMEDY) from exc


def _turned(source: Any, name: str) -> Overlay:
    if source.count > 4 or any(dtype != "uint8" for dtype in source.dtypes):
        raise UnreadableRaster(
            f"{name} has {source.count} bands of {source.dtypes[0]}, which is no picture.", REMEDY
        )
    if source.crs is None:
        raise MissingCrs(
            f"{name} has no coordinate system.", "Save it again with one, as a GeoTIFF."
        )
    west, south, east, north = transform_bounds(source.crs, WEB, *source.bounds)
    if not (0.0 < east - west < np.inf and 0.0 < north - south < np.inf):
        raise UnreadableRaster(f"{name} lies nowhere on the map of the world.", REMEDY)
    pixel = max(
        (east - west) / source.width,
        (north - south) / source.height,
        max(east - west, north - south) / MOST_PIXELS,
    )
    width, height = (max(int(length / pixel), 1) for length in (east - west, north - south))
    affine = rasterio.Affine(pixel, 0.0, west, 0.0, -pixel, north)
    bands = np.zeros((source.count + 1, height, width), dtype=np.uint8)
    for index in range(source.count):
        smooth = Resampling.nearest if _palette(source) is not None else Resampling.average
        reproject(
            rasterio.band(source, index + 1),
            bands[index],
            dst_transform=affine,
            dst_crs=WEB,
            resampling=smooth,
        )
    coarse = max(1, max(source.width, source.height) // (2 * MOST_PIXELS))
    rows, cols = (max(side // coarse, 1) for side in (source.height, source.width))
    a, b, c, d, e, f = source.transform[:6]
    x, y = source.width / cols, source.height / rows
    reproject(
        source.dataset_mask(out_shape=(rows, cols)),  # in full it would have a byte for each pixel
        bands[-1],
        src_transform=rasterio.Affine(a * x, b * y, c, d * x, e * y, f),
        src_crs=source.crs,
        dst_transform=affine,
        dst_crs=WEB,
        resampling=Resampling.nearest,
    )
    box = transform_bounds(
        WEB, "EPSG:4326", west, north - height * pixel, west + width * pixel, north
    )
    return Overlay(
        picture=encoded(_coloured(bands, _palette(source)), "WEBP"),
        west=box[0],
        south=box[1],
        east=box[2],
        north=box[3],
    )


def _palette(source: Any) -> dict[int, tuple[int, ...]] | None:
    """Return the colours of a picture of one band, where it has a table of them."""
    try:
        found: dict[int, tuple[int, ...]] | None = source.colormap(1) if source.count == 1 else None
    except ValueError:
        return None
    return found


def _coloured(
    bands: NDArray[np.uint8], palette: dict[int, tuple[int, ...]] | None
) -> NDArray[np.uint8]:
    """Return red, green, blue and cover of a picture's bands, the last of which is its mask."""
    cover = bands[-1:]
    if palette is not None:
        table = np.zeros((256, 3), dtype=np.uint8)
        for value, colour in palette.items():
            table[value] = colour[:3]
        return np.concatenate([np.moveaxis(table[bands[0]], -1, 0), cover])
    colours = bands[:3] if len(bands) >= 4 else np.repeat(bands[:1], 3, axis=0)
    return np.concatenate([colours, cover])
