"""The calculation basis: each formula with its symbols, the values used, and its source."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from routing.fittings import sold_inches
from routing.mathematics import typst_math
from routing.papers.document import Document, column, units_of
from routing.papers.report.worked import worked
from routing.papers.study_facts import currency
from routing.papers.subject import quantity
from routing.provenance import equations_of
from routing.trade_table import trade_table
from routing.units import INCH
from routing.us_units import in_system, in_units

__all__ = ["Formula", "Term", "basis", "not_checked", "value_at"]


MONEY = "money"
"""Unit of a symbol that is money: printed in the currency of the prices."""
FIGURES = 4
"""Figures of a printed value: no input of a study is known better [-]."""
DECIMALS = {
    **dict.fromkeys(("intake_level_m", "outlet_level_m", "pipe_m", "ground_m", "invert_m"), 2),
    **dict.fromkeys(("station_m", "from_m"), 1),
    **dict.fromkeys(("entrance", "bends"), 2),
}
"""Decimals of levels and stations, which count from far off, and of K out of rounded heads [-]."""


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
                    holds=in_units(row["holds"], units_of(doc)),
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
        value=_printed(key, value * factor + offset, MONEY if symbol["unit"] == MONEY else unit),
        unit=unit,
        path=symbol["path"].replace("@", ", "),
        result=symbol["result"] == "yes",
        si=value,
    )


def _printed(key: str, value: float, unit: str) -> str:
    """Return a value as an engineer writes it, enough of it to follow each step by hand.

    Levels and stations have decimals, bores in inches are those that are sold, money has its
    cents; all else has four figures. The page raises what stands after ``^``.

    >>> _printed("viscosity_m2_s", 1.42912689e-6, "m²/s"), _printed("bore_mm", 2.559, "in")
    ('1.429 × 10^−6', '2.5')
    >>> _printed("outside_diameter_mm", 7.874, "in")
    '7.87'
    >>> _printed("pipe_m", 243.7254, "m"), _printed("reynolds", 106679.7, "")
    ('243.73', '106700')
    """
    if key in DECIMALS or unit == MONEY:
        shown = f"{value:.{DECIMALS.get(key, 2)}f}"
    elif unit == "in":
        shown = f"{value if 'outside' in key else sold_inches(value * INCH):.3g}"
    else:
        shown = f"{value:.{FIGURES}g}"
    shown, _, power = shown.partition("e")
    if power and 0 <= int(power) < 9:
        shown, power = f"{float(f'{value:.{FIGURES}g}'):.0f}", ""
    return (f"{shown} × 10^{int(power)}" if power else shown).replace("-", "−")
