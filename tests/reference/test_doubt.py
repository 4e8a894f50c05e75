"""Doubt against published values and against values computed apart from the house."""

from __future__ import annotations

import numpy as np
import pytest

from routing.doubt import (
    bend_rms_m,
    find_error,
    head_sd_m,
    length_excess_m,
    local_classes,
    rough_probability,
)

# Computed apart, with sd^2 = 2 sigma^2 (1 - exp(-d / Lc)) and the normal distribution:
# sigma, range, distance, height [m], standard error [m], probability
TABLE = [
    (0.10, 50.0, 100.0, 0.5, 0.132, 1.000),
    (0.82, 100.0, 100.0, 1.0, 0.922, 0.861),
    (0.82, 100.0, 300.0, 3.0, 1.130, 0.996),
    (4.0, 200.0, 300.0, 5.0, 4.986, 0.842),
    (8.5, 300.0, 300.0, 5.0, 9.557, 0.700),
]


def told(sigma, reach):
    return find_error(rmse_m=sigma, range_m=reach, kind=None, kind_rmse_m=None, step_m=0.0)


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"sigma {row[0]}, {row[2]} m apart")
def test_rough_probability__and_the_error_of_a_difference(row):
    sigma, reach, apart, height, spread, chance = row
    error = told(sigma, reach)
    assert head_sd_m(error, apart) == pytest.approx(spread, abs=0.0006)
    assert rough_probability(height, apart, error) == pytest.approx(chance, abs=0.0006)
    one = rough_probability(head_sd_m(error, apart), apart, error)
    assert one == pytest.approx(0.8413447, abs=1e-6)
    assert rough_probability(0.0, apart, error) == 0.5


def test_head_sd__far_apart_is_root_two_times_one():
    """Two elevations more than three ranges apart: the root of 2 times the error of one."""
    assert head_sd_m(told(0.82, 100.0), 3000.0) == pytest.approx(np.sqrt(2.0) * 0.82)


def test_bend_rms__the_whole_error_of_radar_elevations_is_no_local_error():
    """7.5 m alike over 150 m would bend rows of 25.8 m cells by 6.2 m; computed apart."""
    assert bend_rms_m(7.5, 150.0, 25.8) == pytest.approx(6.2, abs=0.05)


def test_length_excess__of_an_error_of_3_m():
    """Sigma 3 m, range 150 m, cell 26 m lengthen a gentle line by 0.2 %; computed apart."""
    assert length_excess_m(told(3.0, 150.0), 26.0, 1000.0, 0.1) == pytest.approx(2.0, abs=0.2)


def test_local_classes__radar_elevations():
    """Becek 2008, doi 10.1029/2008GL034592: 1.55 m on 302 runways."""
    assert local_classes()["srtm"].sigma_m == pytest.approx(1.55, abs=0.06)


def test_local_classes__relative_error_of_two_points():
    """LE90 of 2 m (4 m on steep ground) from point to point: over 1.6449 and the root of 2."""
    row = local_classes()["copernicus"]
    assert row.sigma_m == pytest.approx(2.0 / 1.6449 / np.sqrt(2.0), abs=0.05)
    assert row.steep_sigma_m == pytest.approx(4.0 / 1.6449 / np.sqrt(2.0), abs=0.05)
