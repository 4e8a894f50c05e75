"""What a cell measures on the ground: its area on the ellipsoid, the steps to its neighbours."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike
from pyproj import Geod

from routing.arrays import FloatArray, IntArray
from routing.terrain import Terrain
from routing.value import dataclass

__all__ = ["CellSizes", "cell_sizes", "equal_area_y"]

NODES = 33
"""Places along each side of a projected raster at which the area of a cell is worked out."""

_WGS84 = Geod(ellps="WGS84")
_E = float(np.sqrt(_WGS84.es))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CellSizes:
    """Area and steps of the cells of a grid, between whose nodes they vary evenly.

    ``area_m2`` (row nodes, column nodes) belongs to rows ``row`` and columns ``0, column_step,
    2 column_step ...``; ``step_m`` (row nodes, 4) are the ways to the neighbours 0 to 3.
    """

    row: FloatArray
    column_step: float
    area_m2: FloatArray
    step_m: FloatArray

    def areas(self, first: int, last: int) -> FloatArray:
        """Return the areas at the column nodes of rows ``first`` to ``last`` - 1 [m2]."""
        return _along(np.arange(first, last), self.row, self.area_m2)

    def steps(self, first: int, last: int) -> FloatArray:
        """Return the steps to neighbours 0 to 3 in rows ``first`` to ``last`` - 1 [m]."""
        return _along(np.arange(first, last), self.row, self.step_m)


def _along(rows: IntArray, nodes: FloatArray, values: FloatArray) -> FloatArray:
    return np.ascontiguousarray(
        np.stack([np.interp(rows, nodes, column) for column in values.T], axis=1)
    )


def equal_area_y(lat: ArrayLike) -> FloatArray:
    r"""Return the northing of latitudes on the equal-area cylinder round the WGS 84 ellipsoid.

    .. math::
        y = \frac{a}{2} (1 - e^2) \left( \frac{\sin\varphi}{1 - e^2 \sin^2\varphi}
            - \frac{1}{2e} \ln \frac{1 - e \sin\varphi}{1 + e \sin\varphi} \right)

    With x = a times the longitude in radians, areas on it are those on the ellipsoid.

    Parameters
    ----------
    lat : array_like
        Latitudes, -90 to 90 [deg]

    Returns
    -------
    y : FloatArray
        Northings [m]

    Notes
    -----
    Valid for: all latitudes. Checked by ``tests/reference/test_catchment.py``.

    Examples
    --------
    >>> round(float(equal_area_y(90.0)), 1)
    6363885.3

    References
    ----------
    .. [1] Snyder, Map projections: a working manual, USGS Professional Paper 1395, 1987,
       equations 3-12 and 10-15.
    """
    sine = np.sin(np.radians(lat))
    return np.asarray(
        0.5
        * _WGS84.a
        * (1.0 - _E**2)
        * (
            sine / (1.0 - (_E * sine) ** 2)
            - np.log((1.0 - _E * sine) / (1.0 + _E * sine)) / (2.0 * _E)
        )
    )


def cell_sizes(terrain: Terrain) -> CellSizes:
    """Return what the cells of a terrain's grid measure on the ground.

    On a raster in degrees that is worked out for every row, elsewhere at 33 x 33 places.
    """
    rows, cols = terrain.shape
    a, b, _, d, e, _ = terrain.transform
    by_row = terrain.reference.turn is not None and b == 0.0 and d == 0.0
    row = np.arange(rows, dtype=np.float64) if by_row else np.linspace(0, rows - 1, NODES)
    col = np.linspace(0, cols - 1, 2 if by_row else NODES)
    area = _areas(terrain, *np.meshgrid(row, col, indexing="ij"))
    if terrain.reference.turn is None:
        ways = [
            np.hypot(a * x + b * y, d * x + e * y) for y, x in ((0, 1), (1, 1), (1, 0), (1, -1))
        ]
        steps = np.tile(ways, (row.size, 1))
    else:
        steps = _ways(terrain, row, np.full(row.size, (cols - 1) / 2))
    return CellSizes(
        row=row, column_step=max((cols - 1) / (col.size - 1), 1e-9), area_m2=area, step_m=steps
    )


def _areas(terrain: Terrain, row: FloatArray, col: FloatArray) -> FloatArray:
    """Return the areas of cells, from their corners on the equal-area cylinder [m2]."""
    xs, ys = [], []
    for drow, dcol in ((-0.5, -0.5), (-0.5, 0.5), (0.5, 0.5), (0.5, -0.5)):
        lon, lat = terrain.reference.to_lonlat(row + drow, col + dcol)
        xs.append(lon)
        ys.append(equal_area_y(lat))
    x, y = np.array(xs), np.array(ys)
    x = _WGS84.a * np.radians((x - x[0] + 180.0) % 360.0 - 180.0)
    y = y - y[0]
    return np.asarray(0.5 * np.abs(np.sum(x * np.roll(y, -1, 0) - np.roll(x, -1, 0) * y, axis=0)))


def _ways(terrain: Terrain, row: FloatArray, col: FloatArray) -> FloatArray:
    """Return the geodesic steps to the neighbours 0 to 3 [m]."""
    here = terrain.reference.to_lonlat(row, col)
    out = []
    for drow, dcol in ((0, 1), (1, 1), (1, 0), (1, -1)):
        there = terrain.reference.to_lonlat(row + drow, col + dcol)
        out.append(_WGS84.inv(*here, *there)[2])
    return np.stack(out, axis=1)
