"""A line of two pipes that rises once on its way."""

from __future__ import annotations

import numpy as np
import pytest
from known_lines import known_line

from routing.flow import bend_loss_k
from routing.laid_line import LaidLine
from routing.pipe import load_catalogue
from routing.water import water_at


@pytest.fixture
def line() -> LaidLine:
    """Return two pipes with bends, falling 60 m, with a summit at 700 m."""
    find = load_catalogue().find
    station = np.linspace(0.0, 1200.0, 241)
    k = bend_loss_k(np.array([12.0, 38.0, 61.0])).tolist()
    return known_line(
        station,
        400.0 - 0.05 * station + 14.0 * np.exp(-(((station - 700.0) / 80.0) ** 2)),
        [(0.0, find("PE100-SDR26-225")), (612.5, find("PE100-SDR17-200"))],
        slope_m=1.01 * station,
        bends=dict(zip((40, 90, 200), k, strict=True)),
        intake_m=401.0,
        water=water_at(8.0),
    )
