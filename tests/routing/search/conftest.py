"""What the tests of searches share: compiled loops for those that ask, the made valley."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from made_valley import CELL_M, valley

from routing.compiled import prefer_compiled


@pytest.fixture
def compiled() -> Iterator[None]:
    """Have loops compiled for a test, as the service has them."""
    prefer_compiled()
    yield
    prefer_compiled(False)


@pytest.fixture
def raster(make_raster: Callable[..., Path]) -> Path:
    """Return the raster of the made valley."""
    return make_raster(valley(), cell=CELL_M)
