"""The streams of a raster as a file."""

from __future__ import annotations

from pathlib import Path

import orjson

from routing.errors import InputError
from routing.need import need
from routing.papers.export import need_ending
from routing.papers.files import write_text
from routing.terrain import Terrain
from routing.units import parse_quantity

__all__ = ["write_streams"]


def write_streams(terrain: Terrain, threshold: str, path: Path) -> None:
    """Write the streams through which an area such as "0.1 km2" or more drains, as GeoJSON."""
    from routing.catchment import drain, stream_network, streams_geojson

    area_m2 = parse_quantity(threshold, "area", name="--threshold")
    need("The least catchment of a stream, --threshold,", area_m2, above=0.0, unit="m2")
    if not path.parent.is_dir():
        raise InputError(
            f"The folder {path.parent} does not exist.", "Make it, or change --streams."
        )
    if any(
        path.exists() and path.samefile(tile.path) for tile in terrain.tiles if tile.path.exists()
    ):
        raise InputError(f"--streams {path} is the raster itself.", "Name another file.")
    need_ending("geojson", path)
    found = streams_geojson(stream_network(drain(terrain), area_m2))
    write_text(path, orjson.dumps(found).decode())
