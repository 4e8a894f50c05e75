"""Least walls and masses that follow from the sizes, against the standards' own."""

from __future__ import annotations

import math

import pytest

from routing.pipe import load_catalogue, pipe_by_hand
from routing.strength import least_wall_m

FIND = load_catalogue().find


def by_hand(id: str):
    made = FIND(id)
    return made, pipe_by_hand(
        material=made.material, inside_diameter_m=made.inside_diameter_m, wall_m=made.wall_m
    )


def test_least_wall__steel_may_be_rolled_an_eighth_thinner():
    # ASME B36.10M, from memory: mill tolerance 12.5 %; 8 in STD 8.18 mm, at least 7.157 mm.
    _, hand = by_hand("STEEL-B3610-STD-8in")
    assert 1000 * least_wall_m(hand) == pytest.approx(7.157, abs=5e-3)


def test_least_wall__plastic_mean_is_six_percent_over_the_least():
    # ASTM F714, from memory: bore = OD - 2.12 OD/DR, so the mean wall is 1.06 times the least.
    made, hand = by_hand("PE4710-IPS-DR11-8in")
    assert least_wall_m(hand) == pytest.approx(made.outside_diameter_m / 11.0, rel=2e-3)


@pytest.mark.parametrize("id", ["STEEL-B3610-STD-8in", "PE100-SDR17-200", "PVC-D2241IPS-SDR26-8in"])
def test_mass__that_of_the_ring(id):
    made = FIND(id)
    ring = math.pi * (made.outside_diameter_m - made.wall_m) * made.wall_m
    assert made.mass_kg_m == pytest.approx(ring * made.density_kg_m3, rel=0.03)
