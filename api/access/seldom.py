"""How often something is taken within a while: of one sender, and of all of them together."""

from __future__ import annotations

import threading
from collections import Counter
from time import monotonic

__all__ = ["Seldom"]


class Seldom:
    """Counts by sender, which begin anew after ``seconds``; safe for threads."""

    def __init__(self, *, each: int, in_all: int, seconds: float) -> None:
        self._each, self._in_all, self._seconds = each, in_all, seconds
        self._lock = threading.Lock()
        self._counts: Counter[str] = Counter()
        self._begun = monotonic()
        self._left_out = 0

    def full(self, who: str) -> bool:
        """Return whether no more of a sender is taken for now."""
        with self._lock:
            if monotonic() - self._begun >= self._seconds:
                self._begun = monotonic()
                self._counts.clear()
            return self._counts[who] >= self._each or self._counts.total() >= self._in_all

    def count(self, who: str) -> None:
        """Count one of a sender."""
        with self._lock:
            self._counts[who] += 1

    def taken(self, who: str) -> int | None:
        """Count one more; return how many were left out before it, None if it is left out too."""
        full = self.full(who)
        with self._lock:
            if full:
                self._left_out += 1
                return None
            self._counts[who] += 1
            left_out, self._left_out = self._left_out, 0
            return left_out
