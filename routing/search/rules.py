"""The numbers that the search goes by, ``data/rules.csv``, by name."""

from __future__ import annotations

from collections.abc import Mapping

from routing.trade_table import named_numbers

__all__ = ["rules"]


def rules() -> Mapping[str, float]:
    """Return all of them, in the units of the table."""
    return named_numbers(__file__, "rules.csv")
