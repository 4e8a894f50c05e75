"""The numbers of the trade for intakes, from ``data/``."""

from __future__ import annotations

import csv
from functools import lru_cache
from pathlib import Path

from routing.arrays import FloatArray, frozen

__all__ = ["limit", "v_notch_table"]

DATA = Path(__file__).parent / "data"


@lru_cache(maxsize=1)
def _limits() -> dict[str, float]:
    with (DATA / "limits.csv").open(newline="", encoding="utf-8") as file:
        return {row["name"]: float(row["value"]) for row in csv.DictReader(file)}


def limit(name: str) -> float:
    """Return one limit of ``data/limits.csv``, in the unit written there."""
    return _limits()[name]


@lru_cache(maxsize=1)
def v_notch_table() -> tuple[FloatArray, FloatArray, FloatArray]:
    """Return angles [deg], coefficients [-] and additions to the head [m] of V notches."""
    with (DATA / "v_notches.csv").open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return (
        frozen([float(row["angle_deg"]) for row in rows]),
        frozen([float(row["coefficient"]) for row in rows]),
        frozen([float(row["head_offset_mm"]) / 1000.0 for row in rows]),
    )
