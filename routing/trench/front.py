"""What fewer or more straights than a pipe has would dig."""

from __future__ import annotations

from typing import Literal

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.trench.corridor import build_corridor
from routing.trench.excavation import excavate
from routing.trench.grade_line import best_grade_line
from routing.trench.grades import set_straight
from routing.trench.laid import LaidPipe
from routing.trench.straight import QUICK_PASSES
from routing.value import dataclass

__all__ = ["ChoiceName", "GradeChoice", "grade_choices"]

ChoiceName = Literal["close to the ground", "balanced", "fewest grades"]

BETWEEN = (0.25, 2.0, 5.0)
"""Prices shown beside the usual one, as multiples of it [-] (our own choice)."""
DEAREST_M3 = 1000.0
"""A price at which the fewest grades are laid, whatever they dig [m3]."""


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


def grade_choices(pipe: LaidPipe) -> tuple[GradeChoice, ...]:
    """Return what the trench would be at several prices of a break, cheapest break first.

    Parameters
    ----------
    pipe : LaidPipe
        As laid; at its own price it stands among the choices itself

    Returns
    -------
    tuple of GradeChoice
        From "close to the ground", which digs least, over "balanced", the usual price for such pipe
        whatever its own is, to "fewest grades". The same fewest summits and sags for all; found
        among fewer levels than the pipe itself

    Examples
    --------
    >>> from routing.trench import TrenchLimits, lay_pipe
    >>> limits = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
    >>> station = np.arange(0.0, 100.0, 5.0)
    >>> pipe = lay_pipe(station, 50.0 - 0.1 * station + 0.04 * np.sin(station), limits)
    >>> [choice.grades for choice in grade_choices(pipe) if choice.name]
    [19, 1, 1]
    """
    limits, own = pipe.limits, pipe.limits.break_price_m3
    corridor = build_corridor(pipe.station_m, pipe.ground_m, limits, pipe.spans)
    free = ~corridor.in_span
    line = best_grade_line(
        pipe.station_m[free], corridor.highest_m[free], corridor.lowest_m[free],
        rising=limits.min_grade, falling=limits.min_grade_falling,
    )  # fmt: skip
    usual = limits.usual_break_m3
    dearest = max(DEAREST_M3, own)
    names: dict[float, ChoiceName] = {
        0.0: "close to the ground",
        usual: "balanced",
        dearest: "fewest grades",
    }
    return tuple(
        _choice(
            pipe,
            price,
            names.get(price),
            *(
                (pipe.pipe_m, pipe.breaks)
                if price == own
                else set_straight(corridor, line, limits, price, QUICK_PASSES)
            ),
        )
        for price in sorted({own, *names, *(usual * each for each in BETWEEN)})
    )


def _choice(
    pipe: LaidPipe,
    price_m3: float,
    name: ChoiceName | None,
    pipe_m: FloatArray,
    breaks: IntArray,
) -> GradeChoice:
    dug = excavate(
        pipe.station_m, pipe.ground_m, pipe_m, pipe.in_span,
        outside_diameter_m=pipe.limits.outside_diameter_m, bedding_m=pipe.limits.bedding_m,
    )  # fmt: skip
    return GradeChoice(
        name=name,
        break_price_m3=price_m3,
        grades=breaks.size - 1,
        volume_m3=dug.volume_m3,
        deepest_m=float(np.max(dug.depth_m)),
    )
