"""Water at hand when the machine opens, and the crest that takes it when the machine trips."""

from __future__ import annotations

import math

from routing.check import Check
from routing.flow.intake.requirements import judge
from routing.flow.intake.trade_data import limit
from routing.need import need

__all__ = ["check_storage", "crest_width_m", "start_up_volume_m3"]


def start_up_volume_m3(design_m3_s: float, time_s: float | None = None) -> float:
    """Return the water that must stand above the mouth's least depth when the machine opens.

    Parameters
    ----------
    design_m3_s : float
        Design flow, >= 0 [m3/s]
    time_s : float, optional
        Seconds of design flow, >= 0; None takes 120 [s]

    Returns
    -------
    volume_m3 : float
        Storage [m3]

    Raises
    ------
    InputError
        If an argument is negative or not finite.

    Notes
    -----
    Valid for: small lines; 60 to 120 s is usual. Opening follows the level, never the other way.
    Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> start_up_volume_m3(0.05)
    6.0

    References
    ----------
    .. [1] Common practice, no source.
    """
    seconds = limit("start_up_advised_time") if time_s is None else time_s
    need("The design flow", design_m3_s, least=0.0)
    need("The time of opening", seconds, least=0.0)
    return design_m3_s * seconds


def check_storage(volume_m3: float, design_m3_s: float) -> Check:
    """Return whether the intake holds a minute of design flow.

    >>> check_storage(2.0, 0.05).passed
    False
    """
    need("The storage of the intake", volume_m3, least=0.0)
    least = start_up_volume_m3(design_m3_s, limit("start_up_least_time"))
    return judge(
        "storage",
        volume_m3,
        f"The intake holds {volume_m3:.1f} m3 above the mouth's least depth; {least:.1f} m3 is a "
        "minute of design flow. The level dips and air is drawn when the nozzle opens: open "
        "slowly, after the level, or enlarge the basin.",
        least,
    )


def crest_width_m(flow_m3_s: float, head_m: float) -> float:
    r"""Return the overflow crest that passes a flow at a head, as a broad-crested weir.

    .. math::
        b = \frac{Q}{1.7\, h^{3/2}}

    Parameters
    ----------
    flow_m3_s : float
        Design flow and what leaks in at flood: all of it leaves here when the machine trips, >= 0
        [m3/s]
    head_m : float
        Head over the crest that the intake's walls allow, > 0 [m]

    Returns
    -------
    width_m : float
        Length of the crest [m]

    Raises
    ------
    InputError
        If an argument is non-finite or outside the bound given above.

    Notes
    -----
    Valid for: free overfall, a crest longer than its head.
    Checked by ``tests/reference/test_intake.py``.

    Examples
    --------
    >>> crest_width_m(0.10, 0.15)
    1.0125

    References
    ----------
    .. [1] Broad-crested weir, from memory of handbooks.
    """
    need("The flow over the crest", flow_m3_s, least=0.0)
    need("The head over the crest", head_m, above=0.0)
    return flow_m3_s / (limit("crest_coefficient") * math.pow(head_m, 1.5))
