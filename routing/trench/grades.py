"""The straights of a pipe as a crew sets them out, and the usual price of a break."""

from __future__ import annotations

from itertools import pairwise

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.trade_table import optional_number, trade_table
from routing.trench.corridor import Corridor, TrenchLimits
from routing.trench.excavation import trench_width_m
from routing.trench.grade_line import GradeLine
from routing.trench.straight import FULL_PASSES, BreakTerms, Pass, straighten
from routing.value import dataclass

__all__ = [
    "Grade",
    "list_grades",
    "set_straight",
    "usual_break",
]


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
    name = "fused" if fused else "jointed"
    row = next(row for row in trade_table(__file__, "breaks.csv") if row["pipe"] == name)
    least = optional_number(row["least_piece_m"])
    return float(row["break_price_m3"]), stick_m if least is None else least


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
    passes: tuple[Pass, ...] = FULL_PASSES,
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
    )
    return np.interp(corridor.station_m, s, found.elevation_m), free[found.breaks]
