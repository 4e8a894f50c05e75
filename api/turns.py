"""Turns at heavy work: so many at a time, a bounded queue, and no client ahead of all others.

Whoever waits has a time by which it should be its turn: when it came, plus ten times what its work
is likely to take, times how many of the same client wait before it. The earliest goes first. So a
short piece of work passes long ones, a client with many waits behind one with few, and nothing
waits for ever, as everything that comes later has a later time.
"""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from dataclasses import dataclass, field

from api.errors import Busy

__all__ = ["Turns"]

PATIENCE = 10.0
"""How often its own length a piece of work waits before longer ones that came earlier [-]."""


@dataclass(slots=True, eq=False)
class _Waiting:
    client: str
    due: float
    turn: asyncio.Future[None] = field(default_factory=lambda: asyncio.Future())


class Turns:
    """One kind of work: how many at a time, and how many may wait, of one client and in all."""

    def __init__(self, *, at_once: int, each: int, in_all: int, newest: bool = False) -> None:
        self._free = at_once
        self._each, self._in_all, self._newest = each, in_all, newest
        self._waiting: list[_Waiting] = []

    @property
    def waiting(self) -> int:
        """How many wait."""
        return len(self._waiting)

    @asynccontextmanager
    async def turn(self, client: str, seconds: float) -> AsyncIterator[None]:
        """Wait for the turn at work that is likely to take so long; the block has it."""
        await self.take(client, seconds)
        try:
            yield
        finally:
            self.leave()

    async def take(self, client: str, seconds: float) -> None:
        """Wait for the turn; whoever has it must :meth:`leave`."""
        if self._free > 0:
            self._free -= 1
            return
        own = self._make_room(client)
        now = asyncio.get_running_loop().time()
        place = _Waiting(client, now + PATIENCE * seconds * (1 + own))
        self._waiting.append(place)
        try:
            await place.turn
        except BaseException:
            if place in self._waiting:
                self._waiting.remove(place)
            elif place.turn.done() and not place.turn.cancelled() and not place.turn.exception():
                self.leave()  # the turn had come already
            raise

    def leave(self) -> None:
        """Give the turn to whoever is due first."""
        self._free += 1
        if self._waiting:
            first = min(self._waiting, key=lambda place: place.due)
            self._waiting.remove(first)
            self._free -= 1
            first.turn.set_result(None)

    def _make_room(self, client: str) -> int:
        """Return how many of a client wait, once there is room for one more."""
        own = [place for place in self._waiting if place.client == client]
        if len(own) >= self._each and self._newest:
            oldest = own.pop(0)
            self._waiting.remove(oldest)
            oldest.turn.set_exception(_busy("Newer requests of yours came in meanwhile."))
        if len(own) >= self._each or len(self._waiting) >= self._in_all:
            raise _busy(f"{len(self._waiting)} requests wait already, as many as are allowed.")
        return len(own)


def _busy(problem: str) -> Busy:
    return Busy(problem, "Ask again in a few seconds.")
