"""A hillside that is a plane, so that every level on it is known."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from plane_hill import FALL, ORIGIN, place

from routing.line import Route
from routing.terrain import Terrain, open_terrain


@pytest.fixture
def hill(make_raster: Callable[..., Path]) -> Terrain:
    x = (np.arange(60) + 0.5) * 10.0
    heights = np.tile(400.0 - FALL * x, (30, 1))
    return open_terrain(
        [make_raster(heights, unit="m", dtype="float64", origin=ORIGIN)], rmse_m=0.5
    )


@pytest.fixture
def line() -> Route:
    """Return a line of about 500 m straight down the hill."""
    ends = [place(50.0, 150.0), place(300.0, 150.0), place(550.0, 150.0)]
    return Route(name="Skarn", lon=[lon for lon, _ in ends], lat=[lat for _, lat in ends])
