"""Pictures of blocks: to scale, on the side of the push, and none for what is not cast."""

from __future__ import annotations

import math
import re
from typing import Any
from xml.etree import ElementTree

import numpy as np
import pytest

from routing.papers.block_picture import block_svg


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


def corners(svg: str, number: int) -> np.ndarray:
    points = re.findall(r'<polygon points="([^"]*)"', svg)[number]
    return np.array([[float(v) for v in pair.split(",")] for pair in points.split()])


@pytest.mark.parametrize(
    ("bearing", "side"), [(0.0, (0, -1)), (90.0, (1, 0)), (180.0, (0, 1)), (270.0, (-1, 0))]
)
def test_block_svg__stands_on_the_side_of_the_push_north_up(bearing, side) -> None:
    made = doc(bearing)
    svg = block_svg(made, made["item"])
    middle = corners(svg, 0).mean(axis=0) - [80.0, 0.55 * 170.0]
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
    assert corners(svg, 0).mean(axis=0) == pytest.approx([80.0, 0.55 * 170.0], abs=0.3)
