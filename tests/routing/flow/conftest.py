"""A line of two pipes that rises once on its way."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest

from routing.flow import bend_loss_k
from routing.pipe import load_catalogue, schedule_pipes
from routing.water import water_at


@pytest.fixture
def line() -> dict[str, Any]:
    """Return everything that steady_flow takes, but for flow, levels and pipe."""
    find = load_catalogue().find
    station = np.linspace(0.0, 1200.0, 241)
    return {
        "entrance_k": 0.5,
        "station_m": station,
        "slope_station_m": 1.01 * station,
        "schedule": schedule_pipes(
            [(0.0, find("PE100-SDR26-225")), (612.5, find("PE100-SDR17-200"))], 1200.0
        ),
        "water": water_at(8.0),
        "bend_index": np.array([40, 90, 200]),
        "bend_k": bend_loss_k(np.array([12.0, 38.0, 61.0])),
    }


@pytest.fixture
def pipe_m() -> np.ndarray:
    """Return the centreline: falling 60 m, with a summit at 700 m."""
    station = np.linspace(0.0, 1200.0, 241)
    return 400.0 - 0.05 * station + 14.0 * np.exp(-(((station - 700.0) / 80.0) ** 2))
