import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.anchors import anchor_limits, cast_block

GIVEN = {"tallest_m": 0.7, "outside_diameter_m": 0.2, "gap_m": 0.2}


def test_cast_block__a_wedge_to_the_wall():
    # 0.42 m2 is a square of 0.648 m: 0.65 m high, 0.65 m wide; sides spread at 45 degrees.
    block = cast_block(face_m2=0.42, floor_m2=0.0, volume_m3=0.0, **GIVEN)
    assert (block.width_m, block.height_m, block.length_m) == (0.65, 0.65, 0.25)
    assert block.floor_m2 is None
    # No taller than the ground in front of it allows: then wider.
    wide = cast_block(face_m2=1.2, floor_m2=0.0, volume_m3=0.0, **GIVEN)
    assert (wide.width_m, wide.height_m) == (1.75, 0.7)


def test_cast_block__stands_on_its_floor_under_the_pipe():
    # 0.35 m2 is a square of 0.592 m; 45 degrees from a pipe of 0.2 m: (0.592 - 0.2)/2 below it.
    block = cast_block(face_m2=0.0, floor_m2=0.35, volume_m3=0.0, **GIVEN)
    assert (block.width_m, block.length_m) == (0.6, 0.6)
    assert block.height_m == pytest.approx(math.ceil((0.1 + 0.196) / 0.05) * 0.05)
    assert block.face_m2 is None
    # At least 0.1 m of concrete under and beside the pipe: common practice.
    least = cast_block(face_m2=0.0, floor_m2=1e-6, volume_m3=0.0, **GIVEN)
    assert (least.width_m, least.length_m, least.height_m) == (0.4, 0.4, 0.2)


def test_cast_block__weighs_enough_without_the_pipe_in_it():
    block = cast_block(face_m2=0.0, floor_m2=0.0, volume_m3=0.865, **GIVEN)
    assert block.width_m == block.length_m == block.height_m == 1.0
    assert block.volume_m3 == pytest.approx(1.0 - math.pi / 4 * 0.04)
    assert 0.95**3 - math.pi / 4 * 0.04 * 0.95 < 0.865


@given(
    st.floats(0.0, 20.0), st.floats(0.0, 20.0), st.floats(0.0, 50.0), st.floats(0.02, 2.0),
    st.floats(0.04, 1.2), st.floats(0.0, 0.5),
)  # fmt: skip
def test_cast_block__is_never_too_small(face, floor, volume, tallest, outside, gap):
    block = cast_block(face_m2=face, floor_m2=floor, volume_m3=volume, tallest_m=tallest,
                       outside_diameter_m=outside, gap_m=gap)  # fmt: skip
    step = anchor_limits().block_step_m
    for side in (block.width_m, block.height_m, block.length_m):
        assert side >= step
        assert side / step == pytest.approx(round(side / step))
    assert block.width_m * min(block.height_m, max(tallest, step)) >= face - 1e-9
    assert (block.face_m2 or 0.0) >= face - 1e-9
    assert (block.floor_m2 or 0.0) >= floor - 1e-9
    assert block.width_m * block.length_m >= floor - 1e-9
    assert 0.0 < block.volume_m3 <= block.width_m * block.height_m * block.length_m
    assert block.volume_m3 >= volume - 1e-9
    assert block.face_m2 is not None or block.floor_m2 is not None
