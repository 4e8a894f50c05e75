"""How much ground the trench takes out."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.need import need
from routing.trade_table import named_numbers, pairs_of
from routing.value import dataclass

__all__ = ["Excavation", "embedment_m2", "embedment_over_m", "excavate", "trench_width_m"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Excavation:
    """Trench depths and volumes; the trench has one width at its bottom."""

    depth_m: FloatArray
    """Ground to trench bottom, shape (n,), 0 inside spans [m]."""
    width_m: float
    """Width at the bottom [m]."""
    volume_m3: float
    """Between vertical walls, in place [m3]."""
    sloped_volume_m3: float
    """With both sides sloped back one to one, in place [m3]."""

    def __post_init__(self) -> None:
        object.__setattr__(self, "depth_m", frozen(self.depth_m))


def trench_width_m(outside_diameter_m: float) -> float:
    """Return the least width of a trench at its bottom, after EN 1610 by outside diameter [1]_.

    Parameters
    ----------
    outside_diameter_m : float
        Outside diameter of the pipe, > 0 [m]

    Returns
    -------
    width_m : float
        Width at the bottom [m]

    Notes
    -----
    The wider trench that the same standard asks by depth where people work in it is not added
    here: it belongs to the way of digging.

    References
    ----------
    .. [1] EN 1610. *Construction and testing of drains and sewers*, table 1 (the rows beyond
       0.35 m from memory).

    Examples
    --------
    >>> trench_width_m(0.2)
    0.6
    """
    rules = pairs_of(__file__, "trench_widths.csv", "up_to_m", "add_m")
    for up_to, add in rules:
        if outside_diameter_m <= up_to:
            return outside_diameter_m + add
    return outside_diameter_m + rules[-1][1]


def embedment_over_m() -> float:
    """Return how far above its crown the pipe lies in fill without stones [m]."""
    return named_numbers(__file__, "embedment.csv")["over_crown"]


def embedment_m2(width_m: float, *, outside_diameter_m: float, bedding_m: float) -> float:
    r"""Return the fill without stones round the pipe, for each metre of trench.

    .. math::
        A = b \left(t + D + c\right) - \frac{\pi D^2}{4}

    Parameters
    ----------
    width_m : float
        Width of the trench at its bottom, no less than the pipe [m]
    outside_diameter_m : float
        Outside diameter of the pipe, > 0 [m]
    bedding_m : float
        Bedding under the pipe, >= 0 [m]

    Returns
    -------
    area_m2 : float
        Bedding, sides, and 0.15 m over the crown, as compacted [m2]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: upright walls as high as the fill. Checked by ``tests/reference/test_trench.py``.

    Examples
    --------
    >>> round(embedment_m2(0.619, outside_diameter_m=0.21908, bedding_m=0.1), 3)
    0.253

    References
    ----------
    .. [1] EN 1610. *Construction and testing of drains and sewers*: initial backfill.
    """
    need("The outside diameter", outside_diameter_m, above=0.0)
    need("The width of the trench", width_m, least=outside_diameter_m)
    need("The bedding", bedding_m, least=0.0)
    filled = width_m * (bedding_m + outside_diameter_m + embedment_over_m())
    return filled - math.pi * outside_diameter_m**2 / 4.0


def excavate(
    station_m: FloatArray,
    ground_m: FloatArray,
    pipe_m: FloatArray,
    in_span: BoolArray,
    *,
    outside_diameter_m: float,
    bedding_m: float,
) -> Excavation:
    """Return depths and volumes of the trench, by prisms between stations.

    Parameters
    ----------
    station_m, ground_m, pipe_m : FloatArray
        Stations, ground and centreline of the pipe, shape (n,) [m]
    in_span : BoolArray
        Stations strictly inside a span, where nothing is dug, shape (n,)
    outside_diameter_m, bedding_m : float
        Pipe and bedding under it [m]

    Returns
    -------
    Excavation
        Depths (n,) [m] and volumes in place [m3]

    Notes
    -----
    Depth is vertical and goes with plan length. Between stations depth is linear, so the area
    ``b d`` is integrated by the trapezoid and ``b d + d**2`` (sides 1:1) by the exact prismoid;
    averaging end areas would overstate the latter by ``(d1 - d2)**2 L / 6``.

    Examples
    --------
    >>> flat = np.zeros(2, dtype=bool)
    >>> dug = excavate(np.array([0.0, 10.0]), np.array([5.0, 5.0]), np.array([3.8, 3.8]), flat,
    ...                outside_diameter_m=0.2, bedding_m=0.1)
    >>> dug.volume_m3, dug.sloped_volume_m3
    (8.4, 28.0)
    """
    depth = ground_m - pipe_m + outside_diameter_m / 2.0 + bedding_m
    depth = np.where(in_span, 0.0, np.maximum(depth, 0.0))
    width = trench_width_m(outside_diameter_m)
    # A piece next to a station inside a span is part of the span.
    length = np.where(in_span[:-1] | in_span[1:], 0.0, np.diff(station_m))
    d1, d2 = depth[:-1], depth[1:]
    vertical = width * np.sum(length * (d1 + d2) / 2.0)
    sides = np.sum(length * (d1 * d1 + d1 * d2 + d2 * d2) / 3.0)
    return Excavation(
        depth_m=depth,
        width_m=width,
        volume_m3=float(vertical),
        sloped_volume_m3=float(vertical + sides),
    )
