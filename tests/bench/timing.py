"""How long a piece of work takes at its best."""

from __future__ import annotations

import time
from collections.abc import Callable
from typing import Any


def timed(
    function: Callable[..., Any],
    *arguments: Any,
    repeat: int,
    clock: Callable[[], float] = time.perf_counter,
) -> tuple[float, Any]:
    """Return the shortest of several runs [s], and the last answer."""
    shortest, answer = float("inf"), None
    for _ in range(repeat):
        start = clock()
        answer = function(*arguments)
        shortest = min(shortest, clock() - start)
    return shortest, answer


def best(work: Callable[[], Any], times: int = 5) -> float:
    """Return the shortest of several runs [s]."""
    return timed(work, repeat=times)[0]


def spent(work: Callable[[], Any], times: int) -> float:
    """Return the least processor time of several runs [s]."""
    return timed(work, repeat=times, clock=time.process_time)[0]
