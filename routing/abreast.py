"""Several pieces of work at a time: by this process and copies of it, where it can be copied.

What a copy needs is in its memory already, compiled loops too, so that it begins at once; what it
found comes back through a pipe.
"""

from __future__ import annotations

import gc
import os
import pickle
import sys
import threading
import warnings
from collections.abc import Callable
from typing import Any, TypeVar

__all__ = ["WAITS", "abreast", "idle_cores"]

R = TypeVar("R")

WAITS = "leatline-waits"
"""Name of a thread that only waits, so that a process with it can be copied."""
MOST_PIECES = 256
"""Most pieces of work at a time: each is one byte in a pipe [-]."""


def idle_cores() -> int:
    """Return how many copies of this process have a core each, besides its own [-]."""
    if sys.platform != "linux" or any(
        each is not threading.current_thread() and each.name != WAITS
        for each in threading.enumerate()
    ):
        return 0  # a lock held by another thread would be held in the copy for ever
    return len(os.sched_getaffinity(0)) - 1


def abreast(
    work: Callable[[int], R],
    pieces: int,
    copies: int = 0,
    begun: Callable[[int], None] = lambda _: None,
) -> list[R]:
    """Return ``work(0)``, ``work(1)`` and so on.

    Parameters
    ----------
    work : callable
        Does the piece of a number; what it returns must pickle
    pieces : int
        How many there are, at most 256 [-]
    copies : int
        Copies of this process that help, as many as there are cores for them [-]
    begun : callable
        Is told which piece this process begins

    Returns
    -------
    list
        Results in order, the same whoever did the work; an error in a copy is raised here, after
        the piece was done again
    """
    copies = min(copies, idle_cores(), pieces - 1)
    if copies < 1 or pieces > MOST_PIECES:
        found = []
        for piece in range(pieces):
            begun(piece)
            found.append(work(piece))
        return found
    tickets, filled = os.pipe()
    os.write(filled, bytes(range(pieces)))
    os.close(filled)
    helpers = [_copy(work, tickets) for _ in range(copies)]
    done: dict[int, R] = {}
    try:
        _draw(work, tickets, done, begun)
        for answer, _, _ in helpers:
            with os.fdopen(answer, "rb", closefd=False) as stream:
                said = stream.read()
            done |= pickle.loads(said) if said else {}
    finally:
        for answer, alive, helper in helpers:
            os.close(answer)
            os.close(alive)  # a copy that is still at work ends
            os.waitpid(helper, 0)
        os.close(tickets)
    # What a copy could not do fails here again, in plain sight.
    return [done[piece] if piece in done else work(piece) for piece in range(pieces)]


def _draw(
    work: Callable[[int], R], tickets: int, done: dict[int, R], begun: Callable[[int], None]
) -> None:
    """Do pieces as long as there are any that nobody has begun."""
    while ticket := os.read(tickets, 1):
        begun(ticket[0])
        done[ticket[0]] = work(ticket[0])


def _copy(work: Callable[[int], Any], tickets: int) -> tuple[int, int, int]:
    """Return where a new copy answers, what keeps it alive, and its number."""
    answer, said = os.pipe()
    waits, alive = os.pipe()
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)  # the other threads only wait
        helper = os.fork()
    if helper:
        os.close(said)
        os.close(waits)
        return answer, alive, helper
    try:
        gc.freeze()  # looking through what both have would copy it
        os.close(alive)
        threading.Thread(target=_end_with, args=(waits,), daemon=True).start()
        done: dict[int, Any] = {}
        try:
            _draw(work, tickets, done, lambda _: None)
        finally:
            with os.fdopen(said, "wb") as stream:
                stream.write(pickle.dumps(done))
    finally:
        os._exit(0)


def _end_with(waits: int) -> None:
    """End this copy when the process that made it has closed its end, or has ended."""
    os.read(waits, 1)
    os._exit(1)
