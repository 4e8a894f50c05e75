"""Tables in text, as spreadsheets and field books write them: any delimiter, comma or point."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from routing.errors import InputError, RouteError
from routing.value import dataclass

__all__ = ["Table", "decode_text", "find_column", "read_number", "read_table"]

MAX_ROWS: Final = 1_100_000
MAX_CELLS: Final = 3_300_000
MAX_LINE: Final = 10_000
"""Most rows, cells, and letters in a line, of a table [-]."""

DELIMITERS: Final = ("\t", ";", ",", "|")
_UNIT_IN_NAME: Final = re.compile(r"[\s_]*[\[(]\s*([^\])]*?)\s*[\])]\s*$|_(m|ft)$", re.IGNORECASE)


@dataclass(frozen=True, slots=True, kw_only=True)
class Table:
    """Rows of text under lower-case column names; ``units`` are those that headings state."""

    columns: tuple[str, ...]
    units: Mapping[str, str]
    rows: tuple[tuple[str, ...], ...]
    first_line: int
    decimal_comma: bool


def decode_text(data: bytes, *, source: str) -> str:
    """Return text in UTF-8, UTF-16 with its mark, or else in the old Western encoding."""
    try:
        if data.startswith((b"\xff\xfe", b"\xfe\xff")):
            return data.decode("utf-16")
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        if b"\x00" in data:
            raise RouteError(f"{source} is no text.", "Save it as text in UTF-8.") from None
        return data.decode("cp1252", "replace")


def read_table(text: str, *, source: str) -> Table:
    """Return the table that begins at the first line that is neither empty nor a # remark."""
    if text.count("\n") + text.count("\r") > 2 * MAX_ROWS:
        raise _too_large(source, f"more than {MAX_ROWS} rows")
    lines = text.splitlines()
    if max(map(len, lines), default=0) > MAX_LINE:
        raise _too_large(source, f"a line of more than {MAX_LINE} letters")
    first = next((i for i, line in enumerate(lines) if _counts(line)), None)
    if first is None:
        raise InputError(f"{source} is empty.", "Give a table with a line of column names.")
    heading = lines[first]
    delimiter = max(DELIMITERS, key=heading.count)
    if not heading.count(delimiter):
        delimiter = ","
    if text.count(delimiter) > MAX_CELLS:
        raise _too_large(source, f"more than {MAX_CELLS} cells")
    rows = tuple(_split(lines[first:], delimiter, source))
    columns, units = _names(rows[0])
    return Table(
        columns=columns,
        units=units,
        rows=rows[1:],
        first_line=first + 2,
        # Where ; or a tab parts the columns, a comma can only be a decimal one.
        decimal_comma=delimiter != ",",
    )


def find_column(table: Table, names: Sequence[str]) -> int | None:
    """Return where the first column of one of these names stands, or None."""
    for name in names:
        if name in table.columns:
            return table.columns.index(name)
    return None


def read_number(text: str, *, decimal_comma: bool) -> float:
    """Return the number in a cell; raises ValueError.

    >>> read_number("412,6", decimal_comma=True)
    412.6
    """
    text = text.strip()
    if decimal_comma and text.count(",") == 1 and "." not in text:
        text = text.replace(",", ".")
    if "_" in text:
        raise ValueError(f"{text!r} is no number")
    return float(text)


def _too_large(source: str, what: str) -> InputError:
    """Return the error for a table beyond the limits."""
    return InputError(f"{source} has {what}.", "Keep the rows and columns that are needed.")


def _counts(line: str) -> bool:
    return bool(line.strip()) and not line.lstrip().startswith("#")


def _split(lines: Sequence[str], delimiter: str, source: str) -> Iterator[tuple[str, ...]]:
    """Yield the cells of each line that counts; lines keep their place by empty rows."""
    reader = csv.reader(io.StringIO("\n".join(lines)), delimiter=delimiter, strict=False)
    try:
        for count, row in enumerate(reader):
            if count > MAX_ROWS:
                raise _too_large(source, f"more than {MAX_ROWS} rows")
            remark = bool(row) and row[0].lstrip().startswith("#")
            yield () if remark else tuple(cell.strip() for cell in row)
    except csv.Error as error:
        raise InputError(
            f"{source} is no sound table: {error}.", "Save it as CSV with one row to a line."
        ) from error


def _names(cells: Sequence[str]) -> tuple[tuple[str, ...], dict[str, str]]:
    """Return lower-case column names without their units, and the units."""
    names, units = [], {}
    for cell in cells:
        match = _UNIT_IN_NAME.search(cell)
        name = (cell[: match.start()] if match else cell).strip().lower().replace(" ", "_")
        if match:
            units[name] = str(match.group(1) or match.group(2)).strip()
        names.append(name)
    return tuple(names), units
