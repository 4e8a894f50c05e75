"""Which way a pipe goes and which way it pushes: what holds it depends on the sign."""

import math

import numpy as np
import pytest

from routing.anchors import bearing_area_m2, place_slope_anchors
from routing.anchors.block import soil_hold_n
from routing.anchors.way import way_at
from routing.laid_line import simple_line
from routing.trench import Bend
from tests.routing.anchors.conftest import COLD, pipe


def turned(line, plan, vertical, **change):
    """Return the block of one bend of these angles in the middle of a level pipe under pressure."""
    space = math.hypot(plan, vertical)
    bend = Bend(id="B1", index=40, station_m=200.0, plan_deg=plan, vertical_deg=vertical,
                deflection_deg=space)  # fmt: skip
    given = {"bends": (bend,), "pipe_m": 100.0, "pressure_pa": 1e6}
    return line(**{**given, **change}).blocks[0]


def test_place_blocks__sag_bend_presses_on_the_floor_and_a_summit_lifts(line):
    # Statics: pressure pushes a bend towards its outside, which is down where the pipe turns up.
    sag, summit = turned(line, 0.0, 20.0), turned(line, 0.0, -20.0)
    push = 2.0 * 1e6 * math.pi / 4.0 * 0.2**2 * math.sin(math.radians(10.0))
    assert sag.thrust.up_n == pytest.approx(-push, rel=1e-3)
    assert summit.thrust.up_n == pytest.approx(push, rel=1e-3)
    wanted = bearing_area_m2(push, sag.bearing.bearing_pa)
    assert wanted <= sag.cast.floor_m2 <= wanted + 2 * 0.05 * math.sqrt(wanted) + 0.05**2
    assert summit.ground_pa is None
    assert sag.weight_n is None
    assert summit.weight_n > push


def test_way__direction_of_one_stick_on_either_side():
    # Common practice: a fitting turns what its two neighbouring sticks do.
    station = np.arange(0.0, 401.0)
    for stick in (6.0, 12.0):
        line = simple_line(station, 300.0 - 1e-3 * station**2, pipe(stick_m=stick), intake_m=301.0)
        # The chord of a parabola from 150 m less a stick to 150 m falls by 1e-3 (300 - stick).
        slope = -math.degrees(math.atan(1e-3 * (300.0 - stick)))
        assert way_at(line, 150).slope == pytest.approx(slope, abs=1e-9)


@pytest.mark.parametrize(
    ("vertical", "upward"), [(0.0, False), (-0.29, False), (-0.315, True), (-3.0, True)]
)
def test_joint__is_held_by_soil_above_as_soon_as_a_tenth_of_the_thrust_lifts(
    line, vertical, upward
):
    # Common practice: sideways the wall of the trench holds, upward the weight of soil alone.
    block = turned(line, 3.0, vertical, pipes=pipe(stick_m=6.0))
    submerged = 19_000.0 - COLD.weight_n_m3
    given = {"cover_m": 1.0, "outside_diameter_m": 0.2, "stick_m": 6.0,
             "bearing_pa": block.bearing.bearing_pa,
             "submerged_n_m3": submerged}  # fmt: skip
    assert block.soil_hold_n == pytest.approx(soil_hold_n(**given, upward=upward), rel=1e-3)
    assert soil_hold_n(**given, upward=True) == pytest.approx(submerged * 1.0 * 0.2 * 6.0)
    assert soil_hold_n(**given, upward=False) == pytest.approx(block.bearing.bearing_pa * 0.2 * 6.0)


@pytest.mark.parametrize(("step_m", "anchored"), [(1.96, False), (2.04, True)])
def test_slope_anchors__grade_is_that_of_ten_metres(step_m, anchored):
    # Anchors from 20 % on (Recommended Standards for Wastewater Facilities, 33.46); over which
    # length a grade counts is common practice.
    station = np.arange(0.0, 101.0)
    level = 50.0 - np.interp(station, [49.0, 51.0], [0.0, step_m])
    line = simple_line(station, level, pipe(), intake_m=51.0)
    assert bool(place_slope_anchors(line)) == anchored
