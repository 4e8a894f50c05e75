"""How one value of a settings table is read: each reader takes a value and the name to call it by.

A reader returns an SI value or raises :class:`~routing.errors.SettingsError` (a quantity that
cannot be read: :class:`~routing.errors.QuantityError`), naming the input, its value and the remedy.
"""

from __future__ import annotations

import difflib
import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from routing.errors import SettingsError
from routing.units import Dimension, parse_quantity

__all__ = [
    "Reader",
    "check_known",
    "choice",
    "flag",
    "list_of",
    "number",
    "quantity",
    "table_of",
    "text",
    "text_or_number",
    "whole",
]

Reader = Callable[[object, str], Any]

_SI: Mapping[Dimension, str] = {
    "length": "m",
    "area": "m2",
    "angle": "deg",
    "volume": "m3",
    "flow": "m3/s",
    "temperature": "degC",
    "pressure": "Pa",
    "time": "s",
    "power": "W",
}


def check_known(key: object, known: Sequence[str], table: str) -> None:
    """Refuse a key (with an empty ``table``: a table) that does not exist, naming the nearest."""
    if key in known:
        return
    near = difflib.get_close_matches(str(key), known, n=1, cutoff=0.0)
    where = f"[{table}] " if table else ""
    raise SettingsError(
        f"{where}{key} is not a known {'key' if table else 'table'}.",
        f"The nearest known one is {near[0]}.",
    )


def list_of(value: object, name: str) -> list[Any]:
    """Return a list of tables."""
    if isinstance(value, list):
        return value
    raise SettingsError(
        f"{name} must be a list of tables.", f"Write each as its own [[{name}]] table."
    )


def table_of(
    kind: type,
    value: object,
    name: str,
    readers: Mapping[str, Reader],
    *,
    needs: Sequence[str] = (),
    example: str = "",
) -> Any:
    """Return a table as its dataclass; ``needs`` are keys without which it means nothing."""
    if not isinstance(value, Mapping):
        raise SettingsError(
            f"{name} = {value!r} is no table.",
            f"Write [{name}] with keys such as {next(iter(readers))} below it.",
        )
    values = {}
    for key, item in value.items():
        check_known(key, list(readers), name)
        # "from" is a word of Python, so that field has an underscore.
        values["from_" if key == "from" else key] = readers[key](item, f"{name}.{key}")
    if not set(needs) <= set(value):
        wanted = f"both {needs[0]} and {needs[1]}" if len(needs) == 2 else ", ".join(needs)
        raise SettingsError(f"{name} needs {wanted}.", f"Write, for example, {example}.")
    return kind(**values)


def quantity(
    dimension: Dimension, *, least: float = -math.inf, above: bool = False, most: float = math.inf
) -> Reader:
    """Return the reader of text with a unit, within bounds."""

    def read(value: object, name: str) -> float:
        found = parse_quantity(value, dimension, name=name)
        if found < least or (above and found <= least) or found > most:
            bound = f"{'more than' if above else 'at least'} {least:g}"
            limits = bound if most == math.inf else f"{bound} and at most {most:g}"
            unit = "" if dimension == "ratio" else f" ({_SI[dimension]})"
            raise SettingsError(
                f"{name} = {value!r} is out of range.", f"Give a value of {limits}{unit}."
            )
        return found

    return read


def number(*, least: float, most: float) -> Reader:
    """Return the reader of a plain number within bounds."""

    def read(value: object, name: str) -> float:
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not good or not math.isfinite(value) or not least <= value <= most:  # type: ignore[operator,arg-type]
            raise SettingsError(
                f"{name} = {value!r} cannot be used.",
                f"Give a plain number from {least:g} to {most:g}.",
            )
        return float(value)  # type: ignore[arg-type]

    return read


def whole(value: object, name: str) -> int:
    """Return the number of a band."""
    if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 65535:
        raise SettingsError(f"{name} = {value!r} is no band number.", "Give a whole number from 1.")
    return value


def flag(value: object, name: str) -> bool:
    """Return true or false."""
    if not isinstance(value, bool):
        raise SettingsError(
            f"{name} = {value!r} is neither true nor false.", "Write true or false."
        )
    return value


def text(value: object, name: str) -> str:
    """Return text that is not empty."""
    if not isinstance(value, str) or not value.strip() or len(value) > 500:
        raise SettingsError(
            f"{name} must be text of 1 to 500 characters.", 'Write it in quotes, as in "hill line".'
        )
    return value.strip()


def text_or_number(value: object, name: str) -> str:
    """Return text, or a number as text."""
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        return f"{value:g}"
    return text(value, name)


def choice(*allowed: str) -> Reader:
    """Return the reader of one word of several."""

    def read(value: object, name: str) -> str:
        if value not in allowed:
            raise SettingsError(
                f"{name} = {value!r} is not a choice.", f"Choose one of: {', '.join(allowed)}."
            )
        return str(value)

    return read
