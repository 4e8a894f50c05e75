from __future__ import annotations

import math

import numpy as np
import pytest

from routing.fittings.place.grades import grade_changes

NONE = np.array([], int)
TEN = math.tan(math.radians(10.0))


def bend(before: float, after: float):
    """The changes on a pipe that goes 100 m at one grade and 100 m at another."""
    station = np.linspace(0.0, 200.0, 41)
    pipe = 500.0 + np.where(
        station <= 100.0, before * station, before * 100.0 + after * (station - 100.0)
    )
    return grade_changes(station, pipe, NONE, tolerance_m=0.1, least_m=6.0)


@pytest.mark.parametrize(
    ("before", "after", "rule", "need"),
    [
        (-0.02, -0.07, "steepening", "advise"),
        (-0.02, -0.069, None, None),
        (-0.05, math.tan(math.atan(-0.05) - math.radians(10.0)), "steepening", "must"),
        (-0.05, math.tan(math.atan(-0.05) - math.radians(9.99)), "steepening", "advise"),
        (-0.003, -0.06, "flat reach ends", "advise"),
        (0.0, -TEN, "flat reach ends", "must"),
        (0.0, -0.04, None, None),
        (0.12, 0.07, "flatter climb", "advise"),
        (0.05, 0.0, "flatter climb", "advise"),
        (0.25, 0.02, "flatter climb", "must"),
        (0.12, 0.08, None, None),
        (-0.20, -0.02, None, None),  # easing fall
        (0.02, 0.20, None, None),  # steeper rise
    ],
)
def test_grade_changes__rule_and_need(before, after, rule, need):
    found = bend(before, after)
    if rule is None:
        assert found == ()
        return
    (change,) = found
    assert (change.at, change.rule, change.required) == (20, rule, need == "must")
    assert change.grade_before == pytest.approx(before)
    assert change.grade_after == pytest.approx(after)


def test_grade_changes__summits_and_sags_are_left_to_their_own_rules():
    station, pipe = np.array([0.0, 100.0, 200.0, 300.0]), np.array([50.0, 30.0, 40.0, 10.0])
    assert grade_changes(station, pipe, np.array([1, 2]), tolerance_m=0.1, least_m=6.0) == ()


def test_grade_changes__the_end_of_a_level_top_is_a_summit():
    station, pipe = np.array([0.0, 100.0, 200.0, 300.0]), np.array([40.0, 50.0, 50.0, 10.0])
    found = grade_changes(station, pipe, np.array([2]), tolerance_m=0.1, least_m=6.0)
    assert [change.at for change in found] == [1]


def test_grade_changes__small_bends_are_not_seen():
    station = np.array([0.0, 100.0, 101.0, 200.0])
    pipe = np.array([50.0, 48.0, 47.9, 46.0])
    assert grade_changes(station, pipe, NONE, tolerance_m=0.1, least_m=6.0) == ()
