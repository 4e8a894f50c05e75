"""Air lock on filling against an independently computed example."""

from __future__ import annotations

import numpy as np
import pytest
from made_line import air_of, made_line


@pytest.fixture(scope="module")
def pockets():
    """Intake 120, summit 116, sag 90, summit 98, outlet 40 m: independently computed."""
    pipe = np.array([119.5, 110.0, 116.0, 90.0, 98.0, 40.0])
    station = np.arange(6) * 150.0
    return air_of(made_line(station, pipe, intake_level=120.0, outlet_level=40.0, bore=0.15))


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
