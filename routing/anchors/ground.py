"""The ground that a line stands in: what it bears, and what it weighs under water."""

from __future__ import annotations

from routing.anchors.soil import DEFAULT_SOIL_SET, Bearing, SoilSet, bearing_of_soil
from routing.anchors.trade_data import anchor_limits
from routing.value import dataclass
from routing.water import Water

__all__ = ["Ground"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Ground:
    """The ground along a line; ``soil`` is None where nobody named it, ``soil_set`` the table."""

    soil: str | None = None
    soil_set: SoilSet = DEFAULT_SOIL_SET

    def bearing(self, depth_m: float) -> Bearing:
        """Return what the ground bears beside a block whose centre lies this deep."""
        return bearing_of_soil(self.soil, max(depth_m, 0.0), self.soil_set)

    @property
    def saturated_n_m3(self) -> float:
        """Return what it weighs with its pores full of water [N/m3]."""
        numbers = anchor_limits()
        peat = self.soil is not None and self.soil.strip().lower() == "peat"
        return numbers.peat_n_m3 if peat else numbers.saturated_n_m3

    def submerged_n_m3(self, water: Water) -> float:
        """Return what it weighs under water [N/m3]."""
        return self.saturated_n_m3 - water.weight_n_m3
