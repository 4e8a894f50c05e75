"""How long in a year a stream gives a flow: the flow-duration curve."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike

from routing.arrays import FloatArray, frozen
from routing.errors import InputError
from routing.finding import Finding
from routing.need import need
from routing.value import dataclass

__all__ = ["FlowDuration", "flow_duration", "flow_duration_from_days"]

TWO_YEARS_DAYS = 730
"""A record shorter than one wet and one dry year says little [days]."""

FEWEST_DAYS = 30
"""Fewer gaugings than this are spot gaugings and no record; common practice."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FlowDuration:
    """Flows (n,) falling, and the share of the year (n,) rising in which each is exceeded.

    Between the points the curve is straight; before the first and after the last it is level.
    """

    exceeded_share: FloatArray
    flow_m3_s: FloatArray
    findings: tuple[Finding, ...] = ()

    def at(self, share: FloatArray | float) -> FloatArray:
        """Return the flow that is exceeded in a share of the year, shape of ``share``."""
        return np.asarray(np.interp(share, self.exceeded_share, self.flow_m3_s))


def flow_duration(exceeded_share: ArrayLike, flow_m3_s: ArrayLike) -> FlowDuration:
    """Return a flow-duration curve from its points.

    Parameters
    ----------
    exceeded_share : array_like
        Shares of the year, (n,) strictly rising from 0 to 1 at most [-]
    flow_m3_s : array_like
        Flow exceeded in each share, (n,) >= 0 and never rising [m3/s]

    Returns
    -------
    curve : FlowDuration
        The curve

    Raises
    ------
    InputError
        If there are fewer than two points, or shares and flows are not as said above.

    Notes
    -----
    Valid for: a curve of whole years.

    Examples
    --------
    >>> float(flow_duration([0.0, 0.5, 1.0], [0.2, 0.05, 0.01]).at(0.25))
    0.125

    References
    ----------
    .. [1] Definition.
    """
    share, flow = np.asarray(exceeded_share, float), np.asarray(flow_m3_s, float)
    need("A share of the year", share, least=0.0, most=1.0)
    need("A flow of the curve", flow, least=0.0)
    if share.ndim != 1 or share.shape != flow.shape or len(share) < 2:
        raise InputError(
            "A flow-duration curve needs two points or more, each with a share and a flow.",
            "Give as many flows as shares of the year.",
        )
    if np.any(np.diff(share) <= 0.0) or np.any(np.diff(flow) > 0.0):
        raise InputError(
            "The flow-duration curve goes to and fro.",
            "List the points by rising share of the year; the flow must fall along them.",
        )
    return FlowDuration(exceeded_share=frozen(share), flow_m3_s=frozen(flow))


def flow_duration_from_days(daily_m3_s: ArrayLike) -> FlowDuration:
    r"""Return the flow-duration curve of a record of daily flows.

    .. math::
        P = \frac{m}{n + 1}

    with m the rank of a day among n, the wettest first.

    Parameters
    ----------
    daily_m3_s : array_like
        Mean flow of each day, (n,) >= 0, in any order; NaN is a day without reading [m3/s]

    Returns
    -------
    curve : FlowDuration
        The curve; a warning with it where the record is shorter than two years

    Raises
    ------
    InputError
        If a flow is negative, or there are fewer than 30 days: then the energy is not estimated.

    Notes
    -----
    Valid for: at least one wet and one dry year; ends of the year beyond the record are level.
    Checked by ``tests/reference/test_energy.py``.

    Examples
    --------
    >>> import numpy as np
    >>> curve = flow_duration_from_days(np.linspace(0.01, 0.3, 730))
    >>> curve.at(np.array([0.0, 0.5]))
    array([0.3  , 0.155])

    References
    ----------
    .. [1] Plotting position m/(n + 1), common practice.
    """
    flows = np.asarray(daily_m3_s, dtype=np.float64).ravel()
    flows = flows[~np.isnan(flows)]
    if len(flows):
        need("A flow of the record", flows, least=0.0)
    if len(flows) < FEWEST_DAYS:
        raise InputError(
            f"The record holds {len(flows)} days: spot gaugings are no curve, and the energy is "
            "not estimated.",
            "Give the daily flows of a wet and of a dry year, or a flow-duration curve.",
        )
    ordered = np.sort(flows)[::-1]
    days = len(ordered)
    findings: tuple[Finding, ...] = ()
    if days < TWO_YEARS_DAYS:
        findings = (
            Finding(
                code="record_short",
                severity="warning",
                message=f"The record of flows holds {days} days; a wet and a dry year are the "
                "least. Take the energy as a guess, and compare a longer record nearby.",
            ),
        )
    return FlowDuration(
        exceeded_share=frozen(np.arange(1, days + 1) / (days + 1.0)),
        flow_m3_s=frozen(ordered),
        findings=findings,
    )
