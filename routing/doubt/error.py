"""What is known of a raster's error: its local part, its long part and its steps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np

from routing.arrays import FloatArray
from routing.doubt.trade_data import Source, limits, local_classes
from routing.errors import InputError
from routing.value import dataclass

__all__ = ["ElevationError", "bend_rms_m", "bounded_error", "find_error", "whole_units"]

QUIET_STRETCH = 16
"""Places along the line whose bends are judged together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ElevationError:
    r"""The error of elevations along a line, in two parts and a rounding; all in m.

    .. math::
        \operatorname{cov}(d) = \sigma^2 e^{-d/L_c} + \sigma_l^2 e^{-d/L_l}

    with the distance d in plan, and a rounding of variance step² / 12 that differs from cell to
    cell. Only the local part makes or hides summits; heads need both. ``local_sigma_m`` is None
    where nothing is known, ``long_sigma_m`` where only the local part is. ``lowered_from_m`` is
    the local error as told, where the raster itself shows that it must be less.
    """

    local_sigma_m: float | None
    range_m: float | None
    long_sigma_m: float | None
    long_range_m: float
    step_m: float
    source: Source
    lowered_from_m: float | None = None


def find_error(
    *,
    rmse_m: float | None,
    range_m: float | None,
    kind: str | None,
    kind_rmse_m: float | None,
    step_m: float,
    steep: bool = False,
) -> ElevationError:
    """Return the error of a raster from what is told of it.

    Parameters
    ----------
    rmse_m : float or None
        Root mean square error that is stated for the raster, > 0 [m]
    range_m : float or None
        Distance over which its errors are alike, > 0 [m]; None: usual for its kind
    kind : str or None
        Kind of elevation data, an id of the table of kinds
    kind_rmse_m : float or None
        Whole error typical of that kind [m]
    step_m : float
        Step to which elevations are rounded, 0 for none [m]
    steep : bool
        Whether the line runs mostly over ground steeper than 20 %

    Returns
    -------
    ElevationError
        Stated: all of it local, unless the kind says how much is. Of a kind: its local error, the
        rest long. In whole units of which nothing else is known: at least 0.5 m, alike over 100 m.

    Examples
    --------
    >>> error = find_error(rmse_m=None, range_m=None, kind="srtm", kind_rmse_m=7.5, step_m=1.0)
    >>> error.local_sigma_m, round(error.long_sigma_m, 2), error.source
    (1.6, 7.33, 'class')
    """
    for name, value in (("rmse", rmse_m), ("error_range", range_m)):
        if value is not None and not (math.isfinite(value) and value > 0.0):
            raise InputError(
                f"terrain.{name} = {value:g} m is out of range.",
                "Give a length above zero, or leave it out.",
            )
    numbers = limits()
    row = None if kind is None else local_classes().get(kind)
    total = rmse_m if rmse_m is not None else kind_rmse_m
    reach = range_m or (row.range_m if row else numbers.range_m)
    source: Source = "stated"
    local, long = total, None if total is None else 0.0
    if total is not None and row is not None:
        local = min(row.steep_sigma_m if steep else row.sigma_m, total)
        long = math.sqrt(total * total - local * local)
    if rmse_m is None:
        source = "class" if total is not None else "step" if step_m > 0.0 else "none"
    if source == "step":
        local = numbers.unknown_sigma_m
    return ElevationError(
        local_sigma_m=local,
        range_m=None if source == "none" else reach,
        long_sigma_m=long,
        long_range_m=numbers.long_range_m,
        step_m=step_m,
        source=source,
    )


def bend_rms_m(sigma_m: float, range_m: float, cell_m: float) -> float:
    r"""Return the root mean square second difference along a row that an error alone makes.

    .. math::
        \sigma \sqrt{6 - 8 r + 2 r^2}, \quad r = e^{-c / L_c}

    Parameters
    ----------
    sigma_m, range_m : float
        Standard error and the distance over which errors are alike, > 0 [m]
    cell_m : float
        Cell c of the raster, > 0 [m]

    Returns
    -------
    rms : float
        Of z(-1) - 2 z(0) + z(1) [m]

    Notes
    -----
    From the variances and covariances of three neighbours: 6 - 8 r + 2 r^2, exact for an
    exponential covariance.

    Examples
    --------
    >>> round(bend_rms_m(7.5, 150.0, 25.8), 1)
    6.2
    """
    alike = math.exp(-cell_m / range_m)
    return sigma_m * math.sqrt(6.0 - 8.0 * alike + 2.0 * alike * alike)


def bounded_error(error: ElevationError, bends_m: FloatArray, cell_m: float) -> ElevationError:
    """Return the error, lowered where the raster is smoother than it would make it.

    Parameters
    ----------
    error : ElevationError
        As told
    bends_m : FloatArray, shape (n, k)
        Second differences between neighbouring cells at n places along the line [m]
    cell_m : float
        Cell of the raster [m]

    Returns
    -------
    ElevationError
        The same, or with the largest local error that the quietest tenth of the stretches allows

    Notes
    -----
    Ground and error are independent, so bends can only be larger than those of the error alone.
    """
    if error.local_sigma_m is None or error.range_m is None or error.source == "step":
        return error
    known = bends_m[np.isfinite(bends_m).all(axis=1)]
    stretches = known.shape[0] // QUIET_STRETCH
    if not stretches:
        return error
    parts = np.array_split(np.mean(known**2, axis=1), stretches)
    quiet = float(np.quantile([part.mean() for part in parts], limits().bound_share))
    # Rounding makes bends of its own, 6 times its variance.
    left = max(quiet - 0.5 * error.step_m**2, 0.25 * quiet)
    most = math.sqrt(left) / bend_rms_m(1.0, error.range_m, cell_m)
    if most >= error.local_sigma_m:
        return error
    return replace(error, local_sigma_m=most, lowered_from_m=error.local_sigma_m)


def whole_units(values: FloatArray) -> bool:
    """Return whether elevations, in the raster's own unit, are all whole and not all the same.

    >>> whole_units(np.array([412.0, 413.0, 415.0])), whole_units(np.array([412.0, 413.5, 415.0]))
    (True, False)
    """
    known = values[np.isfinite(values)]
    return bool(known.size and np.all(known == np.round(known)) and np.ptp(known) > 0.0)
