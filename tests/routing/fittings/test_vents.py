from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_line import drains_of, made_job, sizes_of, vents_of, wished

from routing.fittings.place.wish import BY_GRADE

NEAR = pytest.approx


def at(vents, station):
    (found,) = [vent for vent in vents if vent.station_m == NEAR(station)]
    return found


def test_place_vents__a_falling_line_has_its_two_ends(line):
    vents = vents_of(line([0, 150, 300], [50, 47, 44]))
    assert [(v.id, v.rule, v.need, v.station_m) for v in vents] == [
        ("V1", "below the intake", "must", 0.0),
        ("V2", "end of line", "must", 300.0),
    ]


def test_place_vents__every_summit_however_small(line):
    vents = vents_of(line([0, 100, 160, 200, 300], [50, 40, 40.05, 38, 30]))
    summit = at(vents, 160.0)
    assert (summit.rule, summit.need, summit.minor) == ("summit", "must", True)
    assert summit.prominence_m == NEAR(0.05)
    assert summit.probability is None
    assert "0.05 m" in summit.reason
    assert "half a bore" in summit.reason


@pytest.mark.parametrize(("rise", "minor"), [(0.19, True), (0.21, False)])
def test_place_vents__minor_is_lower_than_the_bore(line, rise, minor):
    summit = at(vents_of(line([0, 100, 160, 300], [50, 40, 40 + rise, 30], bore=0.2)), 160.0)
    assert (summit.minor, summit.need) == (minor, "must")


def test_place_vents__two_summits_never_merge(line):
    vents = vents_of(line([0, 99, 99.5, 99.8, 100.1, 200], [50, 40, 41, 40.9, 41.1, 30]))
    assert [v.station_m for v in vents if v.rule == "summit"] == [99.5, 100.1]


def test_place_vents__level_top_at_its_downstream_end(line):
    vents = vents_of(line([0, 100, 150, 190, 300], [50, 40, 42, 42, 30]))
    assert [v.station_m for v in vents if "summit" in v.rules] == [190.0]


def test_place_vents__summit_on_a_span(line):
    made = line([0, 50, 100, 120, 140, 200], [50, 40, 42, 43, 42, 30], spans=[(100, 140)])
    summit = at(vents_of(made), 120.0)
    assert summit.rule == "bridge top"
    assert summit.need == "must"
    # An open vent on a span stands on the pipe, not on the ground below.
    assert summit.kind == "combination air valve"
    low = at(
        vents_of(
            line(
                [0, 50, 100, 120, 140, 200],
                [50, 40, 42, 43, 42, 30],
                spans=[(100, 140)],
                intake_level=44.0,
            )
        ),
        120.0,
    )
    assert low.open_height_m == NEAR(44.3 - (43.0 + 0.11))
    assert "above the pipe" in low.reason


def test_place_vents__summit_next_to_a_span_is_of_the_span(line):
    made = line([0, 50, 100, 120, 140, 200], [50, 40, 43, 42.5, 42, 30], spans=[(120, 140)])
    assert at(vents_of(made), 100.0).rule == "bridge top"


def test_place_vents__below_the_intake_means_where_the_pipe_is_buried(line):
    made = line([0, 5, 10, 200], [50, 49, 48, 30], spans=[(0, 5)])
    assert vents_of(made)[0].rule == "below the intake"
    assert vents_of(made)[0].station_m == 10.0


@pytest.mark.parametrize(
    ("level", "kind", "height"),
    [(43.0, "open vent", 43.3 - 43.0), (45.6, "open vent", 2.9), (48.0, "open vent", 5.3)],
)
def test_place_vents__open_vent_reaches_above_the_still_water(line, level, kind, height):
    made = line([0, 100, 200, 300], [50, 40, 42, 30], intake_level=level, cover=0.89, bore=0.2)
    summit = at(vents_of(made), 200.0)
    assert summit.kind == kind
    assert summit.ground_m == NEAR(43.0)
    assert summit.open_top_m == NEAR(level + 0.3)
    assert summit.open_height_m == NEAR(height)
    assert ("guyed" in summit.reason) == (height > 3.0)
    assert "above the ground" in summit.reason
    assert summit.size_m == 0.05
    assert summit.foot_size_m == 0.15


def test_place_vents__too_tall_for_an_open_vent(line):
    made = line([0, 100, 200, 300], [50, 40, 42, 30], intake_level=60.0, flowing=[1, 9, 2, 5])
    summit = at(vents_of(made), 200.0)
    assert summit.kind == "combination air valve"
    assert summit.open_top_m is None
    assert summit.open_height_m is None
    assert summit.foot_size_m is None
    assert summit.size_m == 0.025
    assert summit.static_head_m == NEAR(18.0)
    assert summit.rating_pa is None
    sized = at(sizes_of(made_job(made)).found.vents, 200.0)
    assert "176 kPa" in sized.reason  # 999.7 x 9.80665 x 18
    assert "seal at low pressure" in sized.reason


def test_place_vents__an_open_vent_never_ends_in_the_ground(line):
    made = line([0, 100, 200, 300], [50, 40, 42, 30], intake_level=41.0)
    summit = at(vents_of(made), 200.0)
    assert summit.open_height_m == NEAR(0.3)
    assert summit.static_head_m < 0.0


@pytest.mark.parametrize(("chance", "need"), [(0.861, "must"), (0.8, "must"), (0.6, "level")])
def test_place_vents__a_doubtful_summit_wants_a_level_first(line, chance, need):
    made = line([0, 100, 200, 300], [50, 40, 41, 30], chances={2: chance, 1: chance})
    summit = at(vents_of(made), 200.0)
    assert (summit.probability, summit.need) == (chance, need)
    (sag,) = [drain for drain in drains_of(made) if drain.rule == "sag"]
    assert (sag.probability, sag.need) == (chance, need)
    others = [vent for vent in vents_of(made) if vent.rule != "summit"]
    assert all(vent.need != "level" for vent in others)


def test_place_vents__two_rules_at_one_place_are_one_vent(line):
    made = line([0, 100, 200, 200.5], [50, 40, 42, 41.99], valves_m=(0.4,))
    vents = vents_of(made)
    assert [v.rules for v in vents] == [
        ("below the intake", "at a valve"),
        ("summit", "end of line"),
    ]
    assert vents[1].station_m == 200.0
    assert "Other rules ask for it too: end of line" in vents[1].reason
    assert "Other rules ask for it too: at a valve" in vents[0].reason


def test_place_vents__steepening_is_advised_or_required(line):
    vents = wished(line([0, 100, 200, 300], [50, 48, 40, 10]))
    assert [(v.rule, v.need, v.station_m) for v in vents] == [
        ("below the intake", "must", 0.0),
        ("steepening", "advise", 100.0),
        ("steepening", "must", 200.0),
        ("end of line", "must", 300.0),
    ]
    assert "2.0 % down, then 8.0 % down" in vents[1].reason


def test_place_vents__near_ones_become_the_higher(line):
    # A curve that steepens by 6 points every 10 m: one vent, at its top, and needed as a whole.
    vents = wished(line([0, 100, 110, 200], [50, 48, 47.2, 35.0]))
    assert [(v.rule, v.station_m) for v in vents] == [
        ("below the intake", 0.0),
        ("steepening", 100.0),
        ("end of line", 200.0),
    ]
    # An even curve is one change however long; pieces of more than 50 m are grades of their own.
    vents = wished(line([0, 100, 149, 230], [50, 48, 44.0, 32.0]))
    assert [v.station_m for v in vents] == [0.0, 100.0, 230.0]
    vents = wished(line([0, 100, 151, 230], [50, 48, 44.0, 32.0]))
    assert [v.station_m for v in vents] == [0.0, 100.0, 151.0, 230.0]


def test_place_vents__advice_yields_to_a_higher_vent_near(line):
    made = line([0, 12, 200], [50, 49.9, 30])
    assert [v.rules for v in wished(made)] == [
        ("below the intake", "steepening"),
        ("end of line",),
    ]
    # The end of the line lies lower: both stay.
    made = line([0, 188, 200], [50, 46.3, 45.0])
    assert [v.rules for v in wished(made)] == [
        ("below the intake",),
        ("steepening",),
        ("end of line",),
    ]


def test_place_vents__required_steepening_stays_beside_a_summit(line):
    made = line([0, 100, 150, 160, 200], [50, 40, 42, 41.8, 30])
    assert [v.rule for v in vents_of(made)] == [
        "below the intake",
        "summit",
        "steepening",
        "end of line",
    ]


@pytest.mark.parametrize(
    ("length", "steps"),
    [(399.0, 0), (400.0, 0), (400.5, 1), (800.0, 1), (801.0, 2), (2000.0, 4)],
)
def test_place_vents__long_stretches_are_filled_in_equal_steps(line, length, steps):
    fall = length * 0.05
    made = line([0, math.sqrt(length**2 - fall**2)], [50, 50 - fall])
    vents = wished(made)
    filled = [v for v in vents if v.rule == "spacing"]
    assert len(filled) == steps
    assert all(v.need == "advise" for v in filled)
    along = np.interp([v.station_m for v in vents], made.station_m, made.slope_station_m)
    np.testing.assert_allclose(np.diff(along), length / (steps + 1))


def test_place_vents__words_in_the_users_units(line):
    made = line([0, 100, 200, 300], [50, 40, 42, 30], intake_level=60.0, units="us")
    reason = at(sizes_of(made_job(made)).found.vents, 200.0).reason
    assert "psi" in reason
    assert "kPa" not in reason
    low = line([0, 100, 200, 300], [50, 40, 42, 30], intake_level=43.0, units="us")
    assert "at least 6 in wide" in at(vents_of(low), 200.0).reason


LINES = st.tuples(st.integers(0, 10_000), st.integers(3, 60), st.floats(0.0, 0.2))


@settings(deadline=None, max_examples=80)
@given(made=LINES)
def test_place_vents__what_always_holds(line, made):
    seed, n, fall = made
    rng = np.random.default_rng(seed)
    station = np.concatenate(([0.0], np.cumsum(rng.uniform(2.0, 120.0, n))))
    pipe = 300.0 - fall * station + np.cumsum(rng.normal(0.0, 2.0, station.size))
    inputs = line(station, pipe, rmse_m=0.5)
    numbered = vents_of(inputs)
    assert [v.id for v in numbered] == [f"V{k}" for k in range(1, len(numbered) + 1)]
    assert [v.station_m for v in numbered] == sorted(v.station_m for v in numbered)
    advised = [v for v in numbered if v.need == "advise"]
    assert sorted(v.rank for v in advised) == list(range(1, len(advised) + 1))
    assert all(v.lost.over_vacuum_pa > 0.0 or v.lost.head_m >= 0.1 for v in advised)
    vents = wished(inputs)
    where = np.interp([v.station_m for v in vents], inputs.station_m, inputs.slope_station_m)
    tops = [v.station_m for v in vents if "summit" in v.rules]
    assert tops == inputs.station_m[inputs.summits].tolist()
    rules = [rule for v in vents for rule in v.rules]
    assert rules.count("below the intake") == rules.count("end of line") == 1
    assert np.diff(where).max() <= 400.0 + 1e-9
    by_grade = [v for v in vents if v.rule in BY_GRADE]
    for vent in by_grade:
        for other in vents:
            apart = abs(other.station_m - vent.station_m)
            if other is not vent and (vent.need == "advise" or other in by_grade):
                assert apart >= 15.0 or other.pipe_m < vent.pipe_m or other.rule == "spacing"
    assert all(v.reason.endswith(".") and "{" not in v.reason for v in vents)
