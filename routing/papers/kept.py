"""What several papers of one package have in common is made once, for as long as it is made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar
from typing import Any, TypeVar

__all__ = ["keeping", "kept"]

_Made = TypeVar("_Made")
_KEPT: ContextVar[dict[object, Any] | None] = ContextVar("kept", default=None)


@contextmanager
def keeping() -> Iterator[None]:
    """Keep what is made within: only for papers of one document that nobody changes meanwhile."""
    token = _KEPT.set({})
    try:
        yield
    finally:
        _KEPT.reset(token)


def kept(key: object, make: Callable[[], _Made]) -> _Made:
    """Return what was made under a key before, or make it; outside of ``keeping`` always anew.

    >>> with keeping():
    ...     kept("a", lambda: 1), kept("a", lambda: 2)
    (1, 1)
    >>> kept("a", lambda: 3)
    3
    """
    store = _KEPT.get()
    if store is None:
        return make()
    if key not in store:
        store[key] = make()
    made: _Made = store[key]
    return made
