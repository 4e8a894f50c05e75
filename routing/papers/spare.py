"""How much more pipe is bought than is laid."""

from __future__ import annotations

import math

__all__ = ["SPARE_SHARE", "bought_m"]

SPARE_SHARE = 0.04
"""Pipe bought beyond the length along the slope [-]: 3 to 5 %, common practice, no source."""


def bought_m(length_m: float) -> float:
    """Return the length to buy for a length to lay: with spare, in whole metres [m].

    >>> bought_m(702.8)
    731.0
    """
    return float(math.ceil(length_m * (1.0 + SPARE_SHARE) - 1e-6))
