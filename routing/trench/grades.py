"""The straights of a pipe as a crew sets them out, and what fewer or more of them would dig."""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from itertools import pairwise
from typing import Literal

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.trench.corridor import Corridor, Span, TrenchLimits, build_corridor
from routing.trench.excavation import excavate, trench_width_m
from routing.trench.grade_line import GradeLine, best_grade_line
from routing.trench.straight import FULL_PASSES, BreakTerms, straighten

__all__ = [
    "ChoiceName",
    "Grade",
    "GradeChoice",
    "grade_choices",
    "list_grades",
    "set_straight",
    "usual_break",
]

ChoiceName = Literal["close to the ground", "balanced", "fewest grades"]

FRONT = (0.1, 0.25, 0.5, 2.0, 5.0)
"""Prices shown beside the one used, as multiples of it [-] (our own choice)."""
DEAREST_M3 = 1000.0
"""A price at which the fewest grades are laid, whatever they dig [m3]."""
USUAL_M3 = 0.5
"""The price whose multiples are shown where breaks are free [m3]."""


@cache
def _usual_breaks() -> dict[str, tuple[float, float | None]]:
    text = files("routing.trench").joinpath("data/breaks.csv").read_text("utf-8")
    return {
        row["pipe"]: (
            float(row["break_price_m3"]),
            float(row["least_piece_m"]) if row["least_piece_m"] else None,
        )
        for row in csv.DictReader(text.splitlines())
    }


def usual_break(*, fused: bool, stick_m: float) -> tuple[float, float]:
    """Return the usual price of a break of grade and the least length of a straight [1]_.

    Parameters
    ----------
    fused : bool
        True for pipe that is fused or comes as a coil, False for pipe of sticks with joints
    stick_m : float
        Length of a stick, > 0 [m]

    Returns
    -------
    break_price_m3, least_piece_m : tuple of float
        Digging that one break may save [m3]; one stick of jointed pipe, 3 m of fused [m]

    References
    ----------
    .. [1] Our own estimates, no source.

    Examples
    --------
    >>> usual_break(fused=True, stick_m=12.0), usual_break(fused=False, stick_m=5.5)
    ((0.5, 3.0), (2.0, 5.5))
    """
    price, least = _usual_breaks()["fused" if fused else "jointed"]
    return price, stick_m if least is None else least


@dataclass(frozen=True, slots=True, kw_only=True)
class Grade:
    """One straight of the centreline, by plan station and elevation [m]."""

    from_m: float
    to_m: float
    from_z_m: float
    to_z_m: float

    @property
    def grade(self) -> float:
        """Rise over plan length, falling negative [-]."""
        return (self.to_z_m - self.from_z_m) / (self.to_m - self.from_m)


@dataclass(frozen=True, slots=True, kw_only=True)
class GradeChoice:
    """What one price of a break would give: straights, volume dug [m3], deepest trench [m].

    ``name`` is None for a price that stands between the three that have one.
    """

    name: ChoiceName | None
    break_price_m3: float
    grades: int
    volume_m3: float
    deepest_m: float


def list_grades(station_m: FloatArray, pipe_m: FloatArray, breaks: IntArray) -> tuple[Grade, ...]:
    """Return the straights between breaks, by index with both ends, in order.

    >>> list_grades(np.array([0.0, 5.0, 10.0]), np.array([9.0, 8.5, 8.0]), np.array([0, 2]))
    (Grade(from_m=0.0, to_m=10.0, from_z_m=9.0, to_z_m=8.0),)
    """
    knots = zip(station_m[breaks].tolist(), pipe_m[breaks].tolist(), strict=True)
    return tuple(
        Grade(from_m=s0, to_m=s1, from_z_m=z0, to_z_m=z1) for (s0, z0), (s1, z1) in pairwise(knots)
    )


def set_straight(
    corridor: Corridor,
    line: GradeLine,
    limits: TrenchLimits,
    break_price_m3: float,
    passes: tuple[tuple[int, float], ...] = FULL_PASSES,
    runs: int = 1,
) -> tuple[FloatArray, IntArray]:
    """Return the pipe in straights and where it breaks, by station index with both ends.

    ``line`` is the best grade line over the stations outside spans. A span is part of one straight,
    and nothing is dug there.
    """
    free = np.flatnonzero(~corridor.in_span)
    s = corridor.station_m[free]
    width = np.where(np.diff(free) > 1, 0.0, trench_width_m(limits.outside_diameter_m))
    found = straighten(
        s,
        corridor.highest_m[free],
        corridor.lowest_m[free],
        width,
        line,
        BreakTerms(
            break_price_m3=break_price_m3,
            least_piece_m=limits.least_piece_m,
            rising=limits.min_grade,
            falling=limits.min_grade_falling,
        ),
        passes,
        runs,
    )
    return np.interp(corridor.station_m, s, found.elevation_m), free[found.breaks]


def grade_choices(
    station_m: FloatArray,
    ground_m: FloatArray,
    limits: TrenchLimits,
    spans: Sequence[Span] = (),
) -> tuple[GradeChoice, ...]:
    """Return what the trench would be at several prices of a break, cheapest break first.

    Parameters
    ----------
    station_m, ground_m : FloatArray
        Strictly rising stations, elevations of the ground, shape (n,), n >= 2 [m]
    limits : TrenchLimits
        As the pipe is laid; its own price is the one called "balanced"
    spans : sequence of Span
        Above-ground stretches; their ends must be stations

    Returns
    -------
    tuple of GradeChoice
        From "close to the ground", which digs least, to "fewest grades". The same fewest summits
        and sags for all

    Examples
    --------
    >>> limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
    >>> station = np.arange(0.0, 100.0, 5.0)
    >>> ground = 50.0 - 0.1 * station + 0.04 * np.sin(station)
    >>> [choice.grades for choice in grade_choices(station, ground, limits) if choice.name]
    [18, 3, 1]
    """
    corridor = build_corridor(station_m, ground_m, limits, spans)
    free = ~corridor.in_span
    line = best_grade_line(
        station_m[free], corridor.highest_m[free], corridor.lowest_m[free],
        rising=limits.min_grade, falling=limits.min_grade_falling,
    )  # fmt: skip
    own = limits.break_price_m3
    named: list[tuple[float, ChoiceName | None]] = [
        (0.0, "close to the ground"),
        (own, "balanced"),
        (max(DEAREST_M3, own), "fewest grades"),
    ]
    rows = sorted([*named, *(((own or USUAL_M3) * each, None) for each in FRONT)], key=_by_price)
    return tuple(_choice(corridor, ground_m, line, limits, price, name) for price, name in rows)


def _by_price(row: tuple[float, ChoiceName | None]) -> float:
    return row[0]


def _choice(
    corridor: Corridor,
    ground_m: FloatArray,
    line: GradeLine,
    limits: TrenchLimits,
    price_m3: float,
    name: ChoiceName | None,
) -> GradeChoice:
    pipe_m, breaks = set_straight(corridor, line, limits, price_m3, runs=len(FRONT) + 2)
    dug = excavate(
        corridor.station_m, ground_m, pipe_m, corridor.in_span,
        outside_diameter_m=limits.outside_diameter_m, bedding_m=limits.bedding_m,
    )  # fmt: skip
    return GradeChoice(
        name=name,
        break_price_m3=price_m3,
        grades=breaks.size - 1,
        volume_m3=dug.volume_m3,
        deepest_m=float(np.max(dug.depth_m)),
    )
