"""A stream's record of daily flows, from a table beside the settings file or in the settings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Final

from routing.errors import InputError, QuantityError, SettingsError
from routing.line.files.table import decode_text, read_number, read_table
from routing.settings.readers import Reader, quantity, text
from routing.units import parse_quantity

__all__ = ["RECORD", "read_record", "record"]

MAX_DAYS: Final = 100_000
"""Most days of a record [-]; a longer one holds more than one reading a day."""
MAX_BYTES: Final = 10_000_000
"""Largest file of a record [bytes]."""
FLOW_NAMES: Final = ("flow", "discharge", "mean_flow", "daily_flow", "q")
UNIT_ENDINGS: Final[Mapping[str, str]] = {"_m3_s": "m3/s", "_l_s": "L/s", "_cfs": "cfs"}
"""How a column's name may end to state its unit."""
REMEDY: Final = 'Give a CSV with a column such as "flow [L/s]", a row for each day.'


def read_record(path: Path, *, unit: str | None = None) -> tuple[float, ...]:
    """Return the daily flows of a table.

    Parameters
    ----------
    path : Path
        CSV with a column flow (or discharge), one row for each day; empty where nothing was read
    unit : str, optional
        Unit of the column, over what its heading states

    Returns
    -------
    flows : tuple of float
        One for each row, NaN for a day without reading [m3/s]

    Raises
    ------
    InputError
        If the file cannot be read, has no such column, or its unit is nowhere stated.
    """
    source = f"The record {path}"
    try:
        if path.stat().st_size > MAX_BYTES:
            raise InputError(f"{source} is larger than {MAX_BYTES} bytes.", REMEDY)
        data = path.read_bytes()
    except OSError as exc:
        raise InputError(
            f"{source} cannot be read: {exc.strerror}.", "Check its name and place."
        ) from exc
    table = read_table(decode_text(data, source=source), source=source)
    found, stated = _flow_column(table.columns), None
    if found is None:
        raise InputError(f"{source} has no column of flows.", REMEDY)
    column, stated = found
    wanted = unit or table.units.get(table.columns[column]) or stated
    if wanted is None:
        raise InputError(
            f"{source} does not state the unit of its flows.",
            'Write it in the heading, as in "flow [L/s]", or as energy.unit.',
        )
    factor = _factor(wanted, f"{source}: unit")
    flows = []
    for number, row in enumerate(table.rows, start=table.first_line):
        cell = row[column].strip() if column < len(row) else ""
        if not any(row) and not cell:
            continue
        try:
            flow = read_number(cell, decimal_comma=table.decimal_comma) if cell else math.nan
        except ValueError as exc:
            raise InputError(
                f"{source}, line {number}: {cell[:40]!r} is no flow.",
                "Leave the cell empty for a day without reading.",
            ) from exc
        flows.append(flow * factor)
    return _checked(flows, source)


def _flow_column(columns: Sequence[str]) -> tuple[int, str | None] | None:
    plain = [_plain(name) for name in columns]
    for wanted in FLOW_NAMES:
        for index, (name, unit) in enumerate(plain):
            if name == wanted:
                return index, unit
    return None


def _plain(name: str) -> tuple[str, str | None]:
    """Return a column's name without its unit, and the unit."""
    for ending, unit in UNIT_ENDINGS.items():
        if name.endswith(ending):
            return name.removesuffix(ending), unit
    return name, None


def _factor(unit: object, name: str) -> float:
    """Return what one of a unit of flow is [m3/s]."""
    try:
        return parse_quantity(f"1 {text()(unit, name)}", "flow", name=name)
    except QuantityError as exc:
        raise InputError(
            f"{name} = {unit!r} is no unit of flow.", 'Give "L/s", "m3/s", "cfs" or "gpm".'
        ) from exc


def _checked(flows: Sequence[float], source: str) -> tuple[float, ...]:
    if len(flows) > MAX_DAYS:
        raise InputError(
            f"{source} holds {len(flows)} rows; {MAX_DAYS} are read.",
            "Give the mean flow of each day, one row a day.",
        )
    for number, flow in enumerate(flows, start=1):
        if math.isinf(flow) or flow < 0.0:
            raise InputError(
                f"{source}: flow {number} is {flow:g} m3/s.",
                "Give flows of zero or more, and nothing for a day without reading.",
            )
    return tuple(flows)


def record(value: object, name: str) -> tuple[float, ...]:
    """Return daily flows [m3/s] from a list of texts, or from one unit with a list of numbers.

    >>> record({"unit": "L/s", "flows": [40.0, None]}, "energy.record")
    (0.04, nan)
    """
    if isinstance(value, str):
        raise SettingsError(
            f"{name} = {value[:80]!r} names a file, which only a settings file may.",
            'Give the flows in place, as {"unit": "L/s", "flows": [41.0, 39.5]}.',
        )
    if isinstance(value, list):
        read = quantity("flow", "0 L/s", "10000 m3/s")
        return _checked([read(item, f"{name}[{i}]") for i, item in enumerate(value)], name)
    if not isinstance(value, Mapping) or set(value) != {"unit", "flows"}:
        raise SettingsError(
            f"{name} is no record of flows.",
            'Give a file, such as "beck.csv", or {"unit": "L/s", "flows": [41.0, 39.5]}.',
        )
    factor, flows = _factor(value["unit"], f"{name}.unit"), value["flows"]
    if not isinstance(flows, list) or not all(_is_flow(item) for item in flows):
        raise SettingsError(
            f"{name}.flows must be a list of numbers.", "Give null for a day without reading."
        )
    return _checked([math.nan if item is None else factor * item for item in flows], name)


def _is_flow(item: object) -> bool:
    return item is None or (isinstance(item, int | float) and not isinstance(item, bool))


RECORD = Reader(
    read=record,
    schema={
        "anyOf": [
            {"type": "array", "items": text().schema},
            {
                "type": "object",
                "additionalProperties": False,
                "required": ["unit", "flows"],
                "properties": {
                    "unit": text().schema,
                    "flows": {"type": "array", "items": {"type": ["number", "null"]}},
                },
            },
        ]
    },
    takes="a CSV beside the settings file with a column such as `flow [L/s]`; in place "
    '`{"unit": "L/s", "flows": [41.0, null]}` or a list of texts with units',
    several=True,
)
"""How energy.record is read."""
