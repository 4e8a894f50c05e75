"""The one pressure that whatever stands at a place must bear."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray
from routing.fittings.inputs import FittingInputs
from routing.laid_line import LaidLine

__all__ = ["fitting_rating", "highest_level_m"]


def fitting_rating(line: LaidLine, given: FittingInputs, station_m: float) -> tuple[float, str]:
    r"""Return the pressure that a fitting at a station must bear, and what sets it.

    .. math::
        p = \max(p_{operating}, p_{emergency}, p_{test})

    Parameters
    ----------
    line : LaidLine
        The line as laid
    given : FittingInputs
        The pressures along it, the flood at the intake
    station_m : float
        Where the fitting stands [m]

    Returns
    -------
    rating : (float, str)
        Pressure, gauge, >= 0 [Pa], and its basis; a load that was not computed is named there

    Notes
    -----
    At rest, in flood, with the closing machine, with the outlet blocked at once, and in the test
    unless the fitting is closed off in it (NaN there). Checked by
    ``tests/routing/fittings/test_rating.py``.

    Examples
    --------
    >>> from routing.laid_line import simple_line
    >>> line = simple_line([0.0, 400.0], [410.0, 350.0], "PE100-SDR17-200", intake_m=411.0)
    >>> fitting_rating(line, FittingInputs(), 400.0)
    (598027.8, 'static pressure; surge not computed, add it; not less than the test pressure')

    References
    ----------
    .. [1] AWWA Manual M51, from memory of it.
    """
    weight, loads = line.water.weight_n_m3, given.loads
    static = weight * (_at(line, line.static_head_m, station_m) + given.flood_rise_m)
    name = "static pressure at flood level" if given.flood_rise_m > 0.0 else "static pressure"
    found = [(static, name)]
    for values, basis in (
        (loads.operating_pa, "static pressure and surge of the closing machine"),
        (loads.emergency_pa, "outlet blocked at once"),
        (loads.test_pa, "test pressure"),
    ):
        if values is not None:
            at = _at(line, values, station_m)
            if math.isfinite(at):
                found.append((at, basis))
    pressure, basis = max(found)
    if loads.operating_pa is None and loads.emergency_pa is None:
        basis += "; surge not computed, add it"
    if loads.test_pa is None:
        basis += "; not less than the test pressure"
    return max(pressure, 0.0), basis


def highest_level_m(line: LaidLine, pressure_pa: FloatArray | None, station_m: float) -> float:
    """Return the level to which a pressure drives water in an open pipe at a station.

    Parameters
    ----------
    line : LaidLine
        The line as laid
    pressure_pa : FloatArray or None
        Highest pressure at each station, (n,) gauge; None where it was not computed [Pa]
    station_m : float
        Where the pipe stands [m]

    Returns
    -------
    level_m : float
        Elevation of the water; minus infinity where nothing was computed [m]
    """
    if pressure_pa is None:
        return -math.inf
    return _at(line, line.pipe_m + pressure_pa / line.water.weight_n_m3, station_m)


def _at(line: LaidLine, values: FloatArray, station_m: float) -> float:
    return float(np.interp(station_m, line.station_m, values))
