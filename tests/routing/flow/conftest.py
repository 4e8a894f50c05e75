"""A line of two pipes that rises once on its way."""

from __future__ import annotations

import pytest
from known_lines import hump_line

from routing.laid_line import LaidLine
from routing.water import water_at


@pytest.fixture
def line() -> LaidLine:
    """Return two pipes with bends, falling 60 m, with a summit at 700 m."""
    return hump_line(intake_m=401.0, water=water_at(8.0))
