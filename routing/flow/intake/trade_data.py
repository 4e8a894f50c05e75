"""The numbers of the trade for intakes, from ``data/``."""

from __future__ import annotations

from functools import lru_cache

from routing.arrays import FloatArray, frozen
from routing.trade_table import named_numbers, trade_table

__all__ = ["limit", "v_notch_table"]


def limit(name: str) -> float:
    """Return one limit of ``data/limits.csv``, in the unit written there."""
    return named_numbers(__file__, "limits.csv")[name]


@lru_cache(maxsize=1)
def v_notch_table() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return angles [deg], coefficients [-] and additions to the head [m] of V notches."""
    rows = trade_table(__file__, "v_notches.csv")
    return (
        frozen([float(row["angle_deg"]) for row in rows]),
        frozen([float(row["coefficient"]) for row in rows]),
        frozen([float(row["head_offset_mm"]) / 1000.0 for row in rows]),
    )
