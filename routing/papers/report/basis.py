"""The calculation basis: each formula with its symbols, the values used, and its source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from routing.mathematics import typst_math
from routing.papers.document import Document, column, units_of
from routing.papers.report.worked import worked
from routing.papers.study_facts import currency
from routing.papers.subject import quantity
from routing.provenance import equations_of
from routing.trade_table import trade_table
from routing.units import in_system

__all__ = ["Formula", "Term", "basis", "not_checked", "value_at"]


MONEY = "money"
"""Unit of a symbol that is money: printed in the currency of the prices."""


class Term(NamedTuple):
    """A symbol of a formula with its value in the study's units; ``si`` is the document's own."""

    symbol: str
    meaning: str
    value: str
    unit: str
    path: str
    result: bool
    si: float


class Formula(NamedTuple):
    """A formula as the report prints it."""

    id: str
    chapter: str
    title: str
    math: str
    holds: str
    source: str
    status: str
    terms: list[Term]


def basis(doc: Document) -> list[Formula]:
    """Return the formulas whose results the study holds, in the order of the work.

    Each is worked with the study's own values; where the tables hold many of a kind, with one.
    """
    found, given = [], {**doc, "worked": worked(doc)}
    for row in trade_table(__file__, "formulas.csv"):
        terms = []
        for symbol in trade_table(__file__, "symbols.csv"):
            if symbol["formula"] != row["id"]:
                continue
            value = value_at(given, symbol["path"])
            if value is not None:
                terms.append(_term(doc, symbol, value))
        if any(term.result for term in terms):
            found.append(
                Formula(
                    id=row["id"],
                    chapter=row["chapter"],
                    title=row["title"],
                    math=typst_math(_latex(row)),
                    holds=row["holds"],
                    source=row["source"],
                    status=row["status"],
                    terms=terms,
                )
            )
    return found


def _latex(row: Mapping[str, str]) -> str:
    """Return a formula from the function that works it out, or the row's own definition."""
    if not row["function"]:
        return row["equation"]
    return equations_of(row["function"])[int(row["equation"])]


def not_checked() -> list[str]:
    """Return what no study checks."""
    return [row["text"] for row in trade_table(__file__, "not_checked.csv")]


def value_at(doc: Document, path: str) -> float | None:
    """Return the number at a path such as ``summary.gross_head_m``; None if there is none.

    ``@first``, ``@last`` and ``@deepest`` (highest static pressure) choose a row of a table.

    >>> value_at({"summary": {"gross_head_m": 65.2}}, "summary.gross_head_m")
    65.2
    """
    keys, _, row = path.partition("@")
    *parts, name = keys.split(".")
    table: Any = doc
    for part in parts:
        table = table.get(part) if isinstance(table, Mapping) else None
    if parts == ["stations"]:
        values = column(doc, name)
        index = {"first": 0, "last": -1}.get(row)
        if index is None:
            index = int(np.nanargmax(column(doc, "static_pressure_kpa")))
        value: Any = float(values[index])
    elif isinstance(table, list | tuple):
        value = table[-1 if row == "last" else 0].get(name) if table else None
    else:
        value = table.get(name) if isinstance(table, Mapping) else None
    if value is None or isinstance(value, str) or not math.isfinite(value):
        return None
    return float(value)


def _term(doc: Document, symbol: Mapping[str, str], value: float) -> Term:
    key = symbol["path"].partition("@")[0].rpartition(".")[2]
    _, unit, factor, offset, _ = quantity(key, units_of(doc))
    if symbol["unit"] == MONEY:
        unit = currency(doc)
    elif symbol["unit"]:
        unit, factor = in_system(symbol["unit"], units_of(doc))
    return Term(
        symbol=typst_math(symbol["symbol"]) if symbol["symbol"] else "",
        meaning=symbol["meaning"],
        value=_figures(value * factor + offset),
        unit=unit,
        path=symbol["path"].replace("@", ", "),
        result=symbol["result"] == "yes",
        si=value,
    )


def _figures(value: float) -> str:
    """Return a value with six figures, which is enough to follow any step by hand.

    The page raises what stands after ``^``.

    >>> _figures(1.42912689e-6), _figures(-0.5)
    ('1.42913 × 10^−6', '−0.5')
    """
    shown, _, power = f"{value:.6g}".partition("e")
    return (f"{shown} × 10^{int(power)}" if power else shown).replace("-", "−")
