"""Stations as drawings write them: 0+123.4 in metres, 8+69.5 in feet."""

from __future__ import annotations

from routing.papers.document import Document, units_of
from routing.papers.given import sheet_text
from routing.units import UnitSystem, convert

__all__ = ["plus_station", "station_text"]

FULL = {"metric": 1000.0, "us": 100.0}
"""Length of a full station [m, ft]: a kilometre, or 100 ft."""


def plus_station(value: float, units: UnitSystem, digits: int = 1) -> str:
    """Return a station in the unit of the study, full stations before the sign.

    >>> plus_station(123.42, "metric"), plus_station(869.5, "us"), plus_station(999.96, "metric")
    ('0+123.4', '8+69.5', '1+000.0')
    """
    full = FULL[units]
    rounded = round(value, digits)
    whole = int(rounded // full)
    rest = rounded - whole * full
    wide = (3 if units == "metric" else 2) + (digits + 1 if digits else 0)
    return f"{whole}+{rest:0{wide}.{digits}f}"


def station_text(doc: Document, station_m: float, digits: int = 1) -> str:
    """Return a station [m] as the sheets of a study write it: with a sign, or plain if asked."""
    units = units_of(doc)
    value = convert(float(station_m), "station", units)
    if sheet_text(doc, "stations") == "plain":
        return f"{value:.{digits}f}"
    return plus_station(value, units, digits)
