"""What the rooms say in metric units, in those of the reader: units of tables, whole sentences."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from typing import NamedTuple

from routing.units import (
    FOOT,
    INCH,
    POUND,
    POUND_MASS,
    POUND_PER_SQUARE_INCH,
    US_GALLON,
    UnitSystem,
)

__all__ = ["in_system", "in_units", "raised"]


class _Us(NamedTuple):
    unit: str
    factor: float  # metric value x factor = US value
    change: int  # decimals more than the metric text has


_US_OF: dict[str, _Us] = {
    "mm": _Us("in", 1e-3 / INCH, 2),
    "m": _Us("ft", 1.0 / FOOT, 0),
    "m2": _Us("ft²", 1.0 / FOOT**2, -1),
    "km2": _Us("mi²", 1e6 / (5280.0 * FOOT) ** 2, 1),
    "m3": _Us("yd³", 1.0 / (3.0 * FOOT) ** 3, 0),
    "m/s": _Us("ft/s", 1.0 / FOOT, 0),
    "m/s2": _Us("ft/s²", 1.0 / FOOT, 0),
    "m2/s": _Us("ft²/s", 1.0 / FOOT**2, 0),
    "m3/s": _Us("gpm", 60.0 / US_GALLON, -4),
    "L/s": _Us("gpm", 1e-3 * 60.0 / US_GALLON, -1),
    "litres": _Us("gallons", 1e-3 / US_GALLON, 1),
    "kPa": _Us("psi", 1e3 / POUND_PER_SQUARE_INCH, 1),
    "MPa": _Us("psi", 1e6 / POUND_PER_SQUARE_INCH, -2),
    "kN": _Us("lbf", 1e3 / POUND, -2),
    "N": _Us("lbf", 1.0 / POUND, 0),
    "kN m": _Us("lbf ft", 1e3 / POUND / FOOT, -2),
    "N/m": _Us("lbf/ft", FOOT / POUND, 1),
    "kg": _Us("lb", 1.0 / POUND_MASS, 0),
    "kg/s": _Us("lb/s", 1.0 / POUND_MASS, 0),
    "s/m2": _Us("s/ft²", FOOT**2, 2),
    "kN m2": _Us("lbf ft²", 1e3 / POUND / FOOT**2, -2),
    "kg/m": _Us("lb/ft", FOOT / POUND_MASS, 0),
    "kg/m3": _Us("lb/ft³", FOOT**3 / POUND_MASS, 1),
    "kN/m3": _Us("lbf/ft³", 1e3 / POUND * FOOT**3, 1),
    "cm3": _Us("in³", 1e-6 / INCH**3, 1),
    "cm4": _Us("in⁴", 1e-8 / INCH**4, 1),
    "m/km": _Us("ft/1000 ft", 1.0, 0),
}
_US_OF_TABLES: dict[str, _Us] = {
    "K": _Us("°F", 1.8, 0),
    "mm/(m K)": _Us("in/(100 ft °F)", 1e-3 * 100.0 * FOOT / INCH / 1.8, 2),
    "J/(kg K)": _Us("ft lbf/(lb °R)", POUND_MASS / (POUND * FOOT * 1.8), 0),
}
"""Units that no sentence tells; K is a difference, and in the gas constant one of Rankine."""
LEVEL_FROM_M = 100.0
"""From here on a centimetre is less than the rounding of the metric text is in feet [m]."""
_RAISED = str.maketrans("²³⁴", "234")
_SMALLER = {
    "Pa": (("kPa", 1e-3), ("MPa", 1e-6)),
    "m": (("mm", 1e3),),
    "m3/s": (("L/s", 1e3),),
    "N": (("kN", 1e-3),),
}
"""Units in which a sentence may tell a figure of another one."""


def in_system(unit: str, units: UnitSystem) -> tuple[str, float]:
    """Return the unit that stands for a metric one, and by what its numbers are multiplied.

    A unit that is the same for every reader (%, s, kW, °) stays.

    >>> in_system("kPa", "us")[0], in_system("%", "us")
    ('psi', ('%', 1.0))
    """
    found = (_US_OF | _US_OF_TABLES).get(unit.translate(_RAISED))
    return (unit, 1.0) if units == "metric" or found is None else (found.unit, found.factor)


_POWER = re.compile(r"((?<=\d )(?:k?m|mm|ft|yd|mi)|(?<=/)(?:m|s|ft|km))([23])\b")


def raised(text: str) -> str:
    """Return text with raised powers, and degrees as a sign, as people read them.

    >>> raised("Dig 3 m3 in water of 8 degC; 9.80665 m/s2.")
    'Dig 3 m³ in water of 8 °C; 9.80665 m/s².'
    """
    told = _POWER.sub(lambda match: match[1] + "⁰¹²³"[int(match[2])], text)
    return told.replace("degC", "°C").replace("degF", "°F")


_UNITS = "|".join(
    sorted((*map(re.escape, _US_OF), "m³", "m²", "cm³", "cm⁴", "degC"), key=len, reverse=True)
)
_TOLD = re.compile(
    r"(?<![\w.])(?P<first>\d+(?:\.\d+)?)(?P<to> to )?(?P<second>(?<= to )\d+(?:\.\d+)?)? "
    rf"(?P<unit>{_UNITS})(?![\w/³²⁴2-])"
)

_TWICE = re.compile(
    r"(?<![\w.])(?:\d+(?:\.\d+)? [^\s()]+, )*\d+(?:\.\d+)? (?P<unit>[^\s()]+) "
    r"\((?P<own>(?:\d+, )*\d+(?:[./]\d+)? (?P=unit))\)"
)
"""Figures turned that stand before those which their publication itself gives."""


def in_units(text: str, units: UnitSystem, exact: Iterable[tuple[float | None, str]] = ()) -> str:
    """Return a sentence with its metric quantities in the units of the reader.

    The rooms speak metric; what a person reads is turned once, here. A quantity keeps about as
    many figures as it had; a level told to the centimetre has tenths of a foot. ``exact`` are
    figures of the sentence with their units before they were rounded: what is told of one of them
    is turned from it, so that it is the same on every paper.

    >>> in_units("Over 47 m the trench is 1.30 m deep, from 0.3 to 3 m/s.", "us")
    'Over 154 ft the trench is 4.27 ft deep, from 1.0 to 10 ft/s.'
    >>> in_units("Intake water level 310.37 m", "us")
    'Intake water level 1018.3 ft'
    >>> in_units("Cover is 1.52 m at 123.4 m.", "us", [(1.524, "m"), (123.44, "m")])
    'Cover is 5.00 ft at 405.0 ft.'
    >>> in_units("Above the 1.5 m/s (5 ft/s) advised.", "us")
    'Above the 5 ft/s advised.'
    >>> in_units("Dig 3 m3.", "metric")
    'Dig 3 m³.'
    >>> in_units("11.0 m, 7.3 m, 4.9 m (36, 24, 16 ft) apart", "us")
    '36, 24, 16 ft apart'
    """
    if units == "metric":
        return raised(text)
    known = list(_figures(exact))

    def turned(match: re.Match[str]) -> str:
        found = _US_OF.get(match["unit"].translate(_RAISED), _Us("degF", 1.8, -1))
        offset = 32.0 if found.unit == "degF" else 0.0

        def one(number: str) -> str:
            given = len(number.partition(".")[2])
            decimals = max(given + found.change, 0)
            if found.unit == "ft" and float(number) >= LEVEL_FROM_M:
                decimals = min(decimals, 1)
            meant = [
                value
                for value, unit in known
                if unit == match["unit"] and f"{value:.{given}f}" == number
            ]
            told = {f"{v * found.factor + offset:.{decimals}f}" for v in meant or [float(number)]}
            if len(told) == 1:
                return told.pop()
            # Two figures that are told alike: what was told is as near as either.
            return f"{float(number) * found.factor + offset:.{decimals}f}"

        second = f" to {one(match['second'])}" if match["second"] else ""
        return f"{one(match['first'])}{second} {found.unit}"

    return raised(_TWICE.sub(r"\g<own>", _TOLD.sub(turned, text)))


def _figures(exact: Iterable[tuple[float | None, str]]) -> Iterator[tuple[float, str]]:
    """Return figures in their own unit and in those in which a sentence may tell them."""
    for value, unit in exact:
        if value is None:
            continue
        yield abs(value), unit
        for other, share in _SMALLER.get(unit, ()):
            yield abs(value) * share, other
