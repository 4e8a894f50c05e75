"""What is known of a raster's error."""

from __future__ import annotations

import numpy as np
import pytest
from known_ground import exponential_error

from routing.doubt import (
    bend_rms_m,
    bounded_error,
    exceeded_head_m,
    find_error,
    head_sd_m,
    length_excess_m,
    local_classes,
    whole_units,
)
from routing.errors import InputError
from routing.terrain.accuracy import source_classes


def told(**given):
    names = {"rmse_m": None, "range_m": None, "kind": None, "kind_rmse_m": None, "step_m": 0.0}
    return find_error(**{**names, **given})


def test_find_error__stated_alone_is_all_local():
    error = told(rmse_m=0.8)
    assert (error.local_sigma_m, error.long_sigma_m, error.range_m) == (0.8, 0.0, 100.0)
    assert error.source == "stated"
    assert told(rmse_m=0.8, range_m=150.0).range_m == 150.0


def test_find_error__a_kind_splits_what_is_stated():
    error = told(rmse_m=5.0, kind="srtm", kind_rmse_m=7.5)
    assert error.local_sigma_m == 1.6
    assert np.hypot(error.local_sigma_m, error.long_sigma_m) == pytest.approx(5.0)
    assert error.source == "stated"
    assert told(rmse_m=1.0, kind="srtm", kind_rmse_m=7.5).local_sigma_m == 1.0
    assert told(kind="srtm", kind_rmse_m=7.5).source == "class"
    assert told(kind="copernicus", kind_rmse_m=2.43, steep=True).local_sigma_m == 1.7


def test_find_error__whole_units_and_nothing_else():
    error = told(step_m=0.3048)
    assert (error.source, error.local_sigma_m, error.long_sigma_m) == ("step", 0.5, None)
    nothing = told()
    assert (nothing.source, nothing.local_sigma_m, nothing.range_m) == ("none", None, None)
    assert head_sd_m(nothing, 500.0) is None
    assert length_excess_m(nothing, 10.0, 500.0, 0.1) is None


@pytest.mark.parametrize("bad", [{"rmse_m": 0.0}, {"rmse_m": np.nan}, {"range_m": -5.0}])
def test_find_error__refuses_what_cannot_be(bad):
    with pytest.raises(InputError):
        told(**bad)


def test_local_classes__are_kinds_of_the_terrain_and_less_than_the_whole():
    whole = {kind.id: kind.rmse_m for kind in source_classes()}
    for name, row in local_classes().items():
        assert 0.0 < row.sigma_m <= row.steep_sigma_m < whole[name]
        assert row.status


@pytest.mark.parametrize("range_m", [20.0, 100.0, 400.0])
def test_bend_rms__of_a_made_error(range_m):
    error = 2.0 * exponential_error((256, 512), 30.0, range_m, np.random.default_rng(0))
    rms = np.sqrt(np.mean(np.diff(error, 2, axis=1) ** 2))
    assert rms == pytest.approx(bend_rms_m(2.0, range_m, 30.0), rel=0.03)


def test_bounded_error__lowers_what_the_raster_contradicts():
    rng = np.random.default_rng(1)
    grid = 1.6 * exponential_error((64, 512), 30.0, 100.0, rng)
    bends = np.stack([np.diff(grid[10], 2), np.diff(grid[40], 2)], axis=1)
    lowered = bounded_error(told(rmse_m=7.5), bends, 30.0)
    assert lowered.lowered_from_m == 7.5
    assert 0.9 < lowered.local_sigma_m < 2.0
    right = bounded_error(told(rmse_m=0.8), bends, 30.0)
    assert right.lowered_from_m is None
    assert bounded_error(told(rmse_m=7.5), np.full((40, 2), np.nan), 30.0).local_sigma_m == 7.5
    assert bounded_error(told(step_m=1.0), bends, 30.0).lowered_from_m is None


def test_whole_units__of_values():
    assert whole_units(np.array([3.0, 4.0, np.nan]))
    assert not whole_units(np.array([3.0, 3.0]))
    assert not whole_units(np.array([]))


def test_head_sd__both_parts_rounding_and_levelled_ends():
    error = told(rmse_m=5.0, kind="srtm", kind_rmse_m=7.5, step_m=1.0)
    whole = head_sd_m(error, 2000.0)
    # Independent: the variance of a difference from the covariance function itself.
    local = 1.6**2 * (1.0 - np.exp(-2000.0 / 100.0))
    long = (25.0 - 1.6**2) * (1.0 - np.exp(-2000.0 / 3000.0))
    assert whole == pytest.approx(np.sqrt(2.0 * (local + long) + 1.0 / 6.0))
    assert head_sd_m(error, 2000.0, 1) == pytest.approx(whole / np.sqrt(2.0))
    assert head_sd_m(error, 2000.0, 2) == 0.0
    assert exceeded_head_m(1.0, 0.5) == pytest.approx(0.0)


def test_length_excess__of_a_made_error():
    rng = np.random.default_rng(2)
    error = 3.0 * exponential_error((128, 1024), 26.0, 150.0, rng)
    plan = 26.0 * np.arange(error.shape[1])
    rough = error - 0.1 * plan
    steps = np.hypot(26.0, np.diff(rough, axis=1)).sum(axis=1).mean()
    excess = steps - plan[-1] * np.sqrt(1.01)
    told_ = told(rmse_m=3.0, range_m=150.0)
    assert length_excess_m(told_, 26.0, plan[-1], 0.1) == pytest.approx(excess, rel=0.06)
