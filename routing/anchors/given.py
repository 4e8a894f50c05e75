"""Checks of the numbers given to this room, and the requirement that a result is judged by."""

from __future__ import annotations

import math
from dataclasses import dataclass

from routing.errors import InputError
from routing.need import need

__all__ = ["Requirement", "check_diameters"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Requirement:
    """One thing asked of a structure: what it bears, what it may bear, and by which formula.

    ``at_most`` is False where the demand must not fall below the limit, as for a frequency.
    """

    name: str
    demand: float
    limit: float
    unit: str
    formula: str
    at_most: bool = True

    @property
    def passed(self) -> bool:
        """Return whether the limit is kept."""
        return self.demand <= self.limit if self.at_most else self.demand >= self.limit

    @property
    def margin(self) -> float:
        """Return the limit over the demand less one, or the reverse: negative where it fails."""
        above, below = (self.limit, self.demand) if self.at_most else (self.demand, self.limit)
        return math.inf if below <= 0.0 else above / below - 1.0


def check_diameters(outside_diameter_m: float, inside_diameter_m: float) -> None:
    """Raise unless the two diameters can belong to one pipe."""
    need("The outside diameter", outside_diameter_m, above=0.0, unit="m")
    need("The inside diameter", inside_diameter_m, above=0.0, unit="m")
    if inside_diameter_m >= outside_diameter_m:
        raise InputError(
            f"The inside diameter {inside_diameter_m:g} m is not below the outside diameter "
            f"{outside_diameter_m:g} m.",
            "Check that the two were not exchanged, and their units.",
        )
