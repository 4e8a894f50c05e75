"""Air lock on filling against an independently computed example."""

from __future__ import annotations

import numpy as np
import pytest

from routing.fittings import FittingInputs, trapped_air
from routing.water import water_at


@pytest.fixture(scope="module")
def pockets():
    """Intake 120, summit 116, sag 90, summit 98, outlet 40 m: independently computed."""
    pipe = np.array([119.5, 110.0, 116.0, 90.0, 98.0, 40.0])
    station = np.arange(6) * 150.0
    slope = np.concatenate(([0.0], np.cumsum(np.hypot(np.diff(station), np.diff(pipe)))))
    inputs = FittingInputs(
        station_m=station,
        lon=np.full(6, 10.0),
        lat=np.linspace(60.0, 59.99, 6),
        ground_m=pipe + 1.0,
        pipe_m=pipe,
        in_span=np.zeros(6, bool),
        summits=np.array([2, 4]),
        sags=np.array([1, 3]),
        slope_station_m=slope,
        static_head_m=120.0 - pipe,
        flowing_head_m=None,
        inside_diameter_m=np.full(6, 0.15),
        outside_diameter_m=np.full(6, 0.16),
        intake_level_m=120.0,
        outlet_level_m=40.0,
        water=water_at(10.0),
        rmse_m=None,
        cell_m=1.0,
    )
    return trapped_air(inputs)


def test_trapped_air__needed_and_available(pockets):
    second = pockets[1]
    assert second.needed_m == pytest.approx(26.0, abs=0.05)
    assert second.available_m == pytest.approx(22.0, abs=0.05)


def test_trapped_air__judged_at_the_summit_and_not_by_the_fall_to_the_outlet(pockets):
    # The whole fall is 80 m, three times what is needed: the outlet is the wrong place to look.
    assert pockets[1].verdict == "will not start"


def test_trapped_air__squeezed_at_constant_temperature(pockets):
    # Air at 4.0 m gauge: 26 x 10.335 / 14.335 = 18.7 m. The example takes the air at sea level;
    # at the summit's altitude the column is 0.08 m shorter, which the tolerance must hold.
    assert 26.0 * 10.335 / 14.335 == pytest.approx(18.7, abs=0.05)
    assert pockets[1].compressed_m == pytest.approx(18.7, abs=0.05 + 0.08)
    assert pockets[1].compressed_m < pockets[1].available_m


def test_trapped_air__nothing_is_trapped_before_the_first_summit(pockets):
    first = pockets[0]
    assert (first.needed_m, first.compressed_m, first.verdict) == (0.0, 0.0, "clear")
    assert first.available_m == pytest.approx(4.0)
