"""A made valley whose best reach for a plant is known, and settings to screen it."""

from __future__ import annotations

from typing import Any

import numpy as np

from routing.settings import Settings, settings_from_mapping

__all__ = ["CELL_M", "told", "valley"]

ROWS, COLS, CELL_M = 60, 90, 10.0


def valley() -> np.ndarray:
    """A V of a valley that falls to the east, steeper in its middle third."""
    x = np.arange(COLS)[None, :] * CELL_M
    y = (np.arange(ROWS)[:, None] - 30.0) * CELL_M
    fall = 0.04 * x + 0.12 * np.clip(x - 300.0, 0.0, 300.0)
    return 500.0 - fall + 0.25 * np.abs(y)


def told(**tables: Any) -> Settings:
    """Return settings of a screening, with these tables over them."""
    screen = {"least_head": "8 m", "top": 0, "sample": 8, **tables.pop("screen", {})}
    return settings_from_mapping(
        {
            "catchment": {"threshold": "0.03 km2", "specific_yield": "100 L/s/km2"},
            "screen": screen,
            **tables,
        }
    )
