"""Flotation of an empty pipe against independently computed covers."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from published import gives, published, table

from routing.anchors import anchor_limits, flotation_factor, least_cover_against_uplift_m
from routing.errors import InputError
from routing.pipe import load_catalogue

G = 9.80665
WATER = 999.7 * G  # water of 10 degrees


def least_cover(pipe_id, saturated):
    pipe = load_catalogue().find(pipe_id)
    return least_cover_against_uplift_m(
        outside_diameter_m=pipe.outside_diameter_m, pipe_n_m=pipe.mass_kg_m * G,
        saturated_n_m3=saturated, water_n_m3=WATER,
    )  # fmt: skip


def uplift_of_a_full_pipe(pipe_id):
    pipe = load_catalogue().find(pipe_id)
    area = math.pi / 4 * (pipe.outside_diameter_m**2 - pipe.inside_diameter_m**2)
    return WATER * area - pipe.mass_kg_m * G


# Least cover with a factor of 1.5, computed with the masses of the catalogue; formula after
# vi.scribd.com/document/366093538, factor eng-tips.com qid=50905. PE floats even full, by 8 N/m.
test_flotation__independently_computed = published(
    table(
        "independently computed",
        [
            ("PE100-SDR17-315", 19_000.0, 0.303),
            ("PVC-D2241IPS-SDR41-12in", 19_000.0, 0.334),
            ("STEEL-B3610-10-24in", 19_000.0, 0.535),
        ],
        gives(least_cover, abs=0.0005),
    ),
    table(
        "independently computed",
        [("PVC-D2241IPS-SDR41-12in", 13_000.0, 1.03)],
        gives(least_cover, abs=0.005),
    ),
    table(
        "independently computed",
        [("PE100-SDR17-315", 8.0)],
        gives(uplift_of_a_full_pipe, abs=0.5),
    ),
)


def test_flotation_factor__every_plastic_pipe_floats_in_an_open_trench():
    for pipe in load_catalogue().select():
        if pipe.material.startswith(("PVC", "PE")):
            assert pipe.mass_kg_m * G < WATER * math.pi / 4 * pipe.outside_diameter_m**2


def test_limits__as_published():
    # vi.scribd.com/document/366093538: 0.1073, which is 1/2 - pi/8; factor eng-tips.com qid=50905.
    assert anchor_limits().soil_shoulder == pytest.approx(0.5 - math.pi / 8.0, abs=5e-5)
    assert anchor_limits().flotation_safety == 1.5
    assert anchor_limits().peat_n_m3 == 11_000.0  # peat 11 to 13 kN/m3, common practice


@given(st.floats(0.03, 1.2), st.floats(0.0, 0.9), st.floats(10_500.0, 22_000.0),
       st.floats(1.0, 3.0))  # fmt: skip
def test_least_cover__gives_just_the_factor(diameter, share, saturated, safety):
    uplift = 9810.0 * math.pi / 4 * diameter**2
    common = {"outside_diameter_m": diameter, "pipe_n_m": share * uplift,
              "saturated_n_m3": saturated}  # fmt: skip
    cover = least_cover_against_uplift_m(**common, safety=safety)
    factor = flotation_factor(cover_m=cover, **common)
    assert factor == pytest.approx(safety) if cover > 0.0 else factor >= safety - 1e-9
    assert flotation_factor(cover_m=cover + 0.1, **common) > factor


def test_least_cover__sweeps_to_the_safe_side():
    def cover(**change):
        given = {"outside_diameter_m": 0.3, "pipe_n_m": 100.0, "saturated_n_m3": 19e3}
        return least_cover_against_uplift_m(**{**given, **change})

    assert np.all(np.diff([cover(saturated_n_m3=g) for g in np.linspace(10.5e3, 22e3, 50)]) < 0)
    assert np.all(np.diff([cover(pipe_n_m=w) for w in np.linspace(0.0, 900.0, 50)]) < 0)
    assert np.all(np.diff([cover(safety=s) for s in np.linspace(1.0, 3.0, 50)]) > 0)


def test_flotation_factor__names_what_is_wrong():
    with pytest.raises(InputError, match="saturated soil weighs 9000"):
        flotation_factor(cover_m=0.8, outside_diameter_m=0.3, pipe_n_m=9.0, saturated_n_m3=9000.0)
    with pytest.raises(InputError, match=r"cover is -0\.1"):
        flotation_factor(cover_m=-0.1, outside_diameter_m=0.3, pipe_n_m=9.0)
