"""Compiled kernels for the many runs of these tests, and one line of two pipes with a summit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
from known_lines import known_line

from routing.compiled import prefer_compiled
from routing.flow import bend_loss_k
from routing.flow.surge import uniform_closure
from routing.pipe import load_catalogue
from routing.water import water_at


@pytest.fixture(autouse=True)
def compiled() -> Iterator[None]:
    """Compile whatever the size of the work, and leave no trace of it."""
    prefer_compiled()
    yield
    prefer_compiled(False)


@pytest.fixture
def hill() -> dict[str, Any]:
    """Return a real profile: two PE pipes, bends, a summit at 700 m; 20 L/s over 60 m of fall."""
    find = load_catalogue().find
    station = np.linspace(0.0, 1200.0, 241)
    k = bend_loss_k(np.array([12.0, 38.0, 61.0])).tolist()
    line = known_line(
        station,
        400.0 - 0.05 * station + 14.0 * np.exp(-(((station - 700.0) / 80.0) ** 2)),
        [(0.0, find("PE100-SDR26-225")), (612.5, find("PE100-SDR17-200"))],
        slope_m=1.01 * station,
        bends=dict(zip((40, 90, 200), k, strict=True)),
        intake_m=402.0,
        outlet_m=340.5,
        water=water_at(12.0),
    )
    return {"line": line, "flow_m3_s": 0.02, "law": uniform_closure(12.0)}
