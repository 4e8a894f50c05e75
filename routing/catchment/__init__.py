"""Room of the catchment: where the water of a terrain goes, and what reaches a place.

``drainage`` follows the water of every cell, ``areas`` adds up what drains through each,
``spread`` does so with water shared among all lower neighbours, ``streams`` are the cells of much
water and lines made of them, ``place`` answers for one place. The usual way::

    drainage = drain(open_terrain(paths))
    network = stream_network(drainage, 100_000.0)
    catchment = catchment_at(network, lon, lat, snap_m=60.0)

The first use of the loops compiles them; a study that asks nothing of the water never gets here.
"""

from routing.catchment.areas import (
    CatchmentAreas,
    StripAreas,
    catchment_areas,
    strips_of_areas,
)
from routing.catchment.drainage import MOST_CELLS, Drainage, check_drainable, drain
from routing.catchment.drawn import streams_geojson
from routing.catchment.place import Catchment, StreamReach, catchment_at, outline, reach_between
from routing.catchment.spread import spread_areas
from routing.catchment.streams import StreamLine, StreamNetwork, stream_lines, stream_network

__all__ = [
    "MOST_CELLS",
    "Catchment",
    "CatchmentAreas",
    "Drainage",
    "StreamLine",
    "StreamNetwork",
    "StreamReach",
    "StripAreas",
    "catchment_areas",
    "catchment_at",
    "check_drainable",
    "drain",
    "outline",
    "reach_between",
    "spread_areas",
    "stream_lines",
    "stream_network",
    "streams_geojson",
    "strips_of_areas",
]
