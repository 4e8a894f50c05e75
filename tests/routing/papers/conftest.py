"""Fixtures of the papers' tests; the makers themselves stand in ``made_study``."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from made_study import as_read_from_disk, made_document, made_relief

from routing.terrain import Relief


@pytest.fixture
def document() -> Callable[..., dict[str, Any]]:
    """Return the maker of study documents."""
    return made_document


@pytest.fixture
def relief() -> Callable[[dict[str, Any]], Relief]:
    """Return the maker of reliefs."""
    return made_relief


@pytest.fixture
def from_disk() -> Callable[[Any], Any]:
    """Return what a document looks like once written and read."""
    return as_read_from_disk
