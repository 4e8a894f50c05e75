"""[catchment]: the land that drains to the intake, and what a square kilometre of it gives."""

from __future__ import annotations

from routing.errors import QuantityError, SettingsError
from routing.settings.readers import Reader, choice, quantity
from routing.settings.rows import row
from routing.units import parse_quantity
from routing.value import dataclass

__all__ = ["CatchmentSettings"]

_MOST_M_S = 1e-6
"""Largest specific yield that is taken: 1 m3/s from a square kilometre, a flood [m/s]."""


def _specific(value: object, name: str) -> float:
    """Return a flow for each area [m3/s/m2] from text such as ``"28 L/s/km2"``."""
    flow, _, area = value.rpartition("/") if isinstance(value, str) else ("", "", "")
    try:
        found = parse_quantity(flow, "flow", name=name)
        found /= parse_quantity(f"1 {area.strip()}", "area", name=name)
    except QuantityError as exc:
        raise SettingsError(
            f"{name} = {value!r} is no flow for an area.",
            'Write it as, for example, "28 L/s/km2" or "2.5 cfs/mi2".',
        ) from exc
    if not 0.0 < found <= _MOST_M_S:
        raise SettingsError(
            f"{name} = {value!r} is out of range.",
            "Give what a square kilometre yields over a year, above 0 and up to 1000 L/s.",
        )
    return found


@dataclass(frozen=True, slots=True, kw_only=True)
class CatchmentSettings:
    """[catchment]: the table alone asks for the catchment, found by following the water."""

    area: float | None = row(
        quantity("area", "100 m2", "100000 km2"),
        "catchment of the intake as known from elsewhere, over what the raster shows",
        "3.2 km2",
        without="followed over the raster",
    )
    snap: float | None = row(
        quantity("length", "0 m", "2 km"),
        "farthest way from the intake to the stream that the raster shows",
        "60 m",
        without="two cells, and 25 m at least",
        page=("Farthest to the stream", ""),
    )
    threshold: float = row(
        quantity("area", "100 m2", "10000 km2"),
        "least catchment of what counts as a stream",
        "0.25 km2",
        "0.1 km2",
        without="0.1 km2, our own estimate",
        page=("Least catchment of a stream", ""),
    )
    method: str = row(
        choice("d8", "freeman"),
        "how water leaves a cell: all of it the steepest way, or shared among all lower neighbours",
        "freeman",
        "d8",
        without="d8, which also draws the outline",
    )
    specific_yield: float | None = row(
        Reader(
            read=_specific,
            schema={"type": "string", "minLength": 1},
            takes="above 0 L/s/km2 to 1000 L/s/km2",
        ),
        "mean flow of a square kilometre around here, as you know it; what follows is a guess",
        "28 L/s/km2",
        without="no flow is guessed",
    )
