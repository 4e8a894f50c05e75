"""Breaks of grade: curve or fitting, and arcs against circles laid out by coordinates."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from routing.anchors import arc_departure_m, check_breaks, judge_arcs
from routing.check import failed_findings
from routing.errors import InputError
from routing.laid_line import LaidLine, Levels
from routing.pipe import load_catalogue, schedule_pipes
from routing.trench import Span, TrenchLimits, find_bends, lay_pipe
from routing.water import water_at

FUSED, JOINTED = "PE100-SDR26-200", "PVCU-S16-180"


def laid(name, ground, cover=0.8, depth=3.0, spans=(), step=5.0):
    """Return a pipe of the catalogue laid under a profile, with the bends that come of it."""
    station = np.arange(len(ground)) * step
    pipe = load_catalogue().find(name)
    limits = TrenchLimits(outside_diameter_m=pipe.outside_diameter_m, cover_m=cover,
                          max_depth_m=depth, break_price_m3=0.05)  # fmt: skip
    laid = lay_pipe(station, np.array(ground), limits, spans)
    bends = find_bends(station, laid.pipe_m, laid.breaks, np.empty(0), np.empty(0))
    return LaidLine(
        pipe=laid, lon=station * 0.0, lat=station * 1e-5, schedule=schedule_pipes(
            [(0.0, pipe)], float(station[-1])
        ), bends=bends, bend_k=np.zeros(len(bends)),
        levels=Levels(intake_m=float(laid.pipe_m[0]) + 1.0, outlet_m=float(laid.pipe_m[-1])),
        water=water_at(10.0),
    )  # fmt: skip


def bent(fall_before, fall_after):
    """Return ground of two planes that meet at 50 m."""
    station = np.arange(21) * 5.0
    before, after = np.minimum(station, 50.0), np.maximum(station - 50.0, 0.0)
    return 200.0 - fall_before * before - fall_after * after


def test_check_breaks__arc_rises_into_the_cover_of_a_foot():
    # From 40 % to level-ish: the trench's ceiling has its corner where the two planes meet.
    line = laid(FUSED, bent(0.4, 0.01), depth=1.15)
    (corner,) = (each for each in check_breaks(line) if each.station_m == 50.0)
    turn = math.degrees(math.atan(0.4) - math.atan(0.01))
    assert corner.made_as == "curve"
    assert corner.radius_m == pytest.approx(34 * 0.2)
    # A circle by coordinates: it touches both legs, so its centre is R over each of them.
    slopes = np.arctan([-0.4, -0.01])
    normals = np.column_stack((-np.sin(slopes), np.cos(slopes)))
    centre = np.linalg.solve(normals, [corner.radius_m] * 2)
    away = centre * (1.0 - corner.radius_m / np.hypot(*centre))
    assert np.hypot(*away) == pytest.approx(arc_departure_m(corner.radius_m, turn), rel=1e-9)
    assert corner.rises_m == pytest.approx(away[1], rel=1e-9)
    assert 0.0 < corner.outside_m <= corner.rises_m + 1e-12
    (found,) = failed_findings(judge_arcs(line))
    assert (found.code, found.station_m) == ("arc_leaves_trench", 50.0)
    assert "above the least cover" in found.message


def test_check_breaks__over_an_edge_the_arc_sinks_and_only_depth_can_be_left():
    # The floor of the trench has its corner here: the line is held down by the depth it may have.
    line = laid(FUSED, bent(0.01, 0.4), depth=1.1)
    (corner,) = (each for each in check_breaks(line) if each.station_m == 50.0)
    assert corner.rises_m < 0.0
    (found,) = failed_findings(judge_arcs(line))
    assert "below the greatest depth" in found.message
    deeper = laid(FUSED, bent(0.01, 0.4), depth=1.4)
    assert failed_findings(judge_arcs(deeper)) == ()


def test_check_breaks__joints_without_allowance_take_a_fitting():
    line = laid(JOINTED, bent(0.4, 0.01), depth=1.15)
    (corner,) = (each for each in check_breaks(line) if each.station_m == 50.0)
    assert (corner.made_as, corner.radius_m, corner.outside_m) == ("fitting", None, 0.0)


def test_check_breaks__slight_turns_are_left_to_the_pipe():
    line = laid(FUSED, bent(0.1, 0.075), depth=1.11)
    assert line.bends == ()
    assert [each.made_as for each in check_breaks(line)] == ["curve"]
    assert failed_findings(judge_arcs(line)) == ()


def test_check_breaks__where_a_span_begins_no_cover_is_asked():
    ground = bent(0.3, 0.3)
    ground[9:12] -= 4.0
    line = laid(FUSED, ground, depth=1.15, spans=(Span(from_m=40.0, to_m=60.0),))
    ends = [each for each in check_breaks(line) if each.station_m in (40.0, 60.0)]
    assert all(each.outside_m == 0.0 for each in ends)


def test_check_breaks__without_a_pipe_nothing_is_said():
    line = replace(laid(FUSED, bent(0.4, 0.01)), schedule=None)
    assert check_breaks(line) == ()
    assert judge_arcs(line) == ()


@given(st.floats(0.1, 100.0), st.floats(0.1, 120.0), st.floats(0.1, 50.0))
def test_arc_departure__grows_with_radius_and_turn(radius, angle, more):
    assert arc_departure_m(radius, angle) < arc_departure_m(radius, angle + more)
    assert arc_departure_m(radius, angle) < arc_departure_m(radius + more, angle)


@pytest.mark.parametrize(("radius", "angle"), [(-1.0, 5.0), (1.0, 180.0), (1.0, math.nan)])
def test_arc_departure__refuses_what_is_no_arc(radius, angle):
    with pytest.raises(InputError):
        arc_departure_m(radius, angle)


def turned(plan_deg, depth):
    """Return a fused pipe over a foot that turns in plan there as well."""
    line = laid(FUSED, bent(0.14, 0.01), depth=depth)
    pipe = line.pipe
    bends = find_bends(
        pipe.station_m, pipe.pipe_m, pipe.breaks, np.array([50.0]), np.radians([plan_deg])
    )
    return replace(line, bends=bends, bend_k=np.zeros(len(bends)))


def test_check_breaks__a_turn_in_plan_is_laid_wider_to_spare_the_grade():
    """Curvature across and upright together is the pipe's own, by the arcs' second derivatives."""
    line = turned(20.0, 1.11)
    (corner,) = (each for each in check_breaks(line) if each.station_m == 50.0)
    least = 34 * 0.2
    assert corner.plan_radius_m == pytest.approx(2.0 * least)
    across, upright = 1.0 / corner.plan_radius_m, 1.0 / corner.radius_m
    assert np.hypot(across, upright) == pytest.approx(1.0 / least)
    turn = math.degrees(math.atan(0.14) - math.atan(0.01))
    up = arc_departure_m(corner.radius_m, turn) * math.cos((math.atan(0.14) + math.atan(0.01)) / 2)
    assert corner.rises_m == pytest.approx(up, rel=1e-9)
    assert corner.outside_m <= 0.02 < arc_departure_m(least, 21.3) * turn / 21.3
    assert failed_findings(judge_arcs(line)) == ()


def test_check_breaks__one_arc_does_where_it_keeps_the_trench_or_nothing_turns_in_plan():
    for line in (turned(3.0, 1.11), laid(FUSED, bent(0.4, 0.01), depth=1.15)):
        (corner,) = (each for each in check_breaks(line) if each.station_m == 50.0)
        assert corner.plan_radius_m is None
        assert corner.radius_m == pytest.approx(34 * 0.2)
