"""The kinds of elevation data with their local errors, and the numbers of this room."""

from __future__ import annotations

from functools import cache
from math import log2
from typing import Literal

from routing.trade_table import numbers_of, rows_of, trade_table
from routing.value import dataclass

__all__ = ["Limits", "LocalClass", "Source", "Trust", "limits", "local_classes", "trust_in"]

Source = Literal["stated", "class", "step", "none"]
"""What tells the error: a statement for the raster, its kind, its whole units, or nothing."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalClass:
    """The local error of one kind of elevation data: standard error, range, whole steps [m].

    ``steep_sigma_m`` counts where the ground is steeper than 20 %.
    """

    id: str
    sigma_m: float
    steep_sigma_m: float
    range_m: float
    source: str
    status: str


@cache
def local_classes() -> dict[str, LocalClass]:
    """Return the local errors by kind of elevation data.

    >>> local_classes()["srtm"].sigma_m
    1.6
    """
    return {each.id: each for each in rows_of(LocalClass, __file__, "classes.csv")}


@dataclass(frozen=True, slots=True, kw_only=True)
class Trust:
    """How far a told error is believed: multiples of it that are tried, and the odds against them.

    The logarithm of the odds against a multiple grows with the square of its octaves.
    """

    sizes: tuple[float, ...]
    ranges: tuple[float, ...]
    against_size: float
    against_range: float

    def against(self, size: float, reach: float) -> float:
        """Return the logarithm of the odds against these multiples of error and range [-]."""
        return self.against_size * log2(size) ** 2 + self.against_range * log2(reach) ** 2


@cache
def trust_in(source: Source) -> Trust:
    """Return how far an error told by ``source`` is believed.

    >>> trust_in("stated").sizes
    (0.5, 0.7, 1.0, 1.4, 2.0)
    """
    row = next(row for row in trade_table(__file__, "trust.csv") if row["source"] == source)
    return Trust(
        sizes=tuple(float(size) for size in row["sizes"].split(";")),
        ranges=tuple(float(size) for size in row["ranges"].split(";")),
        against_size=float(row["against_size"]),
        against_range=float(row["against_range"]),
    )


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """Every number that the doubt uses; meaning, unit and source in ``limits.csv``."""

    range_m: float
    long_range_m: float
    unknown_sigma_m: float
    interpolated_share: float
    least_error_m: float
    steep_from: float
    bound_share: float
    near_cells: float
    near_m: float
    on_m: float
    level_sd_m: float
    doubtful_below: float
    unlikely_below: float
    least_gain: float
    exceeded_chance: float
    pull: float
    pull_towards: float


@cache
def limits() -> Limits:
    """Return the numbers that the doubt uses.

    >>> limits().doubtful_below
    0.8
    """
    return numbers_of(Limits, __file__, "limits.csv")
