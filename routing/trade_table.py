"""Trade data: CSV files in the ``data`` folder of a room, every row with its source and status."""

from __future__ import annotations

import csv
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import TypeVar

__all__ = ["named_numbers", "numbers_of", "optional_number", "trade_table"]


Numbers = TypeVar("Numbers")


@cache
def trade_table(module: str, name: str) -> tuple[Mapping[str, str], ...]:
    """Return the rows of ``data/name`` beside a module, given by its ``__file__``; read once.

    >>> trade_table(__file__, "bulk_modulus.csv")[0]["temperature_c"]
    '0'
    """
    path = Path(module).parent / "data" / name
    with path.open(newline="", encoding="utf-8") as file:
        return tuple(MappingProxyType(row) for row in csv.DictReader(file))


@cache
def named_numbers(module: str, name: str) -> Mapping[str, float]:
    """Return the column ``value`` of such a table by the column ``name``, in the units there."""
    return MappingProxyType({row["name"]: float(row["value"]) for row in trade_table(module, name)})


def numbers_of(kind: type[Numbers], module: str, name: str) -> Numbers:
    """Return a value each of whose annotated fields is the number of that name in the table."""
    values = named_numbers(module, name)
    return kind(**{field: values[field] for field in kind.__annotations__})


def optional_number(text: str) -> float | None:
    """Return the number of a cell, None where it is empty.

    >>> optional_number("")
    """
    return float(text) if text else None
