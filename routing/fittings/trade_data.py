"""The rules, limits and sizes of this room, read from its data files once."""

from __future__ import annotations

from functools import cache

from routing.trade_table import numbers_of, rows_of, scaled, trade_table
from routing.units import INCH
from routing.value import dataclass

__all__ = [
    "Limits",
    "OutletSize",
    "Rule",
    "fitting_rules",
    "limits",
    "nominal_sizes",
    "outlet_sizes",
]


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule of placing: its word, what it asks and why, how firmly, and on whose word."""

    rule: str
    fitting: str
    need: str
    what: str
    why: str
    source: str
    status: str
    address: str


@cache
def fitting_rules() -> dict[str, Rule]:
    """Return the rules of placing by their word; of two at one place the first names the fitting.

    >>> fitting_rules()["summit"].what
    'every summit of the pipe as laid'
    """
    return {each.rule: each for each in rows_of(Rule, __file__, "rules.csv")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Every number that the rules of placing use; meaning, unit and source in ``limits.csv``."""

    steepening_advise: float
    steepening_must_deg: float
    flat_reach: float
    level_band: float
    spacing_m: float
    merge_m: float
    same_place_m: float
    freeboard_m: float
    open_height_m: float
    open_vent_area: float
    open_vent_least_m: float
    simplify_least_m: float
    simplify_share: float
    simplify_most_m: float
    slow_from: float
    drain_share: float
    drain_least_m: float
    flush_share: float
    judged_bores: float
    judged_cells: float
    curve_piece_m: float
    straight_bores: float
    bend_least_deg: float
    flat_share: float
    held_head_m: float
    step_slack: float


@cache
def limits() -> Limits:
    """Return the numbers that the rules of placing use.

    >>> limits().freeboard_m
    0.3
    """
    return numbers_of(Limits, __file__, "limits.csv")


@dataclass(frozen=True, slots=True, kw_only=True)
class OutletSize:
    """One row of the table of smallest air outlets."""

    largest_bore_m: float
    outlet_m: float
    outlet_in: float
    source: str
    status: str


@cache
def outlet_sizes() -> tuple[OutletSize, ...]:
    """Return the table of smallest air outlets, smallest pipe first.

    The table goes by nominal pipe size; a bore belongs to the nominal size it is nearest to, so a
    row reaches half-way to the next.
    """
    return rows_of(
        OutletSize,
        __file__,
        "vent_sizes.csv",
        largest_bore_m=scaled("largest_bore_in", INCH),
        outlet_m=lambda row: float(row["outlet_mm"]) / 1e3,
    )


@cache
def nominal_sizes() -> tuple[tuple[float, float], ...]:
    """Return the nominal bores that fittings are sold in, each in metres and inches, rising."""
    return tuple(
        (float(row["nominal_mm"]) / 1e3, float(row["nominal_in"]))
        for row in trade_table(__file__, "nominal_sizes.csv")
    )
