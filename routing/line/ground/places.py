"""Places beside the line: set out from stations and offsets, and the raster at them."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray
from routing.errors import ProfileError
from routing.line.ground.profile import GroundProfile
from routing.line.ground.station import ECCENTRICITY2, SEMI_MAJOR_M
from routing.terrain import GridWindow, Terrain, read_corners

__all__ = ["degree_m", "raster_at", "set_out", "turned"]


def turned(lon: FloatArray) -> FloatArray:
    """Return differences of longitude within half a turn."""
    return lon - 360.0 * np.round(lon / 360.0)


def set_out(
    profile: GroundProfile, station: FloatArray, offset: FloatArray
) -> tuple[FloatArray, FloatArray]:
    """Return the places at stations and offsets, to the right of the line looking downstream."""
    piece = np.clip(
        np.searchsorted(profile.station_m, station, side="right") - 1, 0, profile.lon.size - 2
    )
    step = profile.station_m[piece + 1] - profile.station_m[piece]
    share = (station - profile.station_m[piece]) / step
    dlon = turned(profile.lon[piece + 1] - profile.lon[piece])
    dlat = profile.lat[piece + 1] - profile.lat[piece]
    lat = profile.lat[piece] + share * dlat
    east_scale, north_scale = degree_m(lat)
    east, north = dlon * east_scale, dlat * north_scale
    run = np.hypot(east, north)
    lon = profile.lon[piece] + share * dlon + offset * north / run / east_scale
    return (lon + 180.0) % 360.0 - 180.0, lat - offset * east / run / north_scale


def raster_at(
    terrain: Terrain, lon: FloatArray, lat: FloatArray, window: GridWindow | None
) -> FloatArray:
    """Return the bilinear surface at places, from the finest grid that has it, else NaN [m]."""
    height = np.full(lon.size, np.nan)
    for grid in terrain.grids:
        left = np.flatnonzero(np.isnan(height))
        if left.size:
            height[left] = _grid_at(grid, lon[left], lat[left], window)
        window = None  # it holds the first grid's
    return height


def _grid_at(
    terrain: Terrain, lon: FloatArray, lat: FloatArray, window: GridWindow | None
) -> FloatArray:
    """Return the surface of a terrain's own grid at places, NaN where it has none [m]."""
    height = np.full(lon.size, np.nan)
    try:
        row, col = terrain.reference.to_nodes(lon, lat)
    except ProfileError:
        if lon.size == 1:
            return height  # a place that the raster's map cannot show
        one_by_one = [_grid_at(terrain, lon[[at]], lat[[at]], window) for at in range(lon.size)]
        return np.concatenate(one_by_one)
    rows, cols = terrain.shape
    inside = np.flatnonzero(
        (row >= -0.5) & (row <= rows - 0.5) & (col >= -0.5) & (col <= cols - 0.5)
    )
    if not inside.size:
        return height
    top, left = np.floor(row[inside]), np.floor(col[inside])
    cell_row, cell_col = top.astype(np.int64), left.astype(np.int64)
    if window is not None and window.covers(cell_row, cell_col, terrain.shape):
        corners = window.read_corners(cell_row, cell_col)
    else:
        corners = read_corners(terrain, cell_row, cell_col)
    down, right = row[inside] - top, col[inside] - left
    weights = np.stack(
        [(1 - down) * (1 - right), (1 - down) * right, down * (1 - right), down * right]
    )
    # A missing corner without weight takes no part.
    height[inside] = np.where(weights == 0.0, 0.0, weights * corners).sum(axis=0)
    return height


def degree_m(lat: ArrayLike) -> FloatArray:
    r"""Return the length of a degree of longitude and of latitude on WGS 84.

    .. math::
        l_\lambda = \frac{\pi}{180} \frac{a \cos\varphi}{\sqrt{1 - e^2 \sin^2\varphi}}, \quad
        l_\varphi = \frac{\pi}{180} \frac{a (1 - e^2)}{(1 - e^2 \sin^2\varphi)^{3/2}}

    Parameters
    ----------
    lat : array_like
        Latitude, -90 to 90, one or (n,) [deg]

    Returns
    -------
    lengths : FloatArray
        Of a degree of longitude, and of one of latitude, (2,) or (2, n) [m]

    Notes
    -----
    Radii of curvature of the ellipsoid. Valid for any latitude. Checked by
    ``tests/reference/test_land.py``.

    Examples
    --------
    >>> degree_m(45.0).round(1).tolist()
    [78846.8, 111131.8]

    References
    ----------
    .. [1] National Imagery and Mapping Agency. *Department of Defense World Geodetic System 1984*,
       TR8350.2, 3rd edition, 1997 (from memory of the publication).
    """
    turn = np.radians(np.asarray(lat, dtype=np.float64))
    bent = 1.0 - ECCENTRICITY2 * np.square(np.sin(turn))
    east = SEMI_MAJOR_M * np.cos(turn) / np.sqrt(bent)
    north = SEMI_MAJOR_M * (1.0 - ECCENTRICITY2) / bent**1.5
    return np.stack([east, north]) * (np.pi / 180.0)
