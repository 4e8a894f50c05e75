"""The catchment of one place: snapped to a stream, its area and its outline."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray
from pyproj import Geod

from routing.arrays import FloatArray, IntArray, frozen
from routing.catchment.codes import DCOL, DROW, VOID
from routing.catchment.descent import Codes
from routing.catchment.drainage import Drainage
from routing.catchment.streams import StreamNetwork
from routing.compiled import kernel
from routing.errors import InputError, MissingElevation, OutsideTerrain
from routing.value import dataclass

__all__ = ["Catchment", "StreamReach", "catchment_at", "outline", "reach_between"]

_WGS84 = Geod(ellps="WGS84")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Catchment:
    """What drains to a place.

    Attributes
    ----------
    drainage : Drainage
        Where the water of the whole grid goes
    row, col : int
        The cell whose catchment it is [-]
    lon, lat : float
        Its centre [deg]
    area_m2 : float
        Area on the ellipsoid, that cell included [m2]
    at_least : bool
        Water may come from beyond the raster, or out of cells without elevation: the true area is
        this or more
    snapped_m : float
        Way from the place asked for to the stream's cell, 0 where it lies in it [m]
    on_stream : bool
        False where no stream lies within reach, so that the place's own cell was taken
    rival_m2 : float or None
        Area of a greater stream that also lies within reach, twice as large or more [m2]
    box : tuple of 4 int
        First row, end row, first column, end column of its cells [-]
    cells : int
        Their count [-]
    """

    drainage: Drainage
    row: int
    col: int
    lon: float
    lat: float
    area_m2: float
    at_least: bool
    snapped_m: float
    on_stream: bool
    rival_m2: float | None
    box: tuple[int, int, int, int]
    cells: int


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class StreamReach:
    """A stream from one place down to another: places (n,) and areas (n,) of its cells."""

    lon: FloatArray
    lat: FloatArray
    area_m2: FloatArray
    at_least: NDArray[np.uint8]
    row: IntArray
    col: IntArray


@kernel
def _longer(stack: IntArray) -> Any:
    """Return a stack with as much room again."""
    longer = np.empty(2 * stack.shape[0], np.int64)
    longer[: stack.shape[0]] = stack
    return longer


@kernel
def _climb(out: Codes, row: int, col: int, sizes: FloatArray, step: float, box: IntArray) -> Any:
    """Return area, count and flag of all cells that drain to one; fill their ``box`` (4,)."""
    rows, cols = out.shape
    nodes = sizes.shape[1]
    stack = np.empty(1024, np.int64)
    stack[0] = row * cols + col
    size, area, count, open_ = 1, 0.0, 0, False
    box[0], box[1], box[2], box[3] = row, row + 1, col, col + 1
    while size:
        size -= 1
        r, c = stack[size] // cols, stack[size] % cols
        node = min(int(c / step), nodes - 2)
        share = c / step - node
        area += (1.0 - share) * sizes[r, node] + share * sizes[r, node + 1]
        count += 1
        box[0], box[1] = min(box[0], r), max(box[1], r + 1)
        box[2], box[3] = min(box[2], c), max(box[3], c + 1)
        if size + 8 > stack.shape[0]:
            stack = _longer(stack)
        for d in range(8):
            y, x = r + DROW[d], c + DCOL[d]
            if not (0 <= y < rows and 0 <= x < cols) or out[y, x] == VOID:
                open_ = True
            elif out[y, x] == (d + 4) % 8:
                stack[size] = y * cols + x
                size += 1
    return area, count, open_


@kernel
def _mark(out: Codes, row: int, col: int, box: IntArray, mask: Codes) -> None:
    """Set the cells of a box that drain to one to 1."""
    rows, cols = out.shape
    stack = np.empty(1024, np.int64)
    stack[0] = row * cols + col
    size = 1
    while size:
        size -= 1
        r, c = stack[size] // cols, stack[size] % cols
        mask[r - box[0], c - box[2]] = 1
        if size + 8 > stack.shape[0]:
            stack = _longer(stack)
        for d in range(8):
            y, x = r + DROW[d], c + DCOL[d]
            if 0 <= y < rows and 0 <= x < cols and out[y, x] == (d + 4) % 8:
                stack[size] = y * cols + x
                size += 1


def catchment_at(network: StreamNetwork, lon: float, lat: float, *, snap_m: float) -> Catchment:
    """Return the catchment of a place, or of the stream nearest to it.

    Parameters
    ----------
    network : StreamNetwork
        The streams it may be snapped to
    lon, lat : float
        The place, WGS 84 [deg]
    snap_m : float
        Farthest way to the centre of a stream's cell, 0 to take the place's own cell [m]

    Returns
    -------
    Catchment
        Its area and where it was taken; :func:`outline` draws it

    Raises
    ------
    OutsideTerrain, MissingElevation
        If the place is not on the raster, or has no elevation and no stream within reach.
    """
    drainage = network.drainage
    row, col = _cell_of(drainage, lon, lat)
    own = network.find(row, col)
    near, away = _within(network, lon, lat, (row, col), snap_m)
    rival = None
    at, snapped = own, 0.0
    if own < 0 and near.size:
        at, snapped = int(near[np.argmin(away)]), float(away.min())
    if at >= 0:
        (row,), (col,) = network.places([at])
        largest = float(network.area_m2[near].max(initial=0.0))
        if largest >= 2.0 * network.area_m2[at] and not _on_the_way(network, at, near):
            rival = largest
    elif drainage.directions[row, col] == VOID:
        raise MissingElevation(
            f"The place {lon:.7f}, {lat:.7f} has no elevation, and no stream lies within "
            f"{snap_m:g} m.",
            "Move the place, or let it be snapped from farther away.",
            lon=lon,
            lat=lat,
        )
    box = np.empty(4, dtype=np.int64)
    sizes = drainage.sizes.areas(0, drainage.shape[0])
    work = int(30 * network.area_m2[at] / sizes[int(row), 0]) if at >= 0 else 1000
    area, cells, open_ = _climb.sized(work)(
        drainage.directions, int(row), int(col), sizes, drainage.sizes.column_step, box
    )
    (at_lon,), (at_lat,) = drainage.terrain.reference.to_lonlat([int(row)], [int(col)])
    return Catchment(
        drainage=drainage,
        row=int(row),
        col=int(col),
        lon=float(at_lon),
        lat=float(at_lat),
        area_m2=float(area),
        at_least=bool(open_),
        snapped_m=snapped,
        on_stream=at >= 0,
        rival_m2=rival,
        box=(int(box[0]), int(box[1]), int(box[2]), int(box[3])),
        cells=int(cells),
    )


def _cell_of(drainage: Drainage, lon: float, lat: float) -> tuple[int, int]:
    """Return the cell of a place; the raster's outer half cells count as inside."""
    (row,), (col,) = drainage.terrain.reference.to_nodes([lon], [lat])
    rows, cols = drainage.shape
    if not (-0.5 <= row <= rows - 0.5 and -0.5 <= col <= cols - 0.5):
        raise OutsideTerrain(
            f"The place {lon:.7f}, {lat:.7f} is not on the terrain.",
            "Give a place on the raster, longitude first.",
            lon=lon,
            lat=lat,
        )
    return min(max(round(row), 0), rows - 1), min(max(round(col), 0), cols - 1)


def _within(
    network: StreamNetwork, lon: float, lat: float, cell: tuple[int, int], reach_m: float
) -> tuple[IntArray, FloatArray]:
    """Return the streams' cells within reach of a place, and how far their centres are [m]."""
    rows, cols = network.drainage.shape
    least = float(network.drainage.sizes.steps(cell[0], cell[0] + 1)[0, [0, 2]].min())
    more = int(reach_m / least) + 1
    top, bottom = max(cell[0] - more, 0), min(cell[0] + more + 1, rows)
    first, last = np.searchsorted(network.cell, [top * cols, bottom * cols])
    index = np.arange(first, last)
    index = index[np.abs(network.cell[index] % cols - cell[1]) <= more]
    if not index.size:
        return index, np.empty(0)
    there = network.drainage.terrain.reference.to_lonlat(*network.places(index))
    away = _WGS84.inv(np.full(index.size, lon), np.full(index.size, lat), *there)[2]
    return index[away <= reach_m], away[away <= reach_m]


def _on_the_way(network: StreamNetwork, at: int, near: IntArray) -> bool:
    """Return whether the greatest stream within reach is the same one further down."""
    greatest = int(near[np.argmax(network.area_m2[near])])
    while at >= 0 and network.area_m2[at] <= network.area_m2[greatest]:
        if at == greatest:
            return True
        at = int(network.below[at])
    return False


def outline(catchment: Catchment) -> dict[str, Any]:
    """Return the border of a catchment along the edges of its cells, as a GeoJSON geometry.

    A MultiPolygon in WGS 84, since cells may drain into one another across a corner only.
    """
    from rasterio.features import shapes

    top, bottom, left, right = catchment.box
    mask = np.zeros((bottom - top, right - left), dtype=np.uint8)
    drainage = catchment.drainage
    box = frozen(catchment.box, dtype=np.int64)
    _mark.sized(30 * catchment.cells)(drainage.directions, catchment.row, catchment.col, box, mask)
    polygons = []
    for part, _ in shapes(mask, mask=mask.astype(bool), connectivity=4):
        rings: list[Any] = []
        for ring in part["coordinates"]:
            x, y = np.array(ring).T
            lon, lat = drainage.terrain.reference.to_lonlat(y + top - 0.5, x + left - 0.5)
            twice = np.sum(lon[:-1] * np.diff(lat) - lat[:-1] * np.diff(lon))
            # The outer border runs against the clock, holes with it (RFC 7946).
            turned = -1 if (twice > 0.0) == bool(rings) else 1
            rings.append(np.stack((lon, lat), axis=1)[::turned].tolist())
        polygons.append(rings)
    return {"type": "MultiPolygon", "coordinates": polygons}


def reach_between(
    network: StreamNetwork,
    upper: tuple[float, float],
    lower: tuple[float, float],
    *,
    snap_m: float,
) -> StreamReach:
    """Return the stream's cells from one place down to another, each snapped to a stream.

    Parameters
    ----------
    network : StreamNetwork
        The streams
    upper, lower : tuple of float
        Longitude and latitude of both places, in any order [deg]
    snap_m : float
        Farthest way from either to the stream [m]

    Returns
    -------
    StreamReach
        Places and catchment areas, downstream

    Raises
    ------
    InputError
        If no stream is within reach of either, or they do not lie on one stream.
    """
    ends = []
    for lon, lat in (upper, lower):
        found = catchment_at(network, lon, lat, snap_m=snap_m)
        if not found.on_stream:
            raise InputError(
                f"No stream of {network.threshold_m2 / 1e6:g} km2 or more lies within {snap_m:g} m "
                f"of {lon:.7f}, {lat:.7f}.",
                "Move the place to the stream, or let smaller streams count.",
            )
        ends.append(network.find(found.row, found.col))
    ends.sort(key=lambda index: float(network.area_m2[index]))
    path = [ends[0]]
    while path[-1] != ends[1]:
        after = int(network.below[path[-1]])
        if after < 0:
            raise InputError(
                "The two places do not lie on one stream: the water of neither comes past the "
                "other.",
                "Give two places along the same stream.",
            )
        path.append(after)
    row, col = network.places(path)
    east, north = network.drainage.terrain.reference.to_lonlat(row, col)
    return StreamReach(
        lon=frozen(east),
        lat=frozen(north),
        area_m2=frozen(network.area_m2[path]),
        at_least=frozen(network.at_least[path], dtype=np.uint8),
        row=frozen(row, dtype=np.int64),
        col=frozen(col, dtype=np.int64),
    )
