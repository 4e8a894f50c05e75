import numpy as np
import pytest

from routing.errors import InputError
from routing.trench import Span, TrenchLimits, judge_trench, lay_pipe
from routing.trench.laid import turning_points

LIMITS = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3)
NARROW = TrenchLimits(
    outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.2, min_grade=0.004, min_grade_falling=0.004
)


def hill(hump):
    """A slope that falls 10 m in 100 m, rises by ``hump`` in 10 m, and falls 20 m in 190 m."""
    station = np.arange(0.0, 301.0)
    return station, np.interp(station, [0, 100, 110, 300], [100, 90, 90 + hump, 70])


def test_lay_pipe__small_hump_is_dug_through():
    station, ground = hill(hump=0.08)
    pipe = lay_pipe(station, ground, LIMITS)
    assert pipe.summits.size == 0
    assert pipe.sags.size == 0


def test_lay_pipe__great_hump_stays_and_is_offered():
    station, ground = hill(hump=1.0)
    pipe = lay_pipe(station, ground, LIMITS)
    assert pipe.summits.size == 1
    (offer,) = pipe.offers
    assert offer.station_m == station[pipe.summits[0]]
    # The hump stands 1.0 m above its sag 10 m before; 0.2 m of that the trench limit allows, and
    # the falling grade of 1:300 between the two must be dug too.
    assert offer.extra_depth_m == pytest.approx(1.0 - 0.2 + 10 / 300)
    assert offer.extra_area_m2 > 0


def test_lay_pipe__lies_the_same_where_no_offers_are_asked_for():
    station, ground = hill(hump=1.0)
    pipe, plain = lay_pipe(station, ground, LIMITS), lay_pipe(station, ground, LIMITS, offers=False)
    assert plain.offers == ()
    assert len(pipe.offers) == 1
    np.testing.assert_array_equal(plain.pipe_m, pipe.pipe_m)
    np.testing.assert_array_equal(plain.summits, pipe.summits)


def test_lay_pipe__digging_the_offer_removes_the_summit():
    station, ground = hill(hump=1.0)
    (offer,) = lay_pipe(station, ground, LIMITS).offers
    deeper = TrenchLimits(
        outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3 + offer.extra_depth_m + 1e-6
    )
    assert lay_pipe(station, ground, deeper).summits.size == 0
    shallower = TrenchLimits(
        outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.3 + offer.extra_depth_m - 0.01
    )
    after = lay_pipe(station, ground, shallower)
    assert after.summits.size == 1 or after.below_grade


def test_lay_pipe__hump_beyond_reach_is_not_offered():
    station, ground = hill(hump=3.0)
    pipe = lay_pipe(station, ground, LIMITS)
    assert pipe.summits.size == 1
    assert pipe.offers == ()


def test_lay_pipe__keeps_cover_and_depth():
    rng = np.random.default_rng(3)
    station = np.arange(0.0, 500, 2.5)
    ground = 300 - 0.08 * station + np.cumsum(rng.normal(0, 0.15, station.size))
    pipe = lay_pipe(station, ground, LIMITS)
    cover = ground - pipe.pipe_m - 0.1
    depth = ground - pipe.pipe_m + 0.1 + 0.1
    assert cover.min() >= 0.8 - 1e-9
    assert depth.max() <= 1.3 + 1e-9
    assert pipe.excavation.depth_m.max() == pytest.approx(depth.max())


def failing(pipe):
    return [check.code for check in judge_trench(pipe) if not check.passed]


def test_lay_pipe__cover_is_never_thinned():
    station, ground = hill(1.0)
    frost = TrenchLimits(outside_diameter_m=0.2, cover_m=1.5, max_depth_m=1.2)
    pipe = lay_pipe(station, ground, frost)
    assert (ground - pipe.pipe_m - 0.1).min() == pytest.approx(1.5)
    assert "cover_governs" in failing(pipe)


def test_lay_pipe__span_is_straight_and_costs_no_digging():
    station = np.arange(0.0, 101.0)
    ground = np.where(np.abs(station - 50) < 10, 80.0, 100 - 0.1 * station)
    buried = lay_pipe(station, ground, LIMITS)
    assert buried.summits.size == 1
    pipe = lay_pipe(station, ground, LIMITS, [Span(from_m=40.0, to_m=60.0)])
    assert pipe.summits.size == 0
    inside = slice(40, 61)
    assert np.ptp(np.diff(pipe.pipe_m[inside])) < 1e-9
    assert pipe.in_span.sum() == 19
    assert np.all(pipe.excavation.depth_m[41:60] == 0)
    assert pipe.excavation.volume_m3 < buried.excavation.volume_m3


def test_lay_pipe__span_through_a_ridge_is_told():
    station = np.arange(0.0, 101.0)
    ground = 100 - 0.1 * station + 5 * np.exp(-(((station - 50) / 4) ** 2))
    pipe = lay_pipe(station, ground, LIMITS, [Span(from_m=40.0, to_m=60.0)])
    assert [code for code in failing(pipe) if code.startswith("span")] == ["span_below_ground"]


def test_lay_pipe__span_beyond_the_line_is_told():
    station = np.arange(0.0, 101.0)
    ground = 100 - 0.1 * station
    pipe = lay_pipe(station, ground, LIMITS, [Span(from_m=90.0, to_m=140.0)])
    assert [f.code for f in pipe.findings] == ["span_outside_line"]
    gone = lay_pipe(station, ground, LIMITS, [Span(from_m=120.0, to_m=140.0)])
    assert gone.spans == ()


def test_lay_pipe__grade_that_does_not_fit_is_reported():
    station = np.arange(0.0, 401.0)
    ground = np.full(station.size, 100.0)
    pipe = lay_pipe(station, ground, NARROW)
    # 0.1 m of room falls for 25 m at 0.4 %; the rest must lie flatter, where that digs least.
    assert pipe.summits.size == 0
    (flat,) = pipe.below_grade
    assert (flat.from_m, flat.to_m) == (0.0, 375.0)
    assert failing(pipe) == ["grade_below_least"]


def test_lay_pipe__deep_trench_warns_of_people():
    station, ground = hill(1.0)
    deep = TrenchLimits(outside_diameter_m=0.2, cover_m=1.2, max_depth_m=2.0)
    assert "depth_for_people" in failing(lay_pipe(station, ground, deep))
    shallow = TrenchLimits(outside_diameter_m=0.2, cover_m=0.8, max_depth_m=1.2)
    assert "depth_for_people" not in failing(lay_pipe(station, ground, shallow))


def test_lay_pipe__slope_length():
    pipe = lay_pipe(np.array([0.0, 100.0]), np.array([50.0, 25.0]), LIMITS)
    # 100 m in plan, 25 m of fall: independently computed, 103.0776 m.
    assert pipe.pipe_length_m == pytest.approx(103.0776, abs=5e-5)


@pytest.mark.parametrize(
    ("station", "ground", "words"),
    [
        ([0.0], [1.0], "1 stations"),
        ([0.0, 1.0, 1.0], [1.0, 1.0, 1.0], "must rise"),
        ([0.0, 1.0, 2.0], [1.0, np.nan, 1.0], "station 1.0 m is missing"),
    ],
)
def test_lay_pipe__bad_profile(station, ground, words):
    with pytest.raises(InputError, match=words):
        lay_pipe(np.array(station), np.array(ground), LIMITS)


@pytest.mark.parametrize("spans", [[(5, 5)], [(-1, 5)], [(0, 50), (40, 60)]])
def test_lay_pipe__bad_spans(spans):
    station, ground = hill(1.0)
    given = [Span(from_m=a, to_m=b) for a, b in spans]
    with pytest.raises(InputError, match="span"):
        lay_pipe(station, ground, LIMITS, given)


@pytest.mark.parametrize(
    "field",
    [
        "outside_diameter_m",
        "cover_m",
        "max_depth_m",
        "min_grade",
        "break_price_m3",
        "least_piece_m",
    ],
)
def test_trench_limits__refuse_what_cannot_be(field):
    good = {"outside_diameter_m": 0.2, "cover_m": 0.8, "max_depth_m": 1.2}
    for bad in (-1.0, np.nan, np.inf):
        with pytest.raises(InputError):
            TrenchLimits(**(good | {field: bad}))


def test_turning_points__plateaus_and_ends():
    summits, sags = turning_points(np.array([1.0, 2, 2, 2, 1, 1, 3, 3]))
    assert summits.tolist() == [3]
    assert sags.tolist() == [5]
    assert turning_points(np.zeros(5))[0].size == 0
    assert turning_points(np.array([0.0, 1, 1, 2]))[0].size == 0
