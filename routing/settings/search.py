"""[search]: how lines between two places are sought."""

from __future__ import annotations

import math
from typing import Any

from routing.errors import SettingsError
from routing.settings.readers import Reader, choice, number, quantity, whole
from routing.settings.rows import row
from routing.value import dataclass

__all__ = ["PLACE", "SearchSettings"]


def _place(value: object, name: str) -> tuple[float, float]:
    """Return a place as longitude and latitude [deg]."""
    good = (
        isinstance(value, list | tuple)
        and len(value) == 2
        and all(isinstance(each, int | float) and not isinstance(each, bool) for each in value)
        and all(math.isfinite(each) for each in value)
    )
    if not good or abs(value[0]) > 360.0 or abs(value[1]) > 90.0:  # type: ignore[index]
        raise SettingsError(
            f"{name} = {value!r} is no place.",
            "Give longitude and latitude in degrees, as in [-16.0697, 47.2980].",
        )
    return float(value[0]), float(value[1])  # type: ignore[index]


_POSITION = {"type": "array", "items": {"type": "number"}, "minItems": 2, "maxItems": 2}
PLACE = Reader(read=_place, schema=_POSITION, takes="longitude and latitude, WGS 84")


def _places(value: object, name: str) -> tuple[Any, ...]:
    if not isinstance(value, list) or len(value) > 20:
        raise SettingsError(
            f"{name} must be a list of at most 20 places.", "Write [[-16.07, 47.30]]."
        )
    return tuple(_place(each, f"{name}[{at}]") for at, each in enumerate(value))


_PLACES = Reader(
    read=_places,
    schema={"type": "array", "items": _POSITION, "maxItems": 20},
    takes="a list of places, each longitude and latitude",
    several=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SearchSettings:
    """[search]: what a line sought by the tool must keep to, and how many to show."""

    alternatives: int = row(whole(1, 9), "most lines to show, the best first", 3, 5)
    pipe: str | None = row(
        choice("choose", "as given"),
        "whether the search chooses the pipe, by flow and head at rest, or keeps the settings' own",
        "choose",
        without="chosen where there is a design flow and no [[pipe]], else as given",
    )
    through: tuple[tuple[float, float], ...] = row(
        _PLACES,
        "places that every line must pass through, in order from the intake",
        [[-16.063, 47.296]],
        without="none",
        page=("Through these places", ""),
    )
    least_radius: float | None = row(
        quantity("length", "0 m", "1000 m"),
        "least radius that the pipe is laid to in plan; a sharper turn is not sought",
        "12 m",
        without="turns up to 90 degrees, by fittings",
    )
    margin: float | None = row(
        quantity("length", "0 m", "50 m"),
        "least depth of the crown of the pipe below the hydraulic line",
        "1 m",
        without="0.5 m",
    )
    longest_span: float | None = row(
        quantity("length", "0 m", "200 m"),
        'longest pipe bridge to propose; `"0 m"` for none',
        "20 m",
        without="30 m",
    )
    apart: float | None = row(
        quantity("length", "1 m", "10 km"),
        "mean distance from every other line that makes a line an alternative",
        "40 m",
        without="3 % of the distance between the ends, and two cells of the search at least",
        page=("Apart by", ""),
    )
    reach: float = row(
        number(0.0, 5.0), "how far beyond the ends to look, as share of their distance", 1.0, 0.6
    )
