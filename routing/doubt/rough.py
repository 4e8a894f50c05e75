"""A first value for a line that is being dragged."""

from __future__ import annotations

import math

from routing.doubt.error import ElevationError

__all__ = ["rough_probability"]


def rough_probability(
    prominence_m: float, distance_m: float, error: ElevationError
) -> float | None:
    r"""Return roughly how likely a summit or sag of the pipe is there, from two points alone.

    .. math::
        P = \Phi(p / s), \quad s^2 = 2 \sigma^2 (1 - e^{-d / L_c})

    Parameters
    ----------
    prominence_m : float
        How far the pipe's summit stands above the low that sets its prominence, >= 0: the ground's
        prominence less the play of the trench [m]
    distance_m : float
        Distance between the two, >= 0 [m]
    error : ElevationError
        The raster's error; its local part counts

    Returns
    -------
    probability : float or None
        0.5 for no prominence, towards 1 for one that is large against the error [-]; None where no
        error is known

    Notes
    -----
    Errors normal and unbiased, alike over short distances. It looks at two points and at no ground
    between cells, and never falls below 0.5: fit for a preview only, and marked as rough there.

    Examples
    --------
    >>> error = ElevationError(local_sigma_m=0.82, range_m=100.0, long_sigma_m=0.0,
    ...     long_range_m=3000.0, step_m=0.0, source="stated")
    >>> round(rough_probability(1.0, 100.0, error), 3)
    0.861
    """
    if error.local_sigma_m is None or error.range_m is None:
        return None
    spread = error.local_sigma_m * math.sqrt(-2.0 * math.expm1(-distance_m / error.range_m))
    if spread == 0.0:
        return 1.0 if prominence_m > 0.0 else 0.5
    return 0.5 * math.erfc(-prominence_m / (spread * math.sqrt(2.0)))
