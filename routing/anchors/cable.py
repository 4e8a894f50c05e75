"""A pipe hung from ropes."""

from __future__ import annotations

import math

from routing.anchors.trade_data import anchor_limits
from routing.need import need
from routing.value import dataclass

__all__ = ["CablePull", "cable_pull"]


@dataclass(frozen=True, slots=True, kw_only=True)
class CablePull:
    """Pull of a rope: level at its middle, greatest at its ends, and the strength to buy."""

    horizontal_n: float
    greatest_n: float
    breaking_n: float
    formula: str = "cable.tension"


def cable_pull(load_n_m: float, span_m: float, sag_m: float) -> CablePull:
    r"""Return the pull of the rope, or ropes together, that carry a pipe.

    .. math::
        H = \frac{w L^2}{8 d}, \qquad T = \sqrt{H^2 + (w L / 2)^2}

    Parameters
    ----------
    load_n_m : float
        Full pipe, ropes, hangers and what may lie on them, > 0 [N/m]
    span_m : float
        Plan distance between the towers, > 0 [m]
    sag_m : float
        Sag of the rope under the load, > 0 [m]

    Returns
    -------
    pull : CablePull
        Pulls, and five times the greatest as breaking force [N]

    Raises
    ------
    InputError
        If an argument is non-finite or not above zero.

    Notes
    -----
    Valid for: towers of one height and a sag of less than a fifth of the span. Wind and the
    swaying of the pipe are for the engineer who signs the bridge.
    Checked by ``tests/reference/test_supports.py``.

    Examples
    --------
    >>> cable_pull(500.0, 30.0, 2.5).greatest_n
    23717.

    References
    ----------
    .. [1] Statics of a parabola; the factor is common practice, no source.
    """
    need("The load on the rope", load_n_m, above=0.0, unit="N/m")
    need("The span", span_m, above=0.0, unit="m")
    need("The sag of the rope", sag_m, above=0.0, unit="m")
    horizontal = load_n_m * span_m**2 / (8.0 * sag_m)
    greatest = math.hypot(horizontal, load_n_m * span_m / 2.0)
    return CablePull(
        horizontal_n=horizontal,
        greatest_n=greatest,
        breaking_n=anchor_limits().rope_safety * greatest,
    )
