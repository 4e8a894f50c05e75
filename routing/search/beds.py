"""Where lines meet streams that only the raster shows: no layer has them, no study counts them."""

from __future__ import annotations

import numpy as np
import shapely

from routing.arrays import FloatArray
from routing.catchment_study import followed
from routing.line import Route
from routing.search.bans import MOST_FOLLOWED
from routing.settings import Settings
from routing.terrain import Terrain

__all__ = ["beds_met"]

SAME_CELLS = 2.0
"""Meetings nearer to each other, or to an end of the line, are one, or none [cells]."""


def beds_met(terrain: Terrain, settings: Settings, route: Route) -> int | None:
    """Return at how many places a line meets the bed of a stream that the raster shows.

    A line has both ends at a stream, so that what lies within two cells of them does not count;
    meetings within two cells of one another are one, as of a line along a winding bed.

    Parameters
    ----------
    terrain : Terrain
        The raster
    settings : Settings
        Least catchment of a stream; with a layer of streams the study counts the crossings itself
    route : Route
        The line

    Returns
    -------
    count : int or None
        None where streams are given as a layer, or the raster is too large to be followed here
    """
    rows, cols = terrain.shape
    if rows * cols > MOST_FOLLOWED or any(each.kind == "stream" for each in settings.layer):
        return None
    network = followed(terrain, settings.catchment.threshold)
    assert network is not None
    network = network.above(settings.catchment.threshold)
    at_row, at_col = terrain.reference.to_nodes(route.lon, route.lat)
    line = np.column_stack([at_col, at_row])
    row, col = network.places(slice(None))
    near = (
        (network.below >= 0)
        & (row >= at_row.min() - 2.0)
        & (row <= at_row.max() + 2.0)
        & (col >= at_col.min() - 2.0)
        & (col <= at_col.max() + 2.0)
    )
    if not near.any():
        return 0
    cells = np.column_stack([col, row]).astype(np.float64)
    beds = shapely.linestrings(np.stack([cells[near], cells[network.below[near]]], axis=1))
    return _places(line, beds)


def _places(line: FloatArray, beds: shapely.Geometry) -> int:
    """Return at how many places a line meets lines of beds, both in cells."""
    drawn = shapely.linestrings(line)
    met = shapely.intersection(drawn, beds)
    points = shapely.points(shapely.get_coordinates(met[~shapely.is_empty(met)]))
    along = np.sort(shapely.line_locate_point(drawn, points))
    length = float(shapely.length(drawn))
    along = along[(along > SAME_CELLS) & (along < length - SAME_CELLS)]
    return int(along.size > 0) + int(np.count_nonzero(np.diff(along) > SAME_CELLS))
