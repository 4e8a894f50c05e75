"""The grounds that may lie under a line, and the turning points of the pipe on each of them."""

from __future__ import annotations

import numpy as np

from routing.arrays import BoolArray, FloatArray, frozen
from routing.doubt.draw import drawn_grounds
from routing.doubt.given_levels import kept_to_levels
from routing.doubt.line import DoubtedLine
from routing.doubt.prior import likely_priors
from routing.doubt.spectra import Knots
from routing.doubt.trade_data import limits, trust_in
from routing.doubt.zigzag import Turns, forced_turns
from routing.value import dataclass

__all__ = ["Sounding", "sound", "there"]

SEED = 20
"""One seed for every study, so that the same line has the same doubt."""

PRIORS, EACH = 8, 32
"""Ways the ground may be, and grounds drawn of each."""

PER_CELL = 3
"""Points a cell at which grounds are drawn, odd."""

LEAST_STEP_M = 1.5
"""Least distance between such points [m]: smaller ground does not turn a pipe."""

MOST_KNOTS = 3000
LEAST_KNOTS = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Sounding:
    """Drawn grounds (n, g) ``fine_m`` apart, and the forced turns of the pipe on each."""

    fine_m: float
    ground_m: FloatArray
    turns: Turns

    def __post_init__(self) -> None:
        object.__setattr__(self, "ground_m", frozen(self.ground_m))

    @property
    def count(self) -> int:
        """Number of grounds."""
        return int(self.ground_m.shape[1])

    @property
    def station_m(self) -> FloatArray:
        """Stations of the grounds' points [m]."""
        return self.fine_m * np.arange(self.ground_m.shape[0], dtype=np.float64)

    def turn_m(self, *, summits: bool) -> tuple[FloatArray, FloatArray]:
        """Return the stations of all summits (or sags) and the ground each belongs to."""
        chosen = self.turns.summit == summits
        return self.station_m[self.turns.place[chosen]], self.turns.ground[chosen]


def sound(line: DoubtedLine) -> Sounding | None:
    """Return grounds drawn for a line and what the pipe would do on them.

    Parameters
    ----------
    line : DoubtedLine
        Profile, trench, error and levels

    Returns
    -------
    Sounding or None
        256 grounds; None where no error is known

    Notes
    -----
    Noise is never added to the raster, whose own noise would count twice: grounds are drawn given
    the raster. A share of these grounds is not yet a chance: see ``hedged``.
    """
    error = line.error
    if error.local_sigma_m is None or error.range_m is None:
        return None
    knots = _knots(line)
    rng = np.random.default_rng(SEED)
    priors = likely_priors(knots, PRIORS, rng)
    ground = drawn_grounds(knots, priors, EACH, rng)
    if line.levels.station_m.size:
        ground = kept_to_levels(ground, knots.fine_m, line.levels, error, rng)
    station = knots.fine_m * np.arange(ground.shape[0], dtype=np.float64)
    floor, ceiling = line.corridor_at(station)
    turns = forced_turns(ground - floor[:, None], ground - ceiling[:, None])
    return Sounding(fine_m=knots.fine_m, ground_m=ground, turns=turns)


def there(line: DoubtedLine, sounding: Sounding, *, summits: bool) -> BoolArray:
    """Return on which grounds each planned summit (or sag) is there, (k, grounds).

    It is there when a true one lies within two cells, or 25 m if that is more, of where it may
    stand, and nearer to that than to any other planned one.
    """
    numbers = limits()
    reach = line.reach_m(summits=summits)
    found = np.zeros((reach.shape[0], sounding.count), dtype=np.bool_)
    if not reach.size:
        return found
    station, ground = sounding.turn_m(summits=summits)
    after = np.minimum(np.searchsorted(reach[:, 0], station), reach.shape[0] - 1)
    before = np.maximum(after - 1, 0)
    off = [
        np.maximum(np.maximum(reach[each, 0] - station, station - reach[each, 1]), 0.0)
        for each in (before, after)
    ]
    owner = np.where(off[0] <= off[1], before, after)
    near = np.minimum(*off) <= max(numbers.near_cells * line.cell_m, numbers.near_m)
    found[owner[near], ground[near]] = True
    return found


def _knots(line: DoubtedLine) -> Knots:
    """Return the profile at knots a cell apart, further apart where a line has very many."""
    error = line.error
    cells = round(line.length_m / max(line.cell_m, LEAST_STEP_M))
    count = int(np.clip(cells + 1, LEAST_KNOTS, MOST_KNOTS))
    apart = line.length_m / (count - 1)
    station = np.linspace(0.0, line.length_m, count)
    return Knots(
        height_m=np.interp(station, line.station_m, line.raster_m),
        cell_m=apart,
        per_cell=PER_CELL if apart >= PER_CELL * LEAST_STEP_M else 1,
        sigma_m=error.local_sigma_m or 0.0,
        range_m=error.range_m or 1.0,
        step_m=error.step_m,
        trust=trust_in("class" if error.lowered_from_m is not None else error.source),
    )
