"""The bench that a machine digs for itself where the ground slopes across the line."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen, stretches
from routing.need import need
from routing.value import dataclass

__all__ = ["Bench", "BenchStretch", "bench_area_m2", "lay_bench"]

JOIN_M = 10.0
"""Gentler ground shorter than this between two benches is benched too [m]: common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchStretch:
    """A stretch that asks for a bench: steepest slope across it [-], where, and what is dug."""

    from_m: float
    to_m: float
    steepest: float
    steepest_station_m: float
    volume_m3: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """Slope across the line at each station, NaN where not known, and the benches it asks for."""

    slope: FloatArray
    width_m: float
    stretches: tuple[BenchStretch, ...]

    def __post_init__(self) -> None:
        object.__setattr__(self, "slope", frozen(self.slope))

    @property
    def volume_m3(self) -> float:
        """Return what is dug for all benches, in place [m3]."""
        return float(sum(each.volume_m3 for each in self.stretches))


def bench_area_m2(width_m: float, slope: FloatArray, face: float) -> FloatArray:
    r"""Return the area dug for a level bench across a slope, cut wholly into the hill.

    .. math::
        A = \frac{w^2 \tan g}{2 (1 - \tan g / \tan c)}

    Parameters
    ----------
    width_m : float
        Width of the bench, >= 0 [m]
    slope : FloatArray
        Slope of the ground across the line, tan g, its sign without meaning, any shape [-]
    face : float
        Slope of the cut face, tan c, > 0 [-]

    Returns
    -------
    area_m2 : FloatArray
        Area of ground in place; infinite where the ground is as steep as the face [m2]

    Raises
    ------
    InputError
        If the width is negative or the face not positive.

    Notes
    -----
    Valid for: an even slope less steep than the cut face, and no fill on the side below. Checked
    by ``tests/reference/test_bench.py`` against the area of the triangle itself.

    Examples
    --------
    >>> bench_area_m2(1.5, np.array([np.tan(np.radians(25.0))]), 2.0).round(3)
    array([0.684])

    References
    ----------
    .. [1] Plane geometry of the triangle between ground, bench and cut face; the width for a
       machine is common practice.
    """
    need("The width of a bench", width_m, least=0.0, unit="m")
    need("The slope of a cut face", face, above=0.0)
    rise = np.abs(slope)
    left = 1.0 - rise / face
    area = np.full(np.shape(rise), np.inf)
    np.divide(0.5 * width_m * width_m * rise, left, out=area, where=left > 1e-9)
    return area


def lay_bench(
    station_m: FloatArray,
    slope: FloatArray,
    in_span: BoolArray,
    *,
    width_m: float,
    from_slope: float,
    face: float,
) -> Bench:
    """Return the benches of a line: where the ground slopes across it more than a machine stands.

    Parameters
    ----------
    station_m, slope : FloatArray
        Stations [m], and slope across the line there, NaN where not known, (n,) [-]
    in_span : BoolArray
        Stations inside a span, where nothing is dug, (n,)
    width_m : float
        Width of a bench, >= 0 [m]
    from_slope : float
        Slope across the line above which a bench is dug [-]
    face : float
        Slope of the cut face, > 0 [-]

    Returns
    -------
    Bench
        Volumes by the trapezoid; slopes as steep as the face count as nine tenths of it
    """
    known = np.where(np.isnan(slope), 0.0, slope)
    steep = _joined((np.abs(known) > from_slope) & ~in_span, station_m, in_span)
    area = bench_area_m2(width_m, np.minimum(np.abs(known), 0.9 * face), face)
    area = np.where(steep, area, 0.0)
    found = []
    for first, last in stretches(steep):
        # The trapezoid reaches half-way down to the stations beside, where no bench is dug.
        a, b = max(first - 1, 0), min(last + 1, station_m.size - 1)
        step = np.diff(station_m[a : b + 1])
        volume = float(np.sum(step * (area[a:b] + area[a + 1 : b + 1]) / 2.0))
        worst = first + int(np.argmax(np.abs(known[first : last + 1])))
        found.append(
            BenchStretch(
                from_m=float(station_m[first]),
                to_m=float(station_m[last]),
                steepest=float(abs(known[worst])),
                steepest_station_m=float(station_m[worst]),
                volume_m3=volume,
            )
        )
    return Bench(slope=slope, width_m=width_m, stretches=tuple(found))


def _joined(steep: BoolArray, station_m: FloatArray, in_span: BoolArray) -> BoolArray:
    """Return stretches with the short ones between them filled."""
    joined = steep.copy()
    runs = stretches(steep)
    for (_, last), (first, _) in pairwise(runs):
        if station_m[first] - station_m[last] < JOIN_M and not in_span[last:first].any():
            joined[last:first] = True
    return joined
