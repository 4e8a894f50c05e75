"""How much water a length of pipe holds, full or with a level pool in it."""

from __future__ import annotations

import numpy as np

from routing.arrays import FloatArray

__all__ = ["cumulative_volume", "pool_volume", "segment_integral"]


def cumulative_volume(slope_station_m: FloatArray, inside_diameter_m: FloatArray) -> FloatArray:
    """Return the full pipe's volume from the intake to each station.

    Parameters
    ----------
    slope_station_m : array, shape (n,)
        Length along the slope of the pipe, rising [m]
    inside_diameter_m : array, shape (n,)
        Bore from each station to the next [m]

    Returns
    -------
    volume : array, shape (n,)
        Volume up to each station, 0 at the first [m3]

    Examples
    --------
    >>> import numpy as np
    >>> v = cumulative_volume(np.array([0.0, 100.0]), np.array([0.2, 0.2]))
    >>> [float(x) for x in v]
    [0.0, 3.14159]
    """
    area = 0.25 * np.pi * inside_diameter_m[:-1] ** 2
    volume = np.zeros(slope_station_m.size)
    np.cumsum(area * np.diff(slope_station_m), out=volume[1:])
    return volume


def segment_integral(depth_m: FloatArray, diameter_m: FloatArray) -> FloatArray:
    r"""Return the wetted area of a round pipe, integrated over the depth of water in it.

    .. math::
        F(h) = r^3 \left[\sqrt{1-u^2} - u \arccos u - (1-u^2)^{3/2} / 3\right],
        \quad u = (r - h) / r

    Parameters
    ----------
    depth_m : array
        Depth of water above the invert; below 0 the pipe is dry, above the bore full [m]
    diameter_m : array
        Bore [m]

    Returns
    -------
    integral : array
        Integral of the circular segment's area from 0 to the depth [m3]

    Notes
    -----
    Exact; the derivative is the area of a circular segment.

    Examples
    --------
    >>> import numpy as np
    >>> float(segment_integral(np.array([2.0]), np.array([2.0]))[0])
    3.14159
    """
    radius = 0.5 * diameter_m
    u = np.clip((radius - depth_m) / radius, -1.0, 1.0)
    root = np.sqrt(1.0 - u * u)
    within = radius**3 * (root - u * np.arccos(u) - root**3 / 3.0)
    return within + np.pi * radius**2 * np.maximum(depth_m - diameter_m, 0.0)


def _segment_area(depth_m: FloatArray, diameter_m: FloatArray) -> FloatArray:
    radius = 0.5 * diameter_m
    u = np.clip((radius - depth_m) / radius, -1.0, 1.0)
    return radius**2 * (np.arccos(u) - u * np.sqrt(1.0 - u * u))


def pool_volume(
    level_m: float,
    slope_station_m: FloatArray,
    pipe_m: FloatArray,
    inside_diameter_m: FloatArray,
) -> float:
    """Return the water that stands in a pipe below a level surface.

    Parameters
    ----------
    level_m : float
        Elevation of the water surface [m]
    slope_station_m : array, shape (n,)
        Length along the slope of the pipe, rising [m]
    pipe_m : array, shape (n,)
        Elevation of the centreline [m]
    inside_diameter_m : array, shape (n,)
        Bore from each station to the next [m]

    Returns
    -------
    volume : float
        Volume of water, 0 where the pipe lies above the level [m3]

    Notes
    -----
    Depth is measured upright and area square to the pipe, which is exact for a level pipe and
    2 % off at a grade of 20 %; along each stretch the integral over the depth is exact.

    Examples
    --------
    >>> import numpy as np
    >>> s, z = np.array([0.0, 50.0, 100.0]), np.array([10.0, 5.0, 10.0])
    >>> round(pool_volume(50.0, s, z, np.full(3, 0.2)), 5)
    3.14159
    """
    bore = inside_diameter_m[:-1]
    start = level_m - pipe_m[:-1] + 0.5 * bore
    end = level_m - pipe_m[1:] + 0.5 * bore
    wet = np.flatnonzero(np.maximum(start, end) > 0.0)
    bore, start, end = bore[wet], start[wet], end[wet]
    length = slope_station_m[wet + 1] - slope_station_m[wet]
    mean = 0.25 * np.pi * bore**2
    part = np.flatnonzero(np.minimum(start - bore, end - bore) < 0.0)
    if part.size:
        mean[part] = _mean_area(start[part], end[part], bore[part])
    return float(np.dot(mean, length))


def _mean_area(start_m: FloatArray, end_m: FloatArray, bore_m: FloatArray) -> FloatArray:
    """Return the mean wetted area of stretches whose depth changes evenly from start to end."""
    change = end_m - start_m
    # Below this the difference of two integrals loses more digits than the area in the middle.
    level = np.abs(change) < 1e-6 * bore_m
    sloping = segment_integral(end_m, bore_m) - segment_integral(start_m, bore_m)
    flat = _segment_area(0.5 * (start_m + end_m), bore_m)
    return np.where(level, flat, sloping / np.where(level, 1.0, change))
