"""Pipes along a line."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import PipeError
from routing.pipe import load_catalogue, pipe_by_hand, schedule_pipes

THIN, THICK = map(load_catalogue().find, ("PE100-SDR26-200", "PE100-SDR17-200"))


def test_schedule_pipes__a_joint_belongs_to_the_pipe_below() -> None:
    schedule = schedule_pipes([(0.0, THIN), (310.0, THICK)], 842.5)
    stations = np.array([0.0, 309.999, 310.0, 842.5])
    assert schedule.run_index(stations).tolist() == [0, 0, 1, 1]
    assert schedule.length_m == 842.5
    assert [(run.from_m, run.to_m) for run in schedule.runs] == [(0.0, 310.0), (310.0, 842.5)]


def test_schedule_pipes__numbers_by_station() -> None:
    own = pipe_by_hand(material="PVC", inside_diameter_m=0.19, wall_m=0.005)
    schedule = schedule_pipes([(0.0, THIN), (310.0, own)], 842.5)
    stations = np.array([0.0, 400.0])
    bores = schedule.per_station(stations, "inside_diameter_m")
    assert bores.tolist() == [THIN.inside_diameter_m, 0.19]
    ratings = schedule.per_station(stations, "rating_pa")
    assert ratings[0] == THIN.rating_pa
    assert np.isnan(ratings[1])


@pytest.mark.parametrize(
    ("starts", "words"),
    [
        ([], "No pipe"),
        ([10.0], "begins at 10 m"),
        ([0.0, 0.0], "follows"),
        ([0.0, 300.0, 200.0], "follows"),
        ([0.0, 842.5], "line ends at 842.5 m"),
        ([0.0, 900.0], "line ends at 842.5 m"),
        ([0.0, float("nan")], "not a number"),
    ],
)
def test_schedule_pipes__bad_stations(starts: list[float], words: str) -> None:
    with pytest.raises(PipeError, match=words):
        schedule_pipes([(station, THIN) for station in starts], 842.5)


@given(
    st.lists(st.integers(1, 999), unique=True, max_size=6),
    st.lists(st.floats(0.0, 1000.0), min_size=1, max_size=20),
)
def test_run_index__every_station_lies_in_its_run(joints: list[int], stations: list[float]) -> None:
    schedule = schedule_pipes([(float(each), THIN) for each in [0, *sorted(joints)]], 1000.0)
    for station, index in zip(stations, schedule.run_index(np.array(stations)), strict=True):
        run = schedule.runs[index]
        assert run.from_m <= station <= run.to_m
        assert station < run.to_m or run is schedule.runs[-1]
