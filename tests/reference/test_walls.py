"""The wall at the thinnest place of a pipe of which only the nominal or mean wall is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from routing.pipe import is_plastic, load_catalogue
from routing.strength.ring import least_wall_m

CATALOGUE = load_catalogue()


def without_least(name: str):
    pipe = CATALOGUE.find(name)
    return pipe, replace(pipe, wall_least_m=None)


# ASME B36.10M: nominal wall of Schedule 40 pipe [mm], of which 12.5 % may be missing.
STEEL = {"STEEL-B3610-40-4in": 6.02, "STEEL-B3610-40-8in": 8.18, "STEEL-B3610-STD-12in": 9.53}


@pytest.mark.parametrize("name", STEEL)
def test_least_wall__steel_an_eighth_below_nominal(name: str) -> None:
    pipe, bare = without_least(name)
    assert least_wall_m(bare) == pytest.approx(STEEL[name] * 0.875e-3, abs=5e-7)
    assert least_wall_m(pipe) == pytest.approx(least_wall_m(bare), abs=2e-5)


# Mean inside diameter is OD - 2.12 OD / DR by the convention of the Plastics Pipe Institute, so
# that the mean wall is 1.06 times the least, OD / DR. OD [mm] and DR of ASTM F714 sizes.
PLASTIC = {"PE4710-IPS-DR21-8in": (219.07, 21.0), "PE4710-IPS-DR11-4in": (114.3, 11.0)}


@pytest.mark.parametrize("name", PLASTIC)
def test_least_wall__plastic_mean_over_least(name: str) -> None:
    outside, ratio = PLASTIC[name]
    pipe, bare = without_least(name)
    assert 1e3 * pipe.inside_diameter_m == pytest.approx(outside - 2.12 * outside / ratio, abs=0.02)
    assert 1e3 * least_wall_m(bare) == pytest.approx(outside / ratio, abs=0.01)


def test_least_wall__of_every_pipe_is_below_the_wall_given() -> None:
    for pipe in map(CATALOGUE.find, CATALOGUE.ids):
        bare = replace(pipe, wall_least_m=None)
        share = least_wall_m(bare) / pipe.wall_m
        assert share == pytest.approx(1.0 / 1.06 if is_plastic(pipe.material) else 0.875)
        assert least_wall_m(pipe) <= pipe.wall_m
