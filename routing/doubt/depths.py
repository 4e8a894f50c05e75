"""What a deeper trench saves: the number of summits by play."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from routing.arrays import FloatArray, IntArray
from routing.doubt.line import DoubtedLine
from routing.doubt.sounding import Sounding
from routing.doubt.zigzag import forced_turns
from routing.value import dataclass

__all__ = ["DepthStep", "summits_by_depth"]

EXTRA_M = (0.0, 0.1, 0.2, 0.3, 0.5, 0.75, 1.0, 1.5)
"""Further depths that are tried [m]."""

EVERY = 8
"""One in so many drawn grounds is asked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DepthStep:
    """A further depth [m], the summits that no pipe then avoids, and how many to expect."""

    extra_m: float
    summits: int
    expected: float | None


def summits_by_depth(
    line: DoubtedLine,
    ground_m: FloatArray,
    sounding: Sounding | None,
    extra_m: Sequence[float] = EXTRA_M,
) -> tuple[DepthStep, ...]:
    """Return how many summits are left when the trench may be deeper everywhere.

    Parameters
    ----------
    line : DoubtedLine
        The line and its corridor
    ground_m : FloatArray, shape (n,)
        The ground that the pipe is laid under [m]
    sounding : Sounding or None
        Drawn grounds, to say what to expect
    extra_m : sequence of float
        Further depths, >= 0 [m]

    Returns
    -------
    steps : tuple of DepthStep
        In the order given; more depth never has more summits
    """
    extra = np.asarray(extra_m, dtype=np.float64)
    floor, ceiling = line.corridor_at(line.station_m)
    summits = _summits(ground_m[:, None], floor, ceiling, extra)
    expected: list[float | None] = [None] * extra.size
    if sounding is not None:
        drawn = sounding.ground_m[:, ::EVERY]
        many = _summits(drawn, *line.corridor_at(sounding.station_m), extra)
        expected = (many / drawn.shape[1]).tolist()
    return tuple(
        DepthStep(extra_m=float(more), summits=int(number), expected=mean)
        for more, number, mean in zip(extra, summits, expected, strict=True)
    )


def _summits(
    ground_m: FloatArray, floor_m: FloatArray, ceiling_m: FloatArray, extra_m: FloatArray
) -> IntArray:
    """Return the number of forced summits of all grounds (n, g) for each further depth."""
    points, width = ground_m.shape
    low = ground_m[:, None, :] - floor_m[:, None, None] - extra_m[:, None]
    high = np.broadcast_to(ground_m[:, None, :] - ceiling_m[:, None, None], low.shape)
    turns = forced_turns(low.reshape(points, -1), high.reshape(points, -1))
    many = turns.summits_of(extra_m.size * width)
    return np.asarray(many.reshape(extra_m.size, width).sum(axis=1))
