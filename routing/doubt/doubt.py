"""The doubt of a laid pipe: one value from one call."""

from __future__ import annotations

from routing.arrays import FloatArray
from routing.doubt.chances import Chances, Count, chances
from routing.doubt.depths import DepthStep, summits_by_depth
from routing.doubt.error import ElevationError
from routing.doubt.line import DoubtedLine
from routing.doubt.shoot import Shot, levels_to_shoot
from routing.doubt.sounding import sound
from routing.value import dataclass

__all__ = ["Doubt", "doubt_of"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Doubt:
    """How sure a laid pipe is: probabilities of its turns, levels to take, what depth saves."""

    error: ElevationError
    chances: Chances
    shots: tuple[Shot, ...]
    depths: tuple[DepthStep, ...]

    @property
    def expected(self) -> Count | None:
        """Number of summits to expect once the ground is known."""
        return self.chances.expected


def doubt_of(line: DoubtedLine, ground_m: FloatArray) -> Doubt:
    """Return the doubt of a laid pipe.

    Parameters
    ----------
    line : DoubtedLine
        Profile of the raster, trench, error, levels and planned turns
    ground_m : FloatArray, shape (n,)
        The ground that the pipe was laid under, levels blended in [m]

    Returns
    -------
    Doubt
        The same for the same line, whenever it is asked

    Notes
    -----
    About 0.05 s for 2 km and 0.4 s for 12 km of a raster with cells of 26 m
    (``tests/bench/bench_doubt.py``).
    """
    drawn = sound(line)
    found = chances(line, drawn)
    return Doubt(
        error=line.error,
        chances=found,
        shots=() if drawn is None else levels_to_shoot(line, drawn, found),
        depths=summits_by_depth(line, ground_m, drawn),
    )
