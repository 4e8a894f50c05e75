"""Quantities at the edge: text with a unit to SI floats, and SI floats to text.

Inside the trade every number is an SI float. The usual units are a small table of exact factors,
so that one study need not build a unit registry; any other unit is asked of ``pint``, which the
tests also hold the table against.
"""

from __future__ import annotations

import math
import re
from functools import cache
from typing import Any, Literal, NamedTuple

from routing.errors import QuantityError

__all__ = [
    "FOOT",
    "INCH",
    "POUND",
    "POUND_MASS",
    "POUND_PER_SQUARE_INCH",
    "US_GALLON",
    "Dimension",
    "Kind",
    "UnitSystem",
    "convert",
    "parse_quantity",
    "show",
    "unit_of",
]

UnitSystem = Literal["metric", "us"]
Dimension = Literal[
    "length", "area", "volume", "flow", "temperature", "pressure", "time", "ratio", "power", "angle"
]
Kind = Literal[
    "station",
    "elevation",
    "length",
    "depth",
    "diameter",
    "pressure",
    "head",
    "flow",
    "air",
    "velocity",
    "power",
    "volume",
    "water",
    "concrete",
    "temperature",
]

FOOT = 0.3048
"""International foot [m], exact by the agreement of 1959."""
US_SURVEY_FOOT = 1200.0 / 3937.0
"""US survey foot [m], exact by the Mendenhall order of 1893."""
INCH = 0.0254
"""Inch [m], exact."""
POUND = 4.4482216152605
"""Pound-force [N], exact from the pound of 0.45359237 kg and standard gravity."""
POUND_MASS = 0.45359237
"""Pound [kg], exact by the agreement of 1959."""
POUND_PER_SQUARE_INCH = POUND / INCH**2
"""Pound-force per square inch [Pa], exact from the pound-force 4.4482216152605 N."""
US_GALLON = 231.0 * INCH**3
"""US liquid gallon [m3], exact: 231 cubic inches."""
HORSEPOWER = 550.0 * FOOT * 4.4482216152605
"""Mechanical horsepower [W], exact: 550 foot pound-force per second."""

_SI_UNIT: dict[Dimension, str] = {
    "length": "m",
    "area": "m^2",
    "angle": "degree",
    "volume": "m^3",
    "flow": "m3/s",
    "temperature": "degC",
    "pressure": "Pa",
    "time": "s",
    "ratio": "%",
    "power": "W",
}
_EXAMPLE: dict[Dimension, str] = {
    "length": '"0.9 m" or "3 ft"',
    "area": '"1.2 m2" or "13 ft2"',
    "angle": '"1 deg"',
    "volume": '"6 m3" or "1600 gal"',
    "flow": '"18 L/s" or "285 gpm"',
    "temperature": '"8 degC" or "46 degF"',
    "pressure": '"10 bar" or "160 psi"',
    "time": '"8 s" or "1.5 min"',
    "ratio": '0.64 or "64 %"',
    "power": '"7.5 kW"',
}
_FACTOR: dict[Dimension, dict[str, float]] = {
    "length": {
        "m": 1.0,
        "metre": 1.0,
        "metres": 1.0,
        "meter": 1.0,
        "meters": 1.0,
        "mm": 1e-3,
        "cm": 1e-2,
        "km": 1e3,
        "ft": FOOT,
        "foot": FOOT,
        "feet": FOOT,
        "US survey foot": US_SURVEY_FOOT,
        "US survey feet": US_SURVEY_FOOT,
        "in": INCH,
        "inch": INCH,
        "inches": INCH,
    },
    "angle": {"deg": 1.0, "°": 1.0, "degree": 1.0, "degrees": 1.0},
    "area": {
        "m2": 1.0,
        "m²": 1.0,
        "m^2": 1.0,
        "km2": 1e6,
        "km²": 1e6,
        "ha": 1e4,
        "ft2": FOOT**2,
        "ft²": FOOT**2,
        "mi2": (5280.0 * FOOT) ** 2,
        "mi²": (5280.0 * FOOT) ** 2,
    },
    "volume": {
        "m3": 1.0,
        "m³": 1.0,
        "m^3": 1.0,
        "L": 1e-3,
        "l": 1e-3,
        "ft3": FOOT**3,
        "gal": US_GALLON,
    },
    "flow": {
        "m3/s": 1.0,
        "m³/s": 1.0,
        "m^3/s": 1.0,
        "m3/h": 1.0 / 3600.0,
        "L/s": 1e-3,
        "l/s": 1e-3,
        "L/min": 1e-3 / 60.0,
        "l/min": 1e-3 / 60.0,
        "gpm": US_GALLON / 60.0,
        "cfs": FOOT**3,
        "ft3/s": FOOT**3,
    },
    "pressure": {
        "Pa": 1.0,
        "kPa": 1e3,
        "MPa": 1e6,
        "bar": 1e5,
        "psi": POUND_PER_SQUARE_INCH,
    },
    "time": {"s": 1.0, "sec": 1.0, "min": 60.0, "h": 3600.0},
    "ratio": {"%": 1e-2, "": 1.0},
    "power": {"W": 1.0, "kW": 1e3, "hp": HORSEPOWER},
    "temperature": {},
}
MOST_LETTERS = 100
"""Longest text that is read as a quantity [-]."""
_NUMBER = re.compile(r"^\s*([+-]?(?:\d+[.,]?\d*|[.,]\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$")
_TWO_WAYS = re.compile(r"[+-]?(?:[1-9]\d{0,2},\d{3}(?![\d.,])|\d+[.,][\d.,]*[.,]\d*)")


def parse_quantity(value: object, dimension: Dimension, *, name: str) -> float:
    """Return the SI value of text such as ``"0.9 m"``; ``name`` is the input's name in messages.

    Lengths come back in m, areas in m2, volumes in m3, flows in m3/s, temperatures in degrees
    Celsius, pressures in Pa, times in s, powers in W, angles in degrees, ratios as a plain number
    (a ratio may also be given as a number). Raises :class:`~routing.errors.QuantityError` for a
    number without unit, an unknown unit, a unit of another kind, or a value that is not finite.
    The decimal mark is a point or a comma; a comma that may part thousands is refused.

    >>> parse_quantity("3 ft", "length", name="trench.cover")
    0.9144
    >>> parse_quantity("0,9 m", "length", name="trench.cover")
    0.9
    """
    if dimension == "ratio" and isinstance(value, int | float) and not isinstance(value, bool):
        return _finite(float(value), value, name, dimension)
    if isinstance(value, int | float) and not isinstance(value, bool):
        raise QuantityError(
            f"{name} = {value} has no unit.",
            f"Write the quantity as text with a unit, for example {_EXAMPLE[dimension]}.",
        )
    if isinstance(value, str) and len(value) > MOST_LETTERS:  # reading it would take ever longer
        raise QuantityError(
            f"{name} is a text of {len(value)} letters, {value[:20]!r} and so on.",
            f"Write a quantity such as {_EXAMPLE[dimension]}.",
        )
    match = _NUMBER.match(value) if isinstance(value, str) else None
    if match is None:
        raise QuantityError(
            f"{name} = {value!r} is not a number with a unit.",
            f"Write it as, for example, {_EXAMPLE[dimension]}.",
        )
    if told := _TWO_WAYS.match(str(value).strip()):
        raise QuantityError(
            f"{name} = {value!r} can be read in two ways: {told.group()} has marks of thousands or "
            "of decimals.",
            "Write no mark between thousands, and a point before decimals: 1234 or 1.234.",
        )
    number, unit = float(match.group(1).replace(",", ".")), match.group(2)
    _finite(number, value, name, dimension)
    if unit == "" and dimension != "ratio":
        raise QuantityError(
            f"{name} = {value!r} has no unit.",
            f"Add one, for example {_EXAMPLE[dimension]}.",
        )
    if dimension == "temperature":
        return _finite(_celsius(number, unit, value, name), value, name, dimension)
    factor = _FACTOR[dimension].get(unit)
    if factor is not None:
        return _finite(number * factor, value, name, dimension)
    return _finite(_ask_pint(number, unit, dimension, value, name), value, name, dimension)


def _finite(number: float, value: object, name: str, dimension: Dimension) -> float:
    if not math.isfinite(number):
        raise QuantityError(
            f"{name} = {value!r} is not a finite number.",
            f"Write it as, for example, {_EXAMPLE[dimension]}.",
        )
    return number


def _celsius(number: float, unit: str, value: object, name: str) -> float:
    if unit in ("degC", "°C", "C", "deg C"):
        return number
    if unit in ("degF", "°F", "F", "deg F"):
        return (number - 32.0) / 1.8
    if unit == "K":
        return number - 273.15
    raise QuantityError(
        f"{name} = {value!r} has no temperature unit that is known here.",
        f"Write it as, for example, {_EXAMPLE['temperature']}.",
    )


@cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry()


def _ask_pint(number: float, unit: str, dimension: Dimension, value: object, name: str) -> float:
    target = "m^3/s" if dimension == "flow" else ("" if dimension == "ratio" else None)
    if target is None:
        target = _SI_UNIT[dimension]
    try:
        return float(_registry().Quantity(number, unit).to(target).magnitude)
    # pint's own parser lets errors of the Python tokenizer through for odd text, so no short list
    # of exception classes covers what a user may type.
    except Exception as exc:
        raise QuantityError(
            f"{name} = {value!r}: the unit {unit!r} is not known, or measures something else.",
            f"Write it as, for example, {_EXAMPLE[dimension]}.",
        ) from exc


class _Form(NamedTuple):
    unit: str
    factor: float  # SI value x factor = shown value
    decimals: int


_FORMS: dict[UnitSystem, dict[Kind, _Form]] = {
    "metric": {
        "station": _Form("m", 1.0, 1),
        "elevation": _Form("m", 1.0, 2),
        "length": _Form("m", 1.0, 1),
        "depth": _Form("m", 1.0, 2),
        "diameter": _Form("mm", 1e3, 0),
        "pressure": _Form("kPa", 1e-3, 0),
        "head": _Form("m", 1.0, 1),
        "flow": _Form("L/s", 1e3, 1),
        "air": _Form("L/s", 1e3, 1),
        "velocity": _Form("m/s", 1.0, 2),
        "power": _Form("kW", 1e-3, 2),
        "volume": _Form("m³", 1.0, 1),
        "water": _Form("m³", 1.0, 1),
        "concrete": _Form("m³", 1.0, 3),
        "temperature": _Form("°C", 1.0, 1),
    },
    "us": {
        "station": _Form("ft", 1.0 / FOOT, 0),
        "elevation": _Form("ft", 1.0 / FOOT, 1),
        "length": _Form("ft", 1.0 / FOOT, 0),
        "depth": _Form("ft", 1.0 / FOOT, 1),
        "diameter": _Form("in", 1.0 / INCH, 2),
        "pressure": _Form("psi", 1.0 / POUND_PER_SQUARE_INCH, 1),
        "head": _Form("ft", 1.0 / FOOT, 1),
        "flow": _Form("gpm", 60.0 / US_GALLON, 0),
        "air": _Form("ft³/min", 60.0 / FOOT**3, 0),
        "velocity": _Form("ft/s", 1.0 / FOOT, 2),
        "power": _Form("kW", 1e-3, 2),
        "volume": _Form("yd³", 1.0 / (3.0 * FOOT) ** 3, 1),
        "water": _Form("gal", 1.0 / US_GALLON, 0),
        "concrete": _Form("yd³", 1.0 / (3.0 * FOOT) ** 3, 3),
        "temperature": _Form("°F", 1.8, 0),
    },
}


def convert(value_si: float, kind: Kind, units: UnitSystem) -> float:
    """Return an SI value (temperature: degrees Celsius) in the unit that ``show`` would print.

    >>> convert(0.3048, "length", "us")
    1.0
    """
    shown = value_si * _FORMS[units][kind].factor
    return shown + 32.0 if kind == "temperature" and units == "us" else shown


def unit_of(kind: Kind, units: UnitSystem) -> str:
    """Return the unit in which ``kind`` is shown.

    >>> unit_of("pressure", "us")
    'psi'
    """
    return _FORMS[units][kind].unit


def show(value_si: float | None, kind: Kind, units: UnitSystem, *, unit: bool = True) -> str:
    """Return an SI value as text for people; a missing value (None, NaN) is a dash.

    >>> show(412.6, "elevation", "metric")
    '412.60 m'
    >>> show(0.018, "flow", "us")
    '285 gpm'
    """
    if value_si is None or not math.isfinite(value_si):
        return "–"
    form = _FORMS[units][kind]
    shown = round(convert(value_si, kind, units), form.decimals) + 0.0  # + 0.0: no "-0.0"
    text = f"{shown:.{form.decimals}f}"
    return f"{text} {form.unit}" if unit else text
