"""Pictures of blocks: to scale, on the side of the push, and none for what is not cast."""

from __future__ import annotations

import math
import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from routing.papers.block_picture import block_svg
from routing.papers.cast import CastShape, cast_shape


def doc(bearing_deg: float) -> dict[str, Any]:
    """A line that runs due east through its block."""
    station = np.linspace(0.0, 100.0, 11)
    lon = 9.0 + np.degrees(station / (6378137.0 * math.cos(math.radians(47.0))))
    return {
        "units": "metric",
        "stations": {"station_m": station, "lon": lon, "lat": np.full(11, 47.0)},
        "pipes": [{"outside_diameter_m": 0.2}],
        "item": {
            "id": "T1", "station_m": 50.0, "width_m": 1.2, "height_m": 0.6, "length_m": 0.5,
            "bearing_deg": bearing_deg, "up": "level", "ground_m": 101.0, "pipe_m": 100.0,
        },
    }  # fmt: skip


def pipe_centre(svg: str) -> np.ndarray:
    (points,) = re.findall(r'<polyline points="([^"]*)"', svg)
    return np.array([float(v) for v in points.split()[1].split(",")])


def words(svg: str) -> list[str]:
    return [
        each.text or "" for each in ElementTree.fromstring(svg).iter() if each.tag[-4:] == "text"
    ]


def corners(svg: str, number: int) -> np.ndarray:
    points = re.findall(r'<polygon points="([^"]*)"', svg)[number]
    return np.array([[float(v) for v in pair.split(",")] for pair in points.split()])


@pytest.mark.parametrize(
    ("bearing", "side"), [(0.0, (0, -1)), (90.0, (1, 0)), (180.0, (0, 1)), (270.0, (-1, 0))]
)
def test_block_svg__stands_on_the_side_of_the_push_north_up(bearing, side) -> None:
    made = doc(bearing)
    svg = block_svg(made, made["item"])
    middle = corners(svg, 0).mean(axis=0) - pipe_centre(svg)
    assert middle @ np.array(side) > 5.0
    across = np.array([-side[1], side[0]])
    assert abs(middle @ across) < 0.2
    assert f"rotate({bearing:.0f})" in svg


def test_block_svg__both_views_are_to_one_scale() -> None:
    made = doc(0.0)
    svg = block_svg(made, made["item"])
    plan, side = (np.ptp(corners(svg, view), axis=0) for view in (0, 1))
    scale = plan[0] / 1.2  # the push goes north: the width lies east to west
    assert plan[1] / scale == pytest.approx(0.5, abs=0.01)
    assert side[0] / scale == pytest.approx(0.5, abs=0.01)
    assert side[1] / scale == pytest.approx(0.6, abs=0.01)
    ElementTree.fromstring(svg)


def test_block_svg__none_where_nothing_is_cast_and_an_anchor_goes_round_the_pipe() -> None:
    made = doc(0.0)
    assert block_svg(made, {**made["item"], "length_m": None}) == ""
    anchor = {k: v for k, v in made["item"].items() if k not in ("bearing_deg", "up")}
    svg = block_svg(made, anchor)
    assert "d55e00" not in svg
    assert corners(svg, 0).mean(axis=0) == pytest.approx(pipe_centre(svg), abs=0.3)


def test_block_svg__every_side_and_the_depth_are_lettered_in_the_readers_units() -> None:
    made = doc(0.0)
    # Foot of a wedge 0.6 m tall about a pipe 1 m down: 1.3 m below the ground.
    assert sorted(words(block_svg(made, made["item"]))[:-2]) == [
        "0.50", "0.50", "0.60", "1.20", "1.30", "N",
    ]  # fmt: skip
    feet = words(block_svg({**made, "units": "us"}, made["item"]))
    assert "4.3" in feet  # 1.3 m, at 0.3048 m to the foot


@pytest.mark.parametrize("up_kn", [-20.0, -3.0, 0.0, 3.0, 20.0])
def test_block_svg__the_arrow_of_the_side_leans_as_the_push(up_kn: float) -> None:
    made = doc(90.0)
    item = {**made["item"], "east_kn": 10.0, "north_kn": 0.0, "up_kn": up_kn}
    turn = [float(each) for each in re.findall(r"rotate\((-?\d+)\)", block_svg(made, item))][1]
    # Turned from straight up, clockwise: the push's rise over its level part.
    assert 1.0 / math.tan(math.radians(turn)) == pytest.approx(up_kn / 10.0, abs=0.05)


def test_cast_shape__a_wedge_stands_aside_a_box_encloses_and_a_low_one_holds_from_below() -> None:
    item = {"bearing_deg": 0.0, "width_m": 0.5, "height_m": 0.6, "length_m": 0.4}
    wedge = cast_shape({**item, "face_m2": 0.3, "floor_m2": 0.14}, 0.2)
    assert wedge == CastShape(start_m=0.1, end_m=0.5, low_m=-0.3, high_m=0.3)
    box = cast_shape({**item, "floor_m2": 0.2}, 0.2)
    assert box == CastShape(start_m=-0.2, end_m=0.2, low_m=-0.3, high_m=0.3)
    # 0.1 m of concrete under a pipe of 0.2 m, up to its springline.
    low = cast_shape({**item, "height_m": 0.2, "floor_m2": 0.2}, 0.2)
    assert low is not None
    assert (low.low_m, low.high_m) == (-0.2, 0.0)
    anchor = cast_shape({**item, "bearing_deg": None, "length_m": 0.3}, 0.2)
    assert anchor is not None
    assert (anchor.start_m, anchor.low_m) == (-0.15, -0.3)
    assert cast_shape({**item, "length_m": None}, 0.2) is None
