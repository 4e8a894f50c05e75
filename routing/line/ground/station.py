"""Stations: distance along the line on the WGS 84 ellipsoid, in plan."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike
from pyproj import Geod

from routing.arrays import FloatArray
from routing.errors import RouteError

__all__ = ["ECCENTRICITY2", "SEMI_MAJOR_M", "geodesic_stations"]

SEMI_MAJOR_M = 6_378_137.0
"""Semi-major axis of WGS 84 [m]; defining constant."""

FLATTENING = 1.0 / 298.257223563
"""Flattening of WGS 84 [-]; defining constant."""

ECCENTRICITY2 = FLATTENING * (2.0 - FLATTENING)
"""First eccentricity squared of WGS 84 [-]."""

SHORT_DEG = 0.01
"""Largest difference of latitude, and of longitude, that the series is used for [deg], 1.1 km."""

POLAR_DEG = 85.0
"""Latitude from which every step is solved exactly [deg]: the series divides by its cosine."""

FEW = 32
"""Steps from which the series repays itself [-]."""

CACHED = 8192
"""Steps worked on at a time [-], so that all intermediate values stay in the processor's cache."""

RADIANS = math.pi / 180.0
SECOND_ECCENTRICITY2 = ECCENTRICITY2 / (1.0 - ECCENTRICITY2)
POLAR_RADIUS_M = SEMI_MAJOR_M / math.sqrt(1.0 - ECCENTRICITY2)
"""Radius of curvature at the poles [m]; N is this over V."""


def geodesic_stations(lon: ArrayLike, lat: ArrayLike) -> FloatArray:
    r"""Return the distance along a line of points, each step a geodesic of WGS 84.

    Short steps, the many of a dense line, follow Gauss's mid-latitude series to the third order,
    the others the full solution of the inverse problem [1]_:

    .. math::
        s \sin\alpha = N \cos\varphi\,\Delta\lambda \left[1
            + \frac{1 + \eta^2 - 9\eta^2 t^2}{24 V^4}\Delta\varphi^2
            - \frac{\sin^2\varphi}{24}\Delta\lambda^2\right]

    .. math::
        s \cos\alpha = \frac{N}{V^2}\Delta\varphi\left[1
            - \frac{\cos^2\varphi\,(2 + 3t^2 + 2\eta^2)}{24}\Delta\lambda^2
            + \frac{\eta^2(1 - t^2 + \eta^2 + 4 \eta^2 t^2)}{8V^4}\Delta\varphi^2\right]

    at the mean latitude, with :math:`t = \tan\varphi`, :math:`\eta^2 = e'^2\cos^2\varphi`,
    :math:`V^2 = 1 + \eta^2` and N the radius of curvature across the meridian.

    Parameters
    ----------
    lon, lat : array_like, shape (n,), n >= 1
        Points in order, WGS 84; longitudes may run past 180 [deg]

    Returns
    -------
    station_m : FloatArray, shape (n,)
        Distance from the first point, 0 at the first [m]

    Raises
    ------
    RouteError
        If the arrays do not pair up or hold no point, or a value is not finite.

    Notes
    -----
    Valid for: every pair of points on the ellipsoid. The series serves steps up to 0.01 degrees
    below 85 degrees of latitude, where it differs from the full solution by a few nanometres a
    step at most, no more than that solution from itself. Checked by
    ``tests/reference/test_geodesic.py``.

    Examples
    --------
    >>> geodesic_stations([10.0, 10.0, 10.001], [46.0, 46.001, 46.001]).round(3).tolist()
    [0.0, 111.151, 188.613]

    References
    ----------
    .. [1] C. F. F. Karney. "Algorithms for geodesics", Journal of Geodesy 87, 2013, pp. 43-55.
       doi:10.1007/s00190-012-0578-z
    .. [2] W. Grossmann. *Geodaetische Rechnungen und Abbildungen in der Landesvermessung*, 3rd
       edition, 1976, mid-latitude formulae (from memory of the publication).
    """
    lon, lat = np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)
    if lon.shape != lat.shape or lon.ndim != 1 or lon.size == 0:
        raise RouteError(
            f"Stations need as many longitudes as latitudes; got {lon.shape} and {lat.shape}.",
            "Give one longitude and one latitude for every point.",
        )
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        at = int(np.argmin(np.isfinite(lon) & np.isfinite(lat)))
        raise RouteError(
            f"Point {at + 1} of the line, ({lon[at]}, {lat[at]}), is not a place.",
            "Every point needs a finite longitude and latitude.",
        )
    station = np.zeros(lon.size)
    np.cumsum(_steps(lon, lat), out=station[1:])
    station.flags.writeable = False
    return station


def _steps(lon: FloatArray, lat: FloatArray) -> FloatArray:
    """Return the geodesic distance of each point from the one before [m]."""
    if lon.size <= FEW:
        return _exact(lon[:-1], lat[:-1], lon[1:], lat[1:])
    steps = np.empty(lon.size - 1)
    for begin in range(0, steps.size, CACHED):
        end = min(begin + CACHED, steps.size)
        _block(lon[begin : end + 1], lat[begin : end + 1], steps[begin:end])
    return steps


def _block(lon: FloatArray, lat: FloatArray, steps: FloatArray) -> None:
    """Write the distances of one block of steps to ``steps``, the long ones solved exactly [m]."""
    dlon, dlat = lon[1:] - lon[:-1], lat[1:] - lat[:-1]
    _short_steps(dlon, dlat, lat[1:] + lat[:-1], steps)
    farthest = max(dlon.max(), -dlon.min(), dlat.max(), -dlat.min())
    if farthest > SHORT_DEG or max(lat.max(), -lat.min()) > POLAR_DEG:
        far = (np.abs(dlon) > SHORT_DEG) | (np.abs(dlat) > SHORT_DEG)
        at = np.flatnonzero(far | (np.abs(lat[:-1]) > POLAR_DEG))
        steps[at] = _exact(lon[at], lat[at], lon[at + 1], lat[at + 1])


def _exact(lon0: FloatArray, lat0: FloatArray, lon1: FloatArray, lat1: FloatArray) -> FloatArray:
    """Return geodesic distances by the full solution [m]."""
    _, _, distance = Geod(a=SEMI_MAJOR_M, f=FLATTENING).inv(lon0, lat0, lon1, lat1)
    return np.asarray(distance, dtype=np.float64)


def _short_steps(
    dlon: FloatArray, dlat: FloatArray, twice_lat: FloatArray, steps: FloatArray
) -> None:
    """Write distances by the series about the mean latitude of each step to ``steps`` [m]."""
    dl2 = np.square(dlon * RADIANS)
    db2 = np.square(dlat * RADIANS)
    sine = np.sin(twice_lat * (0.5 * RADIANS))
    sin2 = sine * sine
    cos2 = 1.0 - sin2
    eta2 = SECOND_ECCENTRICITY2 * cos2
    eta2_t2 = SECOND_ECCENTRICITY2 * sin2
    v2 = 1.0 + eta2
    v4 = v2 * v2
    east = 1.0 + (v2 - 9.0 * eta2_t2) / (24.0 * v4) * db2 - sin2 * (1.0 / 24.0) * dl2
    north = (
        1.0
        - (2.0 + sin2 + 2.0 * eta2 * cos2) * (1.0 / 24.0) * dl2
        + (eta2 * v2 - eta2_t2 + 4.0 * eta2 * eta2_t2) / (8.0 * v4) * db2
    )
    square = (cos2 * dl2 * east * east + db2 * north * north / v4) / v2
    np.multiply(np.sqrt(square), POLAR_RADIUS_M, out=steps)
