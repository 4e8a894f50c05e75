"""Trade data: CSV files in the ``data`` folder of a room, every row with its source and status."""

from __future__ import annotations

import csv
from collections.abc import Callable, Mapping
from functools import cache
from pathlib import Path
from types import MappingProxyType
from typing import Any, TypeVar

__all__ = [
    "named_numbers",
    "numbers_of",
    "optional_number",
    "pairs_of",
    "rows_of",
    "scaled",
    "trade_table",
]


Numbers = TypeVar("Numbers")
Value = TypeVar("Value")


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


@cache
def pairs_of(module: str, name: str, first: str, second: str) -> tuple[tuple[float, float], ...]:
    """Return two columns of numbers of such a table, row by row."""
    rows = trade_table(module, name)
    return tuple((float(row[first]), float(row[second])) for row in rows)


def rows_of(
    kind: type[Value], module: str, name: str, /, **made: Callable[[Mapping[str, str]], Any]
) -> tuple[Value, ...]:
    """Return the rows of such a table as values, each field read from the column of its name.

    How a cell is read follows from the field's annotation. ``made`` gives fields that are no column
    as they stand, such as those in another unit, from the whole row.
    """
    fields = kind.__annotations__.items()
    read = {field: _CELLS[words] for field, words in fields if field not in made}
    return tuple(
        kind(
            **{field: cell(row[field]) for field, cell in read.items()},
            **{field: make(row) for field, make in made.items()},
        )
        for row in trade_table(module, name)
    )


def scaled(column: str, factor: float) -> Callable[[Mapping[str, str]], float | None]:
    """Return what reads a column's number times a factor, None where the cell is empty.

    >>> scaled("size_mm", 1e-3)({"size_mm": "50"})
    0.05
    """
    return lambda row: float(row[column]) * factor if row[column] else None


def optional_number(text: str) -> float | None:
    """Return the number of a cell, None where it is empty.

    >>> optional_number("")
    """
    return float(text) if text else None


_CELLS: Mapping[str, Callable[[str], Any]] = MappingProxyType(
    {
        "str": str,
        "float": float,
        "float | None": optional_number,
        "bool": lambda text: text == "yes",
        "tuple[str, ...]": lambda text: tuple(word for word in text.split("|") if word),
        "tuple[float, ...]": lambda text: tuple(map(float, text.split("|"))),
    }
)
"""How a cell is read, by the annotation of the field it belongs to."""
