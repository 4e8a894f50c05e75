"""How one value of a settings table is read, and what may be given there.

A reader takes a value and the name to call it by, and returns an SI value or raises
:class:`~routing.errors.SettingsError` (a quantity that cannot be read:
:class:`~routing.errors.QuantityError`), naming the input, its value and what may be given. It also
holds the JSON Schema of its values, so that the description of the service cannot differ from what
is taken.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Mapping
from dataclasses import field
from types import MappingProxyType
from typing import Any

from routing.errors import QuantityError, SettingsError
from routing.units import Dimension, parse_quantity
from routing.value import dataclass

__all__ = [
    "Reader",
    "choice",
    "date",
    "flag",
    "name_or_number",
    "number",
    "prices",
    "quantity",
    "text",
    "whole",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Reader:
    """How a value is read; ``takes`` says in words what may be given.

    ``dimension`` and ``ends`` (as written) are those of a quantity, ``choices`` the words of a
    choice; ``rows`` is the class whose rows make a table, ``several`` says that it may stand many
    times. A key that only a settings file may hold has an empty ``schema``.
    """

    read: Callable[[object, str], Any]
    schema: Mapping[str, Any]
    takes: str = ""
    dimension: Dimension | None = None
    ends: tuple[str, str] | None = None
    choices: tuple[str, ...] = field(default=())
    rows: type | None = None
    several: bool = False

    def __call__(self, value: object, name: str) -> Any:
        """Return the value as the trade takes it."""
        return self.read(value, name)


def quantity(dimension: Dimension, least: str, most: str) -> Reader:
    """Return the reader of text with a unit, from ``least`` to ``most``.

    >>> quantity("length", "0 m", "20 m")("3 ft", "trench.cover")
    0.9144
    """
    low, high = (parse_quantity(end, dimension, name="range") for end in (least, most))

    def read(value: object, name: str) -> float:
        try:
            found = parse_quantity(value, dimension, name=name)
        except QuantityError as exc:
            raise QuantityError(exc.problem, f"{exc.remedy} {least} to {most} is taken.") from exc
        if not low <= found <= high:
            raise SettingsError(
                f"{name} = {value!r} is out of range.", f"Give a value from {least} to {most}."
            )
        return found

    plain = {"type": "number", "minimum": low, "maximum": high}
    words = {"type": "string", "minLength": 1}
    return Reader(
        read=read,
        schema={"anyOf": [words, plain]} if dimension == "ratio" else words,
        takes=f"{least} to {most}",
        dimension=dimension,
        ends=(least, most),
    )


def number(least: float, most: float) -> Reader:
    """Return the reader of a plain number within bounds."""

    def read(value: object, name: str) -> float:
        good = isinstance(value, int | float) and not isinstance(value, bool)
        if not good or not math.isfinite(value) or not least <= value <= most:  # type: ignore[operator,arg-type]
            raise SettingsError(
                f"{name} = {value!r} cannot be used.",
                f"Give a plain number from {least:g} to {most:.12g}.",
            )
        return float(value)  # type: ignore[arg-type]

    schema = {"type": "number", "minimum": least, "maximum": most}
    return Reader(read=read, schema=schema, takes=f"{least:g} to {most:.12g}")


def whole(least: int, most: int) -> Reader:
    """Return the reader of a whole number within bounds."""

    def read(value: object, name: str) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise SettingsError(
                f"{name} = {value!r} cannot be used.",
                f"Give a whole number from {least} to {most}.",
            )
        return value

    schema = {"type": "integer", "minimum": least, "maximum": most}
    return Reader(read=read, schema=schema, takes=f"{least} to {most}")


def _flag(value: object, name: str) -> bool:
    if not isinstance(value, bool):
        raise SettingsError(
            f"{name} = {value!r} is neither true nor false.", "Write true or false."
        )
    return value


flag = Reader(read=_flag, schema={"type": "boolean"}, takes="true or false")
"""Reader of true or false."""


def text(most: int = 500) -> Reader:
    """Return the reader of text that is not empty, as one line."""

    def read(value: object, name: str) -> str:
        if not isinstance(value, str) or not value.strip() or len(value) > most:
            raise SettingsError(
                f"{name} must be text of 1 to {most} characters.",
                'Write it in quotes, as in "hill line".',
            )
        return " ".join(value.split())

    return Reader(read=read, schema={"type": "string", "minLength": 1, "maxLength": most})


def _name_or_number(value: object, name: str) -> str:
    if isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value):
        return f"{value:g}"
    return str(text()(value, name))


name_or_number = Reader(read=_name_or_number, schema={"anyOf": [text().schema, {"type": "number"}]})
"""Reader of text, or of a number as text."""


def _date(value: object, name: str) -> str:
    try:
        # TOML has dates of its own; JSON has not.
        return datetime.date.fromisoformat(str(value)).isoformat()
    except ValueError as exc:
        raise SettingsError(
            f"{name} = {value!r} is no date.", 'Write year-month-day, as in "2026-11-25".'
        ) from exc


date = Reader(read=_date, schema={"type": "string", "format": "date"}, takes="year-month-day")
"""Reader of a date, kept as text."""


def choice(*allowed: str, why: str = "") -> Reader:
    """Return the reader of one word of several; ``why`` says why there are no more."""

    def read(value: object, name: str) -> str:
        if value not in allowed:
            raise SettingsError(
                f"{name} = {value!r} is not a choice.",
                f"Choose one of: {', '.join(allowed)}.{f' {why}' if why else ''}",
            )
        return str(value)

    words = ", ".join(f'"{word}"' for word in allowed)
    return Reader(read=read, schema={"enum": list(allowed)}, takes=words, choices=allowed)


_MONEY = number(0.0, 1e9)


def _prices(value: object, name: str) -> Mapping[str, float]:
    if not isinstance(value, Mapping):
        raise SettingsError(
            f"{name} = {value!r} is no table of prices.",
            f"Write [{name}] with a price in each row.",
        )
    return MappingProxyType(
        {str(key): _MONEY(price, f"{name}.{key}") for key, price in value.items()}
    )


prices = Reader(
    read=_prices,
    schema={"type": "object", "additionalProperties": _MONEY.schema},
    takes=f"a price in each row, {_MONEY.takes}",
)
"""Reader of a table of prices by a name that the user chooses."""
