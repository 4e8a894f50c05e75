"""The one table of who may do what: ``data/operations.csv``, a row for each operation.

An operation without a row is nobody's. The column ``lane`` names the queue of heavy
work, ``keeps`` says whether something is written that needs room.
"""

from __future__ import annotations

import re
from functools import cache

from starlette.routing import compile_path

from api.access.person import ANYONE, Person
from routing.trade_table import trade_table
from routing.value import dataclass

__all__ = ["Operation", "methods_of", "operation_of", "operations", "operations_at"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Operation:
    """One method of one address, the roles that may use it, and the lane it waits in."""

    method: str
    path: str
    who: frozenset[str]
    lane: str
    keeps: bool
    pattern: re.Pattern[str]

    @property
    def asks(self) -> bool:
        """Whether it changes nothing, though it takes a body: it computes and keeps nothing."""
        return self.method == "POST" and bool(self.lane) and not self.keeps

    def allows(self, person: Person | None) -> bool:
        """Whether a person may; None: somebody who has not said who he is."""
        return ANYONE in self.who or (person is not None and person.role in self.who)


@cache
def operations() -> tuple[Operation, ...]:
    """Return all rows; addresses with fewer parts that vary stand first, as they win."""
    rows = [
        Operation(
            method=row["method"],
            path=row["path"],
            who=frozenset(row["who"].split()),
            lane=row["lane"],
            keeps=row["keeps"] == "yes",
            pattern=compile_path(row["path"])[0],
        )
        for row in trade_table(__file__, "operations.csv")
    ]
    return tuple(sorted(rows, key=lambda row: row.path.count("{")))


@cache
def _by_method(method: str) -> tuple[Operation, ...]:
    return tuple(row for row in operations() if row.method == method)


def operation_of(method: str, path: str) -> Operation | None:
    """Return the row of a request, None if it has none.

    >>> operation_of("GET", "/api/health").path
    '/api/health'
    """
    wanted = "GET" if method == "HEAD" else method
    return next((row for row in _by_method(wanted) if row.pattern.match(path)), None)


def operations_at(path: str) -> tuple[Operation, ...]:
    """Return the rows of an address, whatever their methods."""
    return tuple(row for row in operations() if row.pattern.match(path))


def methods_of(path: str) -> tuple[str, ...]:
    """Return the methods that an address has.

    >>> methods_of("/api/health")
    ('GET', 'HEAD')
    """
    found = {row.method for row in operations_at(path)}
    return tuple(sorted(found | ({"HEAD"} if "GET" in found else set())))
