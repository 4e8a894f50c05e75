"""How numbers are rounded where they leave the code: as the rows say, so that all faces agree."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from routing.document.row import Row, inside, members

__all__ = ["rounded_document"]


def rounded_document(document: Mapping[str, Any]) -> dict[str, Any]:
    """Return a document with every number rounded to its row's decimals; no minus zeros.

    What is not finite becomes None. Columns stay numpy arrays, read anew; members without a row
    and rows without decimals stay as they are.
    """
    return _object(document, members(""))


def _object(table: Mapping[str, Any], rows: Mapping[str, Row]) -> dict[str, Any]:
    return {
        key: value
        if value is None or isinstance(value, str) or (row := rows.get(key)) is None
        else _value(value, row)
        for key, value in table.items()
    }


def _value(value: Any, row: Row) -> Any:
    # Most values are numbers and texts: they are asked first.
    if isinstance(value, float):
        if not math.isfinite(value):
            return None
        return value if row.decimals is None else round(float(value), row.decimals) + 0.0
    if value is None or isinstance(value, str | int):
        return value
    if isinstance(value, np.ndarray):
        return value if row.decimals is None else np.round(value, row.decimals) + 0.0
    if isinstance(value, Mapping):
        return _object(value, members(inside(row)))
    if isinstance(value, list | tuple):
        if value and all(isinstance(item, dict) for item in value):
            rows = members(inside(row))
            return [_object(item, rows) for item in value]
        return [_value(item, row) for item in value]
    return value
