"""The stations table as CSV."""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping

from routing.papers.document import Document, column

__all__ = ["csv_text"]

DIGITS: Mapping[str, int] = {"lon": 8, "lat": 8, "span": 0, "assumed": 0}
"""Decimals by column; lengths and heads have 4 (a tenth of a millimetre), pressures 3."""


def csv_text(doc: Document) -> str:
    """Return the whole stations table as CSV: SI with the unit in each name, empty where missing.

    Rows end as RFC 4180 says.
    """
    names = list(doc["stations"])
    columns = []
    for name in names:
        digits = DIGITS.get(name, 3 if name.endswith("_kpa") else 4)
        form = f"%.{digits}f"
        values = column(doc, name).tolist()
        columns.append(["" if value != value else form % value for value in values])
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\r\n")
    writer.writerow(names)
    writer.writerows(zip(*columns, strict=True))
    return buffer.getvalue()
