"""What a vent and a drain have in common: a place on the line, and the rule that asks for it."""

from __future__ import annotations

from typing import Literal

from routing.value import dataclass

__all__ = ["Fitting", "Need"]

Need = Literal["must", "level", "advise"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Fitting:
    """A fitting as placed; SI units.

    ``serves_m`` is the station of the place that asks for it, from which the fitting may stand a
    little off, on straight pipe. ``rule`` is the strongest rule that asks for it.
    """

    id: str
    station_m: float
    serves_m: float
    lon: float
    lat: float
    ground_m: float
    pipe_m: float
    depth_m: float
    static_head_m: float
    flowing_head_m: float | None
    rule: str
