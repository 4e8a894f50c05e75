"""Water shared among all lower neighbours: known shares, nothing lost, turned ground."""

from __future__ import annotations

import numpy as np
import pytest
from filled_ground import around, downstream, filled
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from routing.catchment import catchment_areas, drain, spread, spread_areas
from routing.errors import RasterTooLarge
from routing.terrain import open_terrain


@pytest.fixture
def drained(make_raster):
    """Return the maker: heights in, drainage out."""

    def make(heights, **options):
        return drain(open_terrain([make_raster(heights, nodata=np.nan, **options)]))

    return make


def ground(seed, shape=(40, 30), step=None):
    rng = np.random.default_rng(seed)
    walk = np.cumsum(np.cumsum(rng.normal(size=shape), axis=0), axis=1)
    walk = walk if step is None else np.round(walk / step) * step
    return walk.astype(np.float32).astype(float)


def cells(found, result):
    return result.area_m2 / found.sizes.area_m2.mean()


def test_spread_areas__shares_go_with_the_slope_to_the_power_1_1(drained):
    """Freeman 1991: of falls 2 east, 1 south and 3 south-east, from a lone peak."""
    heights = np.full((5, 5), 90.0)
    heights[1, 1] = 100.0
    heights[0] = heights[:, 0] = 101.0
    heights[1, 2], heights[2, 1], heights[2, 2], heights[0, 2], heights[2, 0] = (
        98.0, 99.0, 97.0, 101.0, 101.0,
    )  # fmt: skip
    found = drained(heights)
    slopes = np.array([2.0, 1.0, 3.0 / np.sqrt(2.0)]) ** 1.1
    whole = cells(found, spread_areas(found))
    comes = whole[1, 1]
    assert comes > 1.0
    share = np.empty(8)
    raised = filled(heights).astype(np.float32)
    spread._shares(found.directions, raised, found.sizes.steps(0, 5), 1, 1, share)
    np.testing.assert_allclose(share[[0, 2, 1]], slopes / slopes.sum(), rtol=1e-6)
    assert share.sum() == pytest.approx(1.0)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    heights=arrays(
        np.float64,
        st.tuples(st.integers(2, 12), st.integers(2, 9)),
        elements=st.one_of(st.integers(0, 5).map(float), st.just(np.nan)),
        fill=st.integers(0, 5).map(float),
    )
)
def test_spread_areas__nothing_is_lost_on_any_ground(drained, heights):
    if np.isnan(heights).all():
        return
    found = drained(heights)
    out = cells(found, spread_areas(found))[found.directions == 8]
    assert out.sum() == pytest.approx(np.count_nonzero(np.isfinite(heights)), rel=1e-4)


@pytest.mark.parametrize("step", [None, 4.0], ids=["rough", "terraces"])
def test_spread_areas__nothing_is_lost(drained, step):
    heights = ground(3, step=step)
    heights[10:14, 5:9] = np.nan
    found = drained(heights)
    out = cells(found, spread_areas(found))[found.directions == 8]
    assert out.sum() == pytest.approx(np.count_nonzero(np.isfinite(heights)), rel=1e-4)


def test_spread_areas__by_the_plainest_means(drained):
    """Cells by falling filled level, on one level the farther first, each handing on its shares."""
    heights = ground(5)
    found = drained(heights)
    level = filled(heights)
    area = np.ones(heights.shape)
    away = {cell: len(list(downstream(found.directions, *cell))) for cell in np.ndindex(40, 30)}
    for cell in sorted(away, key=lambda cell: (-level[cell], -away[cell])):
        if found.directions[cell] == 8:
            continue
        falls = {
            near: ((level[cell] - level[near]) / np.hypot(near[0] - cell[0], near[1] - cell[1]))
            ** 1.1
            for near in around(heights.shape, *cell)
            if level[near] < level[cell]
        }
        falls = falls or {list(downstream(found.directions, *cell))[1]: 1.0}
        for near, fall in falls.items():
            area[near] += area[cell] * fall / sum(falls.values())
    np.testing.assert_allclose(cells(found, spread_areas(found)), area, rtol=1e-4)


def test_spread_areas__on_a_straight_slope_all_is_even(drained):
    found = drained(np.add.outer(-np.arange(12.0), -2.0 * np.arange(12.0)))
    whole = cells(found, spread_areas(found))
    assert whole[0, 0] == pytest.approx(1.0, rel=1e-4)
    assert np.all(np.diff(whole.diagonal()) > 0.0)
    assert whole.max() < cells(found, catchment_areas(found)).max() * 1.001


def test_spread_areas__turned_ground_has_turned_areas(drained):
    heights = ground(11, (30, 30))
    found = drained(heights)
    straight = cells(found, spread_areas(found))
    turned = drained(np.rot90(heights))
    np.testing.assert_allclose(np.rot90(straight), cells(turned, spread_areas(turned)), rtol=1e-4)


def test_spread_areas__gathers_as_much_in_the_valleys(drained):
    """Where all water must pass one cell, both ways of sharing agree."""
    col, row = np.meshgrid(np.abs(np.arange(-6.0, 7.0)), np.arange(9.0))
    heights = np.where(row < 8, col * 5.0 - 0.01 * row, 99.0)
    heights[8, 6] = -1.0
    heights[0] = heights[:, 0] = heights[:, -1] = 99.0
    found = drained(heights)
    one, many = catchment_areas(found), spread_areas(found)
    assert many.area_m2[8, 6] == pytest.approx(one.area_m2[8, 6], rel=0.15)
    assert many.at_least[8, 6] == 1


def test_spread_areas__refuses_what_it_cannot_hold(drained, monkeypatch):
    monkeypatch.setattr(spread, "ONE_PIECE_CELLS", 8)
    with pytest.raises(RasterTooLarge, match='method = "d8"'):
        spread_areas(drained(np.zeros((3, 3))))
