"""Limits of stretches of the trench."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from routing.errors import InputError
from routing.trench import LimitStretch, TrenchLimits, judge_trench, lay_pipe

WHOLE = {"outside_diameter_m": 0.2, "cover_m": 0.8, "max_depth_m": 1.3}
STATION = np.arange(0.0, 201.0, 10.0)


def hump(height_m: float) -> np.ndarray:
    ground = 50.0 - 0.05 * STATION
    ground[9:12] += [0.6 * height_m, height_m, 0.6 * height_m]
    return ground


def test_max_depth_at_m__the_stricter_holds_where_two_meet() -> None:
    limits = TrenchLimits(
        **WHOLE,
        stretches=(
            LimitStretch(from_m=30.0, to_m=60.0, max_depth_m=2.0),
            LimitStretch(from_m=60.0, to_m=80.0, max_depth_m=2.2, cover_m=1.1),
            LimitStretch(from_m=180.0, to_m=200.0, cover_m=0.5),
        ),
    )
    at = np.array([20.0, 30.0, 40.0, 60.0, 70.0, 80.0, 90.0, 180.0, 190.0, 200.0])
    assert limits.max_depth_at_m(at).tolist() == [1.3, 1.3, 2.0, 2.0, 2.2, 1.3] + [1.3] * 4
    assert limits.cover_at_m(at).tolist() == [0.8, 0.8, 0.8, 1.1, 1.1, 1.1, 0.8, 0.8, 0.5, 0.5]


def test_lay_pipe__a_hump_is_dug_through_where_that_stretch_may_be_deeper() -> None:
    ground = hump(2.0)
    flat = lay_pipe(STATION, ground, TrenchLimits(**WHOLE))
    (offer,) = flat.offers
    assert flat.summits.size == 1
    assert offer.depth_m == pytest.approx(WHOLE["max_depth_m"] + offer.extra_depth_m)
    for more, through in ((1e-6, True), (-0.01, False)):
        own = LimitStretch(from_m=offer.from_m, to_m=offer.to_m, max_depth_m=offer.depth_m + more)
        pipe = lay_pipe(STATION, ground, TrenchLimits(**WHOLE, stretches=(own,)))
        assert (pipe.summits.size == 0 and not pipe.below_grade) is through
        outside = (STATION <= offer.from_m) | (STATION >= offer.to_m)
        assert pipe.excavation.depth_m[outside].max() <= WHOLE["max_depth_m"] + 1e-9


def test_lay_pipe__more_cover_holds_over_its_stretch_with_both_ends() -> None:
    road = LimitStretch(from_m=60.0, to_m=80.0, cover_m=1.0)
    pipe = lay_pipe(STATION, 50.0 - 0.05 * STATION, TrenchLimits(**WHOLE, stretches=(road,)))
    cover = pipe.ground_m - pipe.pipe_m - 0.1
    assert cover[(STATION >= 60.0) & (STATION <= 80.0)].min() >= 1.0 - 1e-9


def test_lay_pipe__cover_governs_where_its_stretch_is_too_shallow() -> None:
    own = LimitStretch(from_m=60.0, to_m=80.0, max_depth_m=1.0)
    pipe = lay_pipe(STATION, 50.0 - 0.05 * STATION, TrenchLimits(**WHOLE, stretches=(own,)))
    (found,) = (each for each in judge_trench(pipe) if not each.passed)
    assert 60.0 <= found.station_m <= 80.0
    assert "1.10 m" in found.message
    assert "1.00 m" in found.message


def test_lay_pipe__limits_beyond_the_line_are_told() -> None:
    own = LimitStretch(from_m=150.0, to_m=260.0, max_depth_m=2.0)
    pipe = lay_pipe(STATION, 50.0 - 0.05 * STATION, TrenchLimits(**WHOLE, stretches=(own,)))
    assert [each.code for each in pipe.findings] == ["limit_outside_line"]


def test_trench_limits__stretches_that_overlap_are_refused() -> None:
    pair = (LimitStretch(from_m=0.0, to_m=60.0), LimitStretch(from_m=50.0, to_m=80.0))
    with pytest.raises(InputError, match=r"trench\.limit.*50 m.*60 m"):
        TrenchLimits(**WHOLE, stretches=pair)


@given(
    st.lists(st.floats(0.0, 3.0), min_size=21, max_size=21),
    st.floats(0.6, 1.2),
    st.floats(1.2, 3.0),
)
@settings(deadline=None)
def test_lay_pipe__keeps_to_the_limits_of_every_stretch(bumps, cover_m, depth_m) -> None:
    ground = 50.0 - 0.05 * STATION + np.array(bumps)
    own = LimitStretch(from_m=60.0, to_m=140.0, max_depth_m=depth_m, cover_m=cover_m)
    limits = TrenchLimits(**WHOLE, stretches=(own,))
    pipe = lay_pipe(STATION, ground, limits)
    cover = pipe.ground_m - pipe.pipe_m - 0.1
    least, most = limits.cover_at_m(STATION), limits.max_depth_at_m(STATION)
    assert (cover >= least - 1e-6).all()
    assert (pipe.excavation.depth_m <= np.maximum(most, least + 0.3) + 1e-6).all()
