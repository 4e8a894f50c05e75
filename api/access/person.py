"""Who stands behind a request."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from contextvars import ContextVar

from routing.value import dataclass

__all__ = ["ANYONE", "LINK_ROLES", "OPEN", "ROLES", "Person", "acting", "acts"]

ROLES = ("planner", "crew", "client")
"""What a person may be: one who plans, one who digs, one who looks."""
LINK_ROLES = {"crew": "crew-link", "client": "client-link"}
"""What somebody may be who holds no more than a link to one study."""
ANYONE = "anyone"


@dataclass(frozen=True, slots=True, kw_only=True)
class Person:
    """A person or the holder of a link; ``study`` is the only study that a link opens."""

    name: str
    role: str
    token: str = ""
    study: str | None = None


OPEN = Person(name="", role="planner")
"""Whoever comes where no access is kept: the service is one person's own."""

_acting: ContextVar[Person] = ContextVar("leatline_acting", default=OPEN)


def acting() -> Person:
    """Return who the work at hand is done for."""
    return _acting.get()


@contextmanager
def acts(person: Person) -> Iterator[None]:
    """Let the block be done for a person, in this task and the threads it asks."""
    before = _acting.set(person)
    try:
        yield
    finally:
        _acting.reset(before)
