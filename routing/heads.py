"""Water at rest: heads below the intake, and what they weigh."""

from __future__ import annotations

from typing import overload

from routing.arrays import FloatArray, frozen
from routing.water import Water

__all__ = ["pressure_pa", "static_heads"]


def static_heads(intake_level_m: float, pipe_m: FloatArray) -> FloatArray:
    """Return the head at rest at every station: the fall from the intake's water to the pipe.

    Parameters
    ----------
    intake_level_m : float
        Elevation of the water surface at the intake [m]
    pipe_m : FloatArray
        Elevation of the pipe's centreline, (n,) [m]

    Returns
    -------
    static_head_m : FloatArray
        Head above the centreline, (n,) read-only; negative where the pipe is above the intake [m]

    Notes
    -----
    Valid for: the line full and shut at the outlet. The highest pressure is at the lowest point,
    which may be a sag and not the outlet.

    Examples
    --------
    >>> import numpy as np
    >>> static_heads(412.6, np.array([411.7, 360.0, 371.5]))
    array([ 0.9, 52.6, 41.1])
    """
    return frozen(intake_level_m - pipe_m)


@overload
def pressure_pa(head_m: float, water: Water) -> float: ...
@overload
def pressure_pa(head_m: FloatArray, water: Water) -> FloatArray: ...
def pressure_pa(head_m: float | FloatArray, water: Water) -> float | FloatArray:
    r"""Return the gauge pressure of a head of water.

    .. math::
        p = \rho g h

    Parameters
    ----------
    head_m : float or FloatArray
        Head of water, any shape [m]
    water : Water
        Gives density and gravity [-]

    Returns
    -------
    pressure_pa : float or FloatArray
        Gauge pressure, shape of ``head_m`` [Pa]

    Notes
    -----
    Valid for: water of one temperature; its own compression adds 0.05 % at 1000 m.
    Checked by ``tests/reference/test_water.py``.

    Examples
    --------
    >>> from routing.water import water_at
    >>> pressure_pa(100.0, water_at(10.0))
    980373.45
    """
    return head_m * water.weight_n_m3
