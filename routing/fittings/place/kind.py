"""Open vent or closed valve: how tall an open one would stand, and the least that tables fit."""

from __future__ import annotations

from typing import NamedTuple

from routing.fittings.inputs import Place
from routing.fittings.place.vent import VentKind
from routing.fittings.requirements import asked
from routing.fittings.sizes import air_outlet_size, open_vent_sizes
from routing.fittings.trade_data import limits
from routing.laid_line import LaidLine

__all__ = ["LeastFitting", "least_fitting", "open_vent_levels", "vent_kind"]


class LeastFitting(NamedTuple):
    """The least vent that the tables fit at a place; an open one has a top and a foot."""

    kind: VentKind
    size_m: float
    source: str
    foot_m: float | None
    height_m: float
    open_top_m: float | None
    open_height_m: float | None


def open_vent_levels(
    line: LaidLine, place: Place, highest_m: float | None = None
) -> tuple[float, float]:
    """Return the elevations an open vent would stand on and end at.

    Parameters
    ----------
    line : LaidLine
        The line, for the water at its intake
    place : Place
        Where the vent stands
    highest_m : float, optional
        Level to which a flood or the closing machine drives the water there [m]

    Returns
    -------
    levels_m : tuple of float
        Elevation of its footing and of its top [m]

    Notes
    -----
    It stands on the ground, or on the pipe where that is higher, and ends a freeboard above the
    highest water: that of the intake, with which the whole static head stands in it when the line
    is shut below, or ``highest_m`` where a flood or a closing machine drives it higher.
    """
    footing = max(place.ground_m, place.pipe_m + 0.5 * place.outside_diameter_m)
    water = max(line.levels.intake_m, footing, footing if highest_m is None else highest_m)
    return footing, water + limits().freeboard_m


def vent_kind(rules: tuple[str, ...], height_m: float) -> VentKind:
    """Return what stands at a place: an open vent where it may, else the valve that serves.

    Where air need only come in, that is a vacuum valve.

    >>> vent_kind(("summit",), 5.9), vent_kind(("summit",), 6.1)
    ('open vent', 'combination air valve')
    """
    if height_m <= asked("open_height").bound:
        return "open vent"
    inward = set(rules) <= {"below the intake", "at a valve"}
    return "vacuum valve" if inward else "combination air valve"


def least_fitting(line: LaidLine, place: Place, rules: tuple[str, ...]) -> LeastFitting:
    """Return the least vent that the tables fit at a place, the line at rest."""
    footing, top = open_vent_levels(line, place)
    height = top - footing
    kind = vent_kind(rules, height)
    is_open = kind == "open vent"
    bore = place.inside_diameter_m
    size, foot = open_vent_sizes(bore) if is_open else (air_outlet_size(bore), None)
    return LeastFitting(
        kind,
        size.size_m,
        size.source,
        foot,
        height,
        top if is_open else None,
        height if is_open else None,
    )
