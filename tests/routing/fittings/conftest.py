"""Made lines for the tests of vents, drains and trapped air."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from made_line import Job, Made, made_job, made_line


@pytest.fixture(scope="session")
def line() -> Callable[..., Made]:
    """A maker of laid pipes: stations, elevations and whatever differs from the plain case."""
    return made_line


@pytest.fixture(scope="session")
def sizing_of() -> Callable[..., Job]:
    """A maker of sizing inputs from a laid pipe."""
    return made_job
