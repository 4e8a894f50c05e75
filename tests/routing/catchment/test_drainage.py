"""Flow directions on ground whose water is known, and what holds on any ground."""

from __future__ import annotations

import numpy as np
import pytest
from filled_ground import cells_through, filled, highest_on_the_way
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from routing.catchment import catchment_areas, drain, drainage
from routing.errors import NotElevation, RasterTooLarge
from routing.terrain import open_terrain

E, SE, S, SW, W, NW, N, NE, OUT, VOID = *range(9), 255

SAME_FOLDER = settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)


@pytest.fixture
def drained(make_raster):
    """Return the maker: heights in, drainage out."""

    def make(heights, **options):
        return drain(open_terrain([make_raster(heights, nodata=np.nan, **options)]))

    return make


def cells(found):
    """Return the catchment of each cell in cells of the raster."""
    return catchment_areas(found).area_m2 / found.sizes.area_m2.mean()


def test_drain__plane_runs_straight_down(drained):
    found = drained(np.tile(-np.arange(7.0), (5, 1)))
    assert np.all(found.directions[:, :-1] == E)
    assert np.all(found.directions[:, -1] == OUT)
    np.testing.assert_allclose(cells(found), np.tile(np.arange(1, 8), (5, 1)), rtol=1e-5)


def test_drain__diagonal_counts_its_length(drained):
    """Of a fall of 1 to the east and 1.3 to the south-east the nearer one is the steeper."""
    heights = np.full((3, 3), 10.0)
    heights[1, 2], heights[2, 2] = 9.0, 10.0 - 1.3
    assert drained(heights).directions[1, 1] == E
    heights[2, 2] = 10.0 - 1.5
    assert drained(heights).directions[1, 1] == SE


def test_drain__degrees_are_longer_to_the_north_than_to_the_east(drained):
    """At 60 degrees a degree of longitude is half one of latitude, and its slope double."""
    heights = np.full((3, 3), 10.0)
    heights[1, 2], heights[2, 1] = 9.0, 8.5
    where = {"crs": "EPSG:4326", "cell": 0.001}
    assert drained(heights, origin=(10.0, 60.0), **where).directions[1, 1] == E
    assert drained(heights, origin=(10.0, 0.0), **where).directions[1, 1] == S


def test_drain__cone_sheds_an_equal_share_to_each_side(drained):
    side = np.arange(-10.0, 11.0)
    found = drained(-np.hypot(*np.meshgrid(side, side * 1.0001)))
    assert found.depressions == 0
    out = cells(found)[found.directions == OUT]
    assert out.sum() == pytest.approx(21 * 21, rel=1e-5)
    rim = np.where(found.directions == OUT, cells(found), 0.0)
    assert rim.sum(axis=0)[0] == pytest.approx(rim.sum(axis=0)[-1], abs=21)
    assert rim.sum(axis=1)[0] == pytest.approx(rim.sum(axis=1)[-1], abs=21)


def test_drain__valley_gathers_whole_rows(drained):
    col, row = np.meshgrid(np.abs(np.arange(-6.0, 7.0)), np.arange(9.0))
    found = drained(col - 0.01 * row)
    np.testing.assert_allclose(cells(found)[:, 6], 13.0 * np.arange(1, 10), rtol=1e-5)


def test_drain__pit_overflows_at_its_lowest_rim(drained):
    heights = np.tile(-0.1 * np.arange(9.0), (7, 1))
    heights[1:6, 2:7] = 2.0
    heights[2:5, 3:6] = -3.0
    heights[3, 4] = -4.0
    heights[1, 4] = 1.0
    found = drained(heights)
    assert found.directions[3, 4] == N
    assert found.directions[2, 4] == N
    assert found.directions[1, 4] in (NW, N, NE)
    assert cells(found)[1, 4] == pytest.approx(25, rel=1e-4)
    assert found.depressions == 1
    assert found.turned == 3


def test_drain__depressions_within_a_depression_leave_together(drained):
    heights = np.full((7, 11), 9.0)
    heights[3, 1:10] = [5.0, 1.0, 3.0, 0.0, 4.0, 2.0, 5.0, 7.0, 8.0]
    heights[3, 10] = 6.0
    found = drained(heights)
    assert list(found.directions[3, 1:10]) == [E] * 9
    np.testing.assert_array_equal(highest_on_the_way(heights, found.directions), filled(heights))


def test_drain__saddle_parts_the_water(drained):
    x, y = np.meshgrid(np.arange(-8.0, 9.0), np.arange(-8.5, 9.0))
    found = drained(x**2 - y**2)
    rim = np.where(found.directions == OUT, cells(found), 0.0)
    assert rim[0].sum() == pytest.approx(rim[-1].sum(), rel=1e-5)
    assert rim[0].sum() == pytest.approx(17 * 18 / 2, rel=1e-5)


def test_drain__level_ground_runs_to_its_one_way_out(drained):
    heights = np.full((9, 11), 5.0)
    heights[0] = heights[-1] = heights[:, 0] = heights[:, -1] = 8.0
    heights[4, -1] = 3.0
    found = drained(heights)
    assert found.depressions == 0
    assert cells(found)[4, -1] == pytest.approx(9 * 11, rel=1e-4)
    assert not np.any(found.directions[1:-1, 1:-1] == W)


def test_drain__level_ground_runs_away_from_higher_ground(drained):
    """Beside the wall the water leaves it at once instead of running along (Barnes 2014)."""
    heights = np.full((9, 12), 5.0)
    heights[0] = heights[-1] = heights[:, 0] = 8.0
    heights[:, -1] = 5.0
    heights[1:-1, -1] = 4.0
    found = drained(heights)
    assert np.all(found.directions[1, 1:5] == SE)
    assert np.all(found.directions[-2, 1:5] == NE)
    assert np.all(found.directions[4, 1:-1] == E)


def test_drain__missing_elevation_is_a_way_out(drained):
    heights = np.full((5, 5), 5.0)
    heights[1:4, 1:4] = 4.0
    heights[2, 2] = np.nan
    found = drained(heights)
    assert found.directions[2, 2] == VOID
    assert found.depressions == 0
    assert catchment_areas(found).area_m2[2, 2] == 0.0


@pytest.mark.parametrize("strip", [10**7, 60])
@SAME_FOLDER
@given(
    heights=arrays(
        np.float64,
        st.tuples(st.integers(1, 24), st.integers(1, 9)),
        elements=st.one_of(st.integers(0, 4).map(float), st.just(np.nan)),
        fill=st.integers(0, 4).map(float),
    )
)
def test_drain__every_cell_drains_out_over_the_lowest_pass(drained, monkeypatch, strip, heights):
    if np.isnan(heights).all():
        return
    monkeypatch.setattr(drainage, "STRIP_CELLS", strip)
    monkeypatch.setattr(drainage, "LEAST_ROWS", 4)
    found = drained(heights)
    np.testing.assert_array_equal(found.directions == VOID, np.isnan(heights))
    np.testing.assert_array_equal(highest_on_the_way(heights, found.directions), filled(heights))
    total = np.count_nonzero(np.isfinite(heights))
    assert cells(found)[found.directions == OUT].sum() == pytest.approx(total, rel=1e-4)
    np.testing.assert_allclose(cells(found), cells_through(found.directions), rtol=1e-4)


@pytest.mark.parametrize("seed", range(4))
def test_drain__strips_change_nothing_where_no_two_cells_are_level(drained, monkeypatch, seed):
    heights = rough(seed, (80, 40))
    whole = drained(heights)
    monkeypatch.setattr(drainage, "STRIP_CELLS", 800)
    parts = drained(heights)
    np.testing.assert_array_equal(whole.directions, parts.directions)
    assert (whole.depressions, whole.turned) == (parts.depressions, parts.turned)


def rough(seed, shape):
    """Return ground that walks at random, no two cells level."""
    rng = np.random.default_rng(seed)
    walk = np.cumsum(np.cumsum(rng.normal(size=shape), axis=0), axis=1)
    return (walk + rng.uniform(0.0, 0.5, shape)).astype(np.float32).astype(float)


@pytest.mark.parametrize(
    "turn",
    [np.flipud, np.fliplr, np.rot90, lambda grid: np.rot90(grid, 2), np.transpose],
    ids=["upside down", "mirrored", "turned", "turned twice", "transposed"],
)
def test_drain__turned_ground_has_turned_catchments(drained, turn):
    heights = rough(11, (30, 30))
    straight, turned = cells(drained(heights)), cells(drained(turn(heights)))
    np.testing.assert_allclose(turn(straight), turned, rtol=1e-4)


def test_drain__compiled_and_interpreted_are_the_same(drained, monkeypatch):
    from routing import compiled

    heights = np.round(rough(3, (30, 40)))
    plain = drained(heights)
    monkeypatch.setitem(compiled._preference, "compiled", True)
    native = drained(heights)
    np.testing.assert_array_equal(plain.directions, native.directions)
    np.testing.assert_array_equal(catchment_areas(plain).area_m2, catchment_areas(native).area_m2)


def test_drain__refuses_what_is_too_large_or_empty(drained, monkeypatch):
    with pytest.raises(NotElevation, match="No cell"):
        drained(np.full((3, 3), np.nan))
    monkeypatch.setattr(drainage, "MOST_CELLS", 8)
    with pytest.raises(RasterTooLarge, match="3 x 3 cells"):
        drained(np.zeros((3, 3)))


def test_drain__tells_how_far_it_is(make_raster, monkeypatch):
    monkeypatch.setattr(drainage, "STRIP_CELLS", 100)
    told = []
    drain(open_terrain([make_raster(rough(1, (64, 10)))]), progress=told.append)
    assert told == sorted(told)
    assert len(told) == 4
    assert 0.9 <= told[-1] <= 1.0
