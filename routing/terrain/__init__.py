"""Elevation rasters: opened safely, read block by block, as metres."""

from __future__ import annotations

from routing.terrain.blocks import read_corners
from routing.terrain.describe import describe_terrain
from routing.terrain.georeference import GridReference
from routing.terrain.raster import Raster
from routing.terrain.relief import Relief, relief_image
from routing.terrain.terrain import Terrain, open_terrain
from routing.terrain.window import GridWindow, read_window

__all__ = [
    "GridReference",
    "GridWindow",
    "Raster",
    "Relief",
    "Terrain",
    "describe_terrain",
    "open_terrain",
    "read_corners",
    "read_window",
    "relief_image",
]
