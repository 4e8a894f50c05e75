"""How long a piece of work takes at its best."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any


def timed(function: Callable[..., Any], *arguments: Any, repeat: int) -> tuple[float, Any]:
    """Return the shortest of several runs [s], and the last answer."""
    shortest, answer = float("inf"), None
    for _ in range(repeat):
        start = time.perf_counter()
        answer = function(*arguments)
        shortest = min(shortest, time.perf_counter() - start)
    return shortest, answer


def best(work: Callable[[], Any], times: int = 5) -> float:
    """Return the shortest of several runs [s]."""
    return timed(work, repeat=times)[0]
