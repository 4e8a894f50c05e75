"""Summits and sags along a line that stand out by more than can be dug through."""

from __future__ import annotations

from typing import Any

from routing.compiled import inner_kernel

__all__ = ["turn"]


@inner_kernel
def turn(falling: Any, extreme: Any, here: Any, prices: Any) -> Any:
    """Return the state of a line one height further on, and the price of the turn it shows there.

    A sag is passed once the ground has risen from its lowest by more than ``prices.slack_m``, a
    summit once it has fallen so far from its highest: the turns whose topographic prominence is
    greater than that. A sag asks for a drain, a summit for a vent (common practice). A line
    begins as one that falls, with its first height as the extreme.

    Parameters
    ----------
    falling : bool
        Whether the line falls since the last turn
    extreme : float
        Lowest height since then where it falls, else the highest [m]
    here : float
        Next height; one that is missing (NaN) is passed over [m]
    prices : NamedTuple
        Something with ``slack_m`` (> 0) [m], ``drain`` and ``vent`` [money]

    Returns
    -------
    falling, extreme, price
        State at the next height [m]; price of a drain or a vent, else 0 [money]
    """
    if falling:
        if here > extreme + prices.slack_m:
            return False, here, prices.drain
        return True, here if here < extreme else extreme, 0.0
    if here < extreme - prices.slack_m:
        return True, here, prices.vent
    return False, here if here > extreme else extreme, 0.0
