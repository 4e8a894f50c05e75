"""The smallest fittings that the tables give for a pipe's bore."""

from __future__ import annotations

import math
from typing import NamedTuple

from routing.fittings.trade_data import limits, nominal_sizes, outlet_sizes
from routing.need import need
from routing.units import INCH, UnitSystem, show

__all__ = [
    "Size",
    "air_outlet_size",
    "drain_size",
    "flush_size",
    "next_nominal",
    "open_vent_sizes",
    "size_text",
    "sold_inches",
]


class Size(NamedTuple):
    """A bore [m] and where it comes from."""

    size_m: float
    source: str


def _checked(inside_diameter_m: float) -> float:
    need("The bore of the pipe", inside_diameter_m, above=0.0, unit="m")
    return inside_diameter_m


def next_nominal(bore_m: float) -> float:
    """Return the smallest nominal bore that is not below ``bore_m``, or that bore beyond them.

    Parameters
    ----------
    bore_m : float
        Bore that is needed [m]

    Returns
    -------
    nominal_m : float
        Nominal bore [m]
    """
    # A hair of slack, so that a quarter of 0.2 m finds 0.05 m and not the next size up.
    least = bore_m * (1.0 - 1e-9)
    return next((size for size, _ in nominal_sizes() if size >= least), bore_m)


def size_text(size_m: float, units: UnitSystem) -> str:
    """Return a bore as fittings are sold: 50 mm is 2 in, not 1.97 in.

    >>> size_text(0.15, "metric"), size_text(0.15, "us"), size_text(0.16, "us")
    ('150 mm', '6 in', '6.30 in')
    """
    if units == "us" and (inches := _nominal_inches(size_m)) is not None:
        return f"{inches:g} in"
    return show(size_m, "diameter", units)


def sold_inches(size_m: float) -> float:
    """Return a bore in inches, as fittings are sold where it is a nominal size.

    Parameters
    ----------
    size_m : float
        Bore, > 0 [m]

    Returns
    -------
    inches : float
        The nominal inches of a nominal bore, else its own [in]

    Examples
    --------
    >>> sold_inches(0.05), round(sold_inches(0.016), 2)
    (2.0, 0.63)
    """
    inches = _nominal_inches(size_m)
    return size_m / INCH if inches is None else inches


def _nominal_inches(size_m: float) -> float | None:
    return next((inch for nominal, inch in nominal_sizes() if abs(nominal - size_m) < 1e-6), None)


def air_outlet_size(inside_diameter_m: float) -> Size:
    """Return the smallest outlet of an air valve for a pipe.

    Parameters
    ----------
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]

    Returns
    -------
    size : Size
        Nominal outlet [m] and its source

    Raises
    ------
    InputError
        If the bore is not above zero.

    Notes
    -----
    A floor under whatever size the flow of air asks for. The table goes by nominal pipe size; a
    bore counts as the nominal size it is nearest to. Beyond the table (36 in) its last row is
    given and said to be beyond.

    Examples
    --------
    >>> air_outlet_size(0.1023).size_m, air_outlet_size(0.25).size_m
    (0.015, 0.05)

    References
    ----------
    NRCS Conservation Practice Standard 430-DD, from memory of it.
    """
    bore = _checked(inside_diameter_m)
    rows = outlet_sizes()
    row = next((row for row in rows if bore <= row.largest_bore_m), rows[-1])
    text = f"{row.outlet_in:g} in, least outlet by pipe size; {row.source} ({row.status})"
    if bore > row.largest_bore_m:
        text = f"pipe beyond the table, whose last row is {text}: work the size out"
    return Size(row.outlet_m, text)


def open_vent_sizes(inside_diameter_m: float) -> tuple[Size, float]:
    """Return the bore of an open vent's pipe, and the bore of its tee and foot.

    Parameters
    ----------
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]

    Returns
    -------
    sizes : (Size, float)
        Bore of the vent pipe with its source, and the nominal bore [m] that its foot needs for
        one pipe diameter above the centreline

    Raises
    ------
    InputError
        If the bore is not above zero.

    Notes
    -----
    The foot has at least half the pipe's area; above it the vent may narrow to 50 mm (2 in).

    Examples
    --------
    >>> size, foot = open_vent_sizes(0.2)
    >>> size.size_m, foot
    (0.05, 0.15)

    References
    ----------
    NRCS Conservation Practice Standard 430, from memory of it.
    """
    numbers = limits()
    foot = next_nominal(math.sqrt(numbers.open_vent_area) * _checked(inside_diameter_m))
    least = numbers.open_vent_least_m
    text = (
        f"{least * 1e3:.0f} mm (2 in), least open vent; NRCS Conservation Practice Standard 430 "
        "(from memory of NRCS 430)"
    )
    return Size(least, text), max(foot, least)


def drain_size(inside_diameter_m: float, units: UnitSystem = "metric") -> Size:
    """Return the smallest bore of a drain: a quarter of the pipe's, and 25 mm.

    Parameters
    ----------
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]
    units : {"metric", "us"}
        Units of the source's words

    Returns
    -------
    size : Size
        The next nominal bore [m], never above the pipe's own, and its source

    Raises
    ------
    InputError
        If the bore is not above zero.

    Notes
    -----
    Common practice, no source.

    Examples
    --------
    >>> drain_size(0.2).size_m, drain_size(0.184).size_m, drain_size(0.05).size_m
    (0.05, 0.05, 0.025)
    """
    numbers = limits()
    bore = _checked(inside_diameter_m)
    least = max(numbers.drain_share * bore, numbers.drain_least_m)
    floor = size_text(numbers.drain_least_m, units)
    return Size(
        min(next_nominal(least), bore),
        f"a quarter of the pipe's bore and {floor} (common practice, no source)",
    )


def flush_size(inside_diameter_m: float) -> float:
    """Return the smallest nominal bore [m] of a drain that is to flush silt: a third of the pipe's.

    Parameters
    ----------
    inside_diameter_m : float
        Bore of the pipe, > 0 [m]

    Returns
    -------
    bore_m : float
        Nominal bore, not above the pipe's own [m]

    Examples
    --------
    >>> flush_size(0.2)
    0.08
    """
    numbers = limits()
    bore = _checked(inside_diameter_m)
    least = max(numbers.flush_share * bore, numbers.drain_least_m)
    return min(next_nominal(least), bore)
