"""Ground, field and terms on which legs are priced, where a metre of trench or of pipe costs 1."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.arrays import frozen
from routing.search.graph import Field, Terms, field_of
from routing.search.legs import Ground

__all__ = ["CELL_M", "strip", "way"]

CELL_M = 10.0


def strip(
    heights: np.ndarray, shut: np.ndarray | None = None, **told: Any
) -> tuple[Ground, Field, Terms]:
    """Return ground, field and terms of a hillside."""
    high = heights.astype(np.float32)
    shape = high.shape
    closed = np.zeros(shape, np.uint8) if shut is None else shut
    none, ones = np.zeros(shape, np.float32), np.ones(shape, np.float32)
    field = field_of(high, closed, none, ones, np.ones(200))
    terms = Terms(
        **{
            "intake_m": float(heights.max()) + 50.0, "depth_m": 1.0, "trench": 1.0, "bench": 0.0,
            "bench_from": 9.0, "cut": 99.0, "steep_from": 9.0, "steep_factor": 1.0, "vent": 40.0,
            "drain": 30.0, "slack_m": 0.1, "span": 1.0, "longest_m": 0.0, **told,
        }
    )  # fmt: skip
    ground = Ground(
        heights=frozen(high.astype(np.float64)), factor=1.0, south_m=CELL_M, east_m=CELL_M,
        step_m=CELL_M / 2.0, bend=4.0,
    )  # fmt: skip
    return ground, field, terms


def way(row: int, cols: int) -> np.ndarray:
    """Return a straight way along a row, a point in each column."""
    at = np.arange(2.0, cols - 2.0)
    return np.column_stack([np.full(at.size, float(row)), at])
