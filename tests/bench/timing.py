"""How long a piece of work takes at its best."""

from __future__ import annotations

import os
import time
from collections.abc import Callable
from pathlib import Path
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


def tree_seconds() -> float:
    """Return the processor time of this process and of all that it started [s]."""
    below: dict[int, list[tuple[int, int]]] = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            told = stat.read_text().rsplit(")", 1)[1].split()
        except OSError:  # it has ended
            continue
        below.setdefault(int(told[1]), []).append(
            (int(stat.parent.name), int(told[11]) + int(told[12]))
        )
    ticks, todo = 0, list(below.get(os.getpid(), []))
    while todo:
        number, spent_there = todo.pop()
        ticks += spent_there
        todo += below.get(number, [])
    return ticks / os.sysconf("SC_CLK_TCK") + time.process_time()


def both_times(run: Callable[[], Any]) -> tuple[float, float]:
    """Return the time of some work by the clock and of all its processes' processors [s]."""
    clock, processor = time.perf_counter(), tree_seconds()
    run()
    return time.perf_counter() - clock, tree_seconds() - processor
