"""Values from outside the project, as records: source, inputs, what must come out, and how near.

A reference test is a table of such records; the id of each case is its source and its inputs::

    test_bend_loss_k__table = published(
        table("Tables B-6, B-7", [(15, 0.05), (30, 0.10)], gives(bend_loss_k, rel=1e-15))
    )
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

import pytest


class Outcome(NamedTuple):
    """What works a value out from the inputs, and how near it must come to the expected one."""

    formula: Callable[..., Any]
    abs: float | None
    rel: float | None


class Record(NamedTuple):
    """One value: who says so, of what, which, and to which tolerance."""

    source: str
    inputs: tuple[Any, ...]
    expected: Any
    outcome: Outcome

    def __str__(self) -> str:
        words = (f"{each:g}" if isinstance(each, float) else str(each) for each in self.inputs)
        return f"{self.source}: {' '.join(words)}" if self.inputs else self.source

    def check(self) -> None:
        """Work the value out and compare it."""
        found = self.outcome.formula(*self.inputs)
        if isinstance(self.expected, str | bool) or self.expected is None:
            assert found == self.expected, f"{found!r} is not {self.expected!r}: {self}"
            return
        near = pytest.approx(self.expected, abs=self.outcome.abs, rel=self.outcome.rel)
        assert found == near, f"{found!r} is not {near!r}: {self}"


def gives(formula: Callable[..., Any], *, abs: float | None = None, rel: float | None = None):
    """Return an outcome; without a tolerance the value must agree to a part in a million."""
    return Outcome(formula, abs, rel)


def table(source: str, rows: Iterable[Sequence[Any]], *outcomes: Outcome) -> list[Record]:
    """Return records from rows of inputs and, last, one value for each outcome; ... leaves out."""
    found = []
    for row in rows:
        inputs, values = tuple(row[: -len(outcomes)]), row[-len(outcomes) :]
        found += [
            Record(source, inputs, value, outcome)
            for value, outcome in zip(values, outcomes, strict=True)
            if value is not ...
        ]
    return found


def value(source: str, expected: Any, formula: Callable[[], Any], **near: float) -> list[Record]:
    """Return the record of one worked value."""
    return [Record(source, (), expected, gives(formula, **near))]


def published(*tables: list[Record]) -> Callable[[Record], None]:
    """Return the test that checks every record of some tables, each a case of its own."""
    records = [record for each in tables for record in each]

    @pytest.mark.parametrize("record", records, ids=str)
    def test(record: Record) -> None:
        record.check()

    return test
