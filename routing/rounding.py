"""How numbers are rounded where they leave the code: one way, so that all faces agree."""

from __future__ import annotations

import math

import numpy as np

from routing.arrays import FloatArray

__all__ = ["column", "kpa", "metres", "rounded"]


def rounded(value: float | None, decimals: int) -> float | None:
    """Return a number rounded, without a minus zero; what is not finite is None."""
    if value is None or not math.isfinite(value):
        return None
    return round(float(value), decimals) + 0.0


def metres(value: float | None) -> float | None:
    """Return a length or head to 0.1 mm [m]."""
    return rounded(value, 4)


def kpa(pascal: float | None) -> float | None:
    """Return a pressure in Pa as kPa."""
    return None if pascal is None else pascal / 1000.0


def column(values: FloatArray, decimals: int) -> FloatArray:
    """Return a column rounded, without minus zeros, (n,)."""
    return np.asarray(np.round(values, decimals) + 0.0)
