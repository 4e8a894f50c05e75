"""The bench on a slope: the triangle itself, and values worked by hand."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.trench import bench_area_m2, lay_bench


@pytest.mark.parametrize(
    ("width", "ground_deg", "face_deg", "area"),
    # Worked by hand from w2 tan(g) / (2 (1 - tan g / tan c)): no handbook prints it.
    [(1.5, 25.0, 63.4349, 0.684), (2.0, 10.0, 45.0, 0.4282), (1.5, 0.0, 63.4, 0.0)],
)
def test_bench_area_m2__by_hand(width, ground_deg, face_deg, area) -> None:
    slope, face = (math.tan(math.radians(each)) for each in (ground_deg, face_deg))
    assert bench_area_m2(width, np.array([slope]), face) == pytest.approx(area, abs=5e-4)


@given(st.floats(0.5, 6.0), st.floats(0.01, 0.9), st.floats(1.0, 10.0))
def test_bench_area_m2__is_the_triangle_between_ground_bench_and_face(width, slope, face) -> None:
    """Ground through the origin, bench level from there into the hill, face up to the ground."""
    x = width * face / (face - slope)  # where the face meets the ground
    triangle = shapely.Polygon([(0.0, 0.0), (width, 0.0), (x, slope * x)])
    assert bench_area_m2(width, np.array([slope]), face)[0] == pytest.approx(triangle.area)
    assert bench_area_m2(width, np.array([-slope]), face)[0] == pytest.approx(triangle.area)


def test_bench_area_m2__sweep_grows_with_slope_and_ends_at_the_face() -> None:
    slopes = np.linspace(0.0, 1.999, 400)
    area = bench_area_m2(1.5, slopes, 2.0)
    assert np.all(np.isfinite(area))
    assert np.all(np.diff(area) > 0.0)
    assert np.isinf(bench_area_m2(1.5, np.array([2.0, 2.5]), 2.0)).all()


@pytest.mark.parametrize(("width", "face"), [(-1.0, 2.0), (math.nan, 2.0), (1.5, 0.0)])
def test_bench_area_m2__refuses(width, face) -> None:
    with pytest.raises(InputError):
        bench_area_m2(width, np.array([0.3]), face)


def laid(slope: np.ndarray, span: np.ndarray | None = None, **more: float):
    station = np.arange(slope.size) * 1.0
    above = np.zeros(slope.size, dtype=bool) if span is None else span
    return lay_bench(
        station, slope, above, **{"width_m": 1.5, "from_slope": 0.2, "face": 2.0, **more}
    )


def test_lay_bench__an_even_slope_is_area_times_length() -> None:
    bench = laid(np.full(101, 0.4))
    (stretch,) = bench.stretches
    assert (stretch.from_m, stretch.to_m) == (0.0, 100.0)
    assert bench.volume_m3 == pytest.approx(100.0 * 1.5**2 * 0.4 / (2 * 0.8))


def test_lay_bench__gentle_ground_and_spans_have_none() -> None:
    assert laid(np.full(50, 0.2)).stretches == ()
    assert laid(np.full(50, 0.5), np.ones(50, dtype=bool)).stretches == ()
    assert laid(np.full(50, np.nan)).stretches == ()
    assert laid(np.full(50, 0.4), width_m=0.0).volume_m3 == 0.0


def test_lay_bench__short_gaps_are_benched_and_long_ones_are_not() -> None:
    slope = np.full(100, 0.3)
    slope[20:26], slope[50:75] = 0.1, 0.1
    assert [(each.from_m, each.to_m) for each in laid(slope).stretches] == [(0, 49), (75, 99)]


@given(st.lists(st.floats(-1.9, 1.9), min_size=2, max_size=40))
def test_lay_bench__turned_round_it_is_the_same_digging(slopes) -> None:
    slope = np.array(slopes)
    there, back = laid(slope), laid(-slope[::-1])
    assert there.volume_m3 == pytest.approx(back.volume_m3)
    assert len(there.stretches) == len(back.stretches)
    assert there.volume_m3 >= 0.0


@pytest.mark.parametrize(("apart", "count"), [(9, 1), (10, 2), (15, 2)])
def test_lay_bench__stretches_less_than_ten_metres_apart_are_one(apart: int, count: int) -> None:
    # A machine does not climb off its bench for less: common practice, no source.
    slope = np.full(61, 0.05)
    slope[10:21] = slope[20 + apart : 31 + apart] = 0.4
    assert len(laid(slope).stretches) == count
