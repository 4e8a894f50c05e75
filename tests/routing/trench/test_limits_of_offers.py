"""How deep a hump may be to be offered, and how small a turn may be to be left to the joints."""

from __future__ import annotations

import numpy as np
import pytest

from routing.trench import TrenchLimits, lay_pipe
from routing.trench.bends import find_bends

LIMITS = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)


@pytest.mark.parametrize(("extra_m", "offered"), [(1.45, True), (1.55, False)])
def test_dig_offers__up_to_a_metre_and_a_half(extra_m: float, offered: bool) -> None:
    # Our own choice: deeper trenches want shoring and another machine.
    station = np.arange(0.0, 201.0, 10.0)
    ground = 100.0 - 0.05 * station
    # The hump stands above the station before it; 0.2 m of that the limits allow, and the falling
    # grade of 1:300 over those 10 m must be dug too.
    ground[10] = ground[9] + extra_m + 0.2 - 10.0 / 300.0
    offers = lay_pipe(station, ground, LIMITS).offers
    assert [offer.extra_depth_m for offer in offers] == pytest.approx([extra_m] * offered)


@pytest.mark.parametrize(("turn_deg", "found"), [(1.95, 0), (2.05, 1)])
@pytest.mark.parametrize("in_plan", [True, False])
def test_find_bends__from_two_degrees(turn_deg: float, found: int, in_plan: bool) -> None:
    # Common practice: a gasketed joint takes up to about two degrees.
    station, turn = np.arange(0.0, 201.0, 5.0), np.radians(turn_deg)
    after = np.maximum(station - 100.0, 0.0)
    pipe = 100.0 - (0.0 if in_plan else np.tan(turn)) * after
    corners = [100.0], [turn if in_plan else 0.0]
    breaks = np.array([0, 40] if in_plan else [0, 20, 40])
    assert len(find_bends(station, pipe, breaks, *map(np.array, corners))) == found
