"""What a test wants of the machine: without it skipped, and failed where ``CI`` is set."""

from __future__ import annotations

import os
from typing import NoReturn

import pytest

__all__ = ["missing"]


def missing(what: str) -> NoReturn:
    """Skip the test and say why, but fail it in continuous integration."""
    if os.environ.get("CI"):
        pytest.fail(f"{what} is missing, and continuous integration must not skip its tests.")
    pytest.skip(f"{what} is missing, so this was not tried.")
