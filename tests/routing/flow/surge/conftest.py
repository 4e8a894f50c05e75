"""Compiled kernels for the many runs of these tests, and one line of two pipes with a summit."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from known_lines import hump_line

from routing.compiled import prefer_compiled
from routing.flow.surge import uniform_closure
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
    line = hump_line(intake_m=402.0, outlet_m=340.5, water=water_at(12.0))
    return {"line": line, "flow_m3_s": 0.02, "law": uniform_closure(12.0)}
