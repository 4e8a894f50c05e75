"""The laid line as one value."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError, PipeError
from routing.laid_line import LaidLine, simple_line
from routing.pipe import load_catalogue, schedule_pipes
from routing.trench import Bend

STATION = np.array([0.0, 400.0, 800.0])
LEVEL = np.array([410.0, 380.0, 350.0])
PIPE = load_catalogue().find("PE100-SDR17-200")
THIN = load_catalogue().find("PE100-SDR26-200")


def line(**more: object) -> LaidLine:
    return simple_line(STATION, LEVEL, PIPE, intake_m=411.0, **more)


def test_line__columns_follow_from_the_pipe_and_the_levels() -> None:
    found = line()
    assert found.gross_head_m == 61.0
    assert found.static_head_m.tolist() == [1.0, 31.0, 61.0]
    assert found.static_pressure_pa == pytest.approx(
        found.static_head_m * 999.7 * 9.80665, rel=1e-5
    )
    assert found.inside_diameter_m == pytest.approx(PIPE.inside_diameter_m)
    assert found.crown_m - found.pipe_m == pytest.approx(PIPE.inside_diameter_m / 2)
    assert found.cover_m == pytest.approx(1.0)
    assert found.rating_pa == pytest.approx(PIPE.rating_pa)
    assert not found.crown_m.flags.writeable


def test_line__a_joint_belongs_to_the_pipe_below_it() -> None:
    found = simple_line(STATION, LEVEL, [(0.0, THIN), (400.0, PIPE)], intake_m=411.0)
    bores = [THIN.inside_diameter_m, PIPE.inside_diameter_m, PIPE.inside_diameter_m]
    assert found.inside_diameter_m.tolist() == bores


def test_with_pipes__the_line_lies_as_before() -> None:
    found = line()
    other = found.with_pipes(schedule_pipes([(0.0, THIN)], 800.0))
    assert other.pipe is found.pipe
    assert other.inside_diameter_m[0] > found.inside_diameter_m[0]


def test_line__without_pipe_the_bore_is_the_assumed_outside_diameter() -> None:
    from dataclasses import replace

    bare = replace(line(), schedule=None)
    assert bare.inside_diameter_m.tolist() == [0.2, 0.2, 0.2]
    assert np.isnan(bare.rating_pa).all()
    with pytest.raises(PipeError, match="No pipe"):
        _ = bare.pipes


@pytest.mark.parametrize(
    "bad",
    [
        {"lon": np.zeros(2)},
        {"bend_k": np.array([0.2])},
        {"entrance_k": -0.1},
        {"entrance_k": float("nan")},
        {"local_k": -1.0},
        {
            "bends": (Bend(id="B1", index=1, station_m=400.0, plan_deg=9.0, vertical_deg=0.0,
                           deflection_deg=9.0),),
            "bend_k": np.array([-0.1]),
        },
    ],
)  # fmt: skip
def test_line__what_cannot_be_is_refused(bad: dict[str, object]) -> None:
    with pytest.raises(InputError):
        line(**bad)


@pytest.mark.parametrize(
    ("station", "level"),
    [
        ([0.0, 0.0], [1.0, 0.0]),
        ([0.0, 9.0], [1.0, float("nan")]),
        ([0.0], [1.0]),
        ([0.0, 9.0], [1.0]),
    ],
)
def test_simple_line__bad_columns_are_refused(station: list[float], level: list[float]) -> None:
    with pytest.raises(InputError):
        simple_line(np.array(station), np.array(level), PIPE, intake_m=2.0)


def test_lonlat__between_stations_on_either_side_of_180_degrees() -> None:
    # By the rule of three: three quarters of the way from 179.998 to -179.998 lie at -179.999.
    found = line(lon=np.array([179.998, -179.998, -179.994]), lat=np.array([10.0, 11.0, 11.0]))
    lon, lat = found.lonlat([0.0, 100.0, 300.0, 400.0, 600.0])
    assert lon == pytest.approx([179.998, 179.999, -179.999, -179.998, -179.996], abs=1e-9)
    assert lat == pytest.approx([10.0, 10.25, 10.75, 11.0, 11.0])


def test_once__is_worked_out_once_for_each_key() -> None:
    found, calls = line(), []

    def make(each: LaidLine) -> float:
        calls.append(each)
        return each.gross_head_m

    assert found.once(make, "a") == found.once(make, "a") == 61.0
    found.once(make, "b")
    assert len(calls) == 2


@given(st.lists(st.floats(100.0, 400.0), min_size=2, max_size=30), st.floats(-50.0, 50.0))
def test_line__lifting_everything_changes_no_head(levels: list[float], lift: float) -> None:
    station = np.arange(len(levels)) * 20.0
    level = np.array(levels)
    one = simple_line(station, level, PIPE, intake_m=420.0)
    two = simple_line(station, level + lift, PIPE, intake_m=420.0 + lift)
    assert two.static_head_m == pytest.approx(one.static_head_m, abs=1e-9)
