"""The numbers that the search goes by, ``data/rules.csv``, by name."""

from __future__ import annotations

from collections.abc import Mapping

from routing.trade_table import named_numbers

__all__ = ["dug_through_m", "rules"]

LEAST_BUMP_M = 0.05
"""A bump of less is never a summit [m]."""


def rules() -> Mapping[str, float]:
    """Return all of them, in the units of the table."""
    return named_numbers(__file__, "rules.csv")


def dug_through_m(room_m: float) -> float:
    """Return how high a bump may stand out and be dug through.

    Parameters
    ----------
    room_m : float
        Deepest trench less that at the least cover [m]

    Returns
    -------
    bump_m : float
        Topographic prominence of the least bump that counts, 0.05 or more [m]
    """
    return max(rules()["dig_share"] * room_m, LEAST_BUMP_M)
