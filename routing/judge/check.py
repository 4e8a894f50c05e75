"""One requirement of a line, judged: what is asked, what is there, and what is in hand."""

from __future__ import annotations

import math
from dataclasses import dataclass

__all__ = ["Check"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """A requirement with its demand and limit in one unit, where it is tightest, and its rule.

    ``at_most`` is False where the demand must not fall below the limit. ``place`` names what is
    judged (a pipe, a span, a vent); ``station_m`` is None for the line as a whole.
    """

    subject: str
    place: str
    demand: float
    limit: float
    unit: str
    station_m: float | None
    rule: str
    source: str
    at_most: bool = True

    @property
    def margin(self) -> float:
        """Return what is in hand as a share of the limit; negative where the check fails.

        >>> Check(subject="x", place="y", demand=60.0, limit=80.0, unit="kPa", station_m=None,
        ...       rule="r", source="s").margin
        0.25
        """
        spare = self.limit - self.demand if self.at_most else self.demand - self.limit
        if self.limit == 0.0:
            return math.copysign(math.inf, spare) if spare else 0.0
        return spare / abs(self.limit)

    @property
    def passed(self) -> bool:
        """Return whether the requirement is kept."""
        return self.margin >= 0.0
