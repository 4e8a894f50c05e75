"""Sizes of vents: cases, allowed vacuum, heights, ratings."""

from __future__ import annotations

import math

import numpy as np
import pytest
from made_line import sizes_of
from scipy.optimize import brentq

from routing.fittings.size.air_flow import open_vent_cd, orifice_air_m3_s
from routing.fittings.trade_data import nominal_sizes
from routing.flow import atmosphere_pa, friction_factor
from routing.pipe import load_catalogue, pipe_by_hand, schedule_pipes

G = 9.80665
NOMINAL = {size for size, _ in nominal_sizes()}
HILLS = ([0, 200, 400, 700], [100, 80, 95, 40])


def by_name(vent):
    return {case.name: case for case in vent.cases}


def at(sized, station):
    return min(sized.vents, key=lambda vent: abs(vent.station_m - station))


def test_break__full_bore_flow_down_the_steepest_reach(line, sizing_of) -> None:
    inputs = sizing_of(line(*HILLS))
    vent = at(sizes_of(inputs), 400.0)
    # below the summit: 55 m down over 300 m, 15 m down over 200 m on the other side
    pipe = inputs.line.pipes.runs[0].pipe
    sine, bore, nu = 55 / math.hypot(300, 55), 0.2, inputs.line.water.kinematic_viscosity_m2_s

    def lost(velocity: float) -> float:
        factor = friction_factor(velocity * bore / nu, pipe.roughness_new_m / bore)
        return factor / bore * velocity**2 / (2 * G) - sine

    flow = brentq(lost, 0.01, 100.0) * math.pi / 4 * bore**2
    assert by_name(vent)["break"].air_m3_s == pytest.approx(flow, rel=1e-6)
    assert vent.governing == "break"


def test_break__low_hump_is_bounded_by_its_own_fall(line, sizing_of) -> None:
    # A hump of 0.2 m with a steep flank cannot drive more than its fall gives without friction.
    inputs = sizing_of(line([0, 200, 201, 205, 600], [100, 80, 80.2, 79.9, 50]))
    vent = at(sizes_of(inputs), 201.0)
    most = math.pi / 4 * 0.2**2 * math.sqrt(2 * G * (80.2 - 50))
    assert by_name(vent)["break"].air_m3_s <= most


def test_cases__bores_pass_their_air_at_altitude(line, sizing_of) -> None:
    high = line([0, 200, 400, 700], [2100, 2080, 2095, 2040])
    for vent in sizes_of(sizing_of(high)).vents:
        height = float(np.interp(vent.station_m, high.station_m, high.pipe_m))
        for name in ("draining", "break"):
            case = by_name(vent)[name]
            if case.bore_m == 0.0:
                continue
            cd = 0.7
            if vent.open_top_m is not None:
                cd = open_vent_cd(vent.open_top_m - height, case.bore_m)
            passed = orifice_air_m3_s(
                cd=cd,
                bore_m=case.bore_m,
                difference_pa=case.pressure_difference_pa,
                atmosphere_pa=atmosphere_pa(height),
                inward=True,
            )
            assert passed == pytest.approx(case.air_m3_s, rel=1e-6)


def test_filling__a_foot_per_second(line, sizing_of) -> None:
    # 0.3 m/s, AWWA C605, from memory of it; a valve that lets air in only has no such case.
    sized = sizes_of(sizing_of(line(*HILLS, intake_level=120.0)))
    summit = by_name(at(sized, 400.0))["filling"]
    assert summit.air_m3_s == pytest.approx(0.3 * math.pi / 4 * 0.2**2)
    assert summit.pressure_difference_pa == pytest.approx(2 * 6894.757, rel=1e-3)
    below_intake = at(sized, 0.0)
    assert below_intake.kind == "vacuum valve"
    assert "filling" not in by_name(below_intake)


def test_draining__air_is_the_water_of_the_drains_beside(line, sizing_of) -> None:
    sized = sizes_of(sizing_of(line(*HILLS)))
    flows = {
        (limb.from_m, limb.to_m): limb.first_flow_m3_s
        for drain in sized.drains
        for limb in drain.limbs
    }
    summit = by_name(at(sized, 400.0))["draining"]
    assert summit.air_m3_s == pytest.approx(flows[200.0, 400.0] + flows[400.0, 700.0], rel=1e-9)
    assert by_name(at(sized, 0.0))["draining"].air_m3_s == pytest.approx(flows[0.0, 200.0])


def test_allowed_vacuum__pipe_or_five_psi(line, sizing_of) -> None:
    # min(34.5 kPa, 0.64 Pcr/2): PVC SDR 81 by the published ring formula
    # (undergroundsolutions.com), 5 psi by AWWA Manual M51 (standards.biao-zhun.cn copy).
    thin = sizes_of(sizing_of(line(*HILLS), pipe="PVC-D2241PIP-SDR81-15in"))
    thick = sizes_of(sizing_of(line(*HILLS), pipe="PVC-D2241IPS-SDR26-8in"))
    wall = load_catalogue().find("PVC-D2241PIP-SDR81-15in")
    slender = wall.wall_least_m / (wall.outside_diameter_m - wall.wall_least_m)
    collapse = 2 * wall.elastic_short_pa / (1 - wall.poisson**2) * slender**3
    for weak, strong in zip(thin.vents, thick.vents, strict=True):
        assert weak.allowed_vacuum_pa == pytest.approx(0.64 * collapse / 2)
        assert strong.allowed_vacuum_pa == pytest.approx(5 * 6894.757, rel=1e-5)
        assert weak.needed_m >= strong.needed_m


def test_allowed_vacuum__weakest_pipe_beside_the_vent(line, sizing_of) -> None:
    find = load_catalogue().find
    pipes = schedule_pipes(
        [(0.0, find("PVC-D2241IPS-SDR26-8in")), (500.0, find("PVC-D2241PIP-SDR81-15in"))], 700.0
    )
    sized = sizes_of(sizing_of(line(*HILLS), schedule=pipes))
    assert at(sized, 400.0).allowed_vacuum_pa < 5000.0
    assert at(sized, 0.0).allowed_vacuum_pa > 34_000.0


def test_allowed_vacuum__unknown_stiffness_is_said(line, sizing_of) -> None:
    odd = pipe_by_hand(material="bamboo", inside_diameter_m=0.2, wall_m=0.01, roughness_m=1e-4)
    sized = sizes_of(sizing_of(line(*HILLS), schedule=schedule_pipes([(0.0, odd)], 700.0)))
    assert {vent.allowed_vacuum_pa for vent in sized.vents} == {6900.0}
    assert "vacuum_unknown" in {finding.code for finding in sized.findings}


@pytest.mark.parametrize("bore", [0.05, 0.1, 0.3, 0.6, 0.9])
def test_bore__nominal_and_never_below_the_table(line, sizing_of, bore) -> None:
    placed = sizing_of(line(*HILLS, bore=bore, intake_level=130.0))
    sized = sizes_of(placed)
    for vent, own in zip(sized.vents, placed.vents, strict=True):
        assert vent.bore_m >= own.size_m
        assert vent.bore_m >= vent.needed_m * (1 - 1e-9)
        assert vent.bore_m in NOMINAL
        assert vent.least_m == own.size_m


def test_open_vent__flood_raises_its_top(line, sizing_of) -> None:
    laid = line(*HILLS, intake_level=102.0)
    dry = sizes_of(sizing_of(laid))
    wet = sizes_of(sizing_of(laid, flood_rise_m=0.8))
    first, flooded = at(dry, 0.0), at(wet, 0.0)
    # 0.3 m over the water of the intake at 102 m: NRCS 430, from memory of it
    assert first.open_top_m == pytest.approx(102.3)
    assert flooded.open_top_m == pytest.approx(103.1)
    assert flooded.open_height_m == pytest.approx(first.open_height_m + 0.8)


def test_open_vent__stands_over_the_static_line_not_the_flowing_one(line, sizing_of) -> None:
    flowing = [1.0, 5.0, 1.5, 0.0]
    vent = at(sizes_of(sizing_of(line(*HILLS, flowing=flowing), flow_m3_s=0.02)), 400.0)
    assert vent.kind == "open vent"
    assert vent.open_top_m == pytest.approx(101.3)


def test_open_vent__surge_makes_it_a_valve(line, sizing_of) -> None:
    inputs = line(*HILLS)
    surge = 9806.65 * 0.9997 * (inputs.static_head_m + 12.0)
    plain = sizing_of(inputs)
    sized = sizes_of(sizing_of(inputs, operating_pa=surge))
    before = at(sizes_of(plain), 400.0)
    after = at(sized, 400.0)
    assert before.kind == "open vent"
    assert after.kind == "combination air valve"
    assert after.open_top_m is None
    assert after.rating_pa == pytest.approx(surge[2], rel=1e-9)
    assert after.rating_basis.startswith("static pressure and surge")


def test_open_vent__in_the_emergency_it_spills_and_stays(line, sizing_of) -> None:
    # A blocked outlet is rare and short: water over a standpipe is worth a note, not a valve.
    inputs = line(*HILLS)
    surge = 9806.65 * 0.9997 * (inputs.static_head_m + 12.0)
    calm = sizes_of(sizing_of(inputs, emergency_pa=9806.65 * 0.9997 * inputs.static_head_m))
    sized = sizes_of(sizing_of(inputs, emergency_pa=surge))
    vent = at(sized, 400.0)
    assert vent.kind == "open vent"
    assert vent.rating_pa == pytest.approx(surge[2])
    spills = [f for f in sized.findings if f.code == "vent_overtopped"]
    assert {f.severity for f in spills} == {"note"}
    assert "spills for a moment" in spills[0].message
    assert "vent_overtopped" not in {f.code for f in calm.findings}


@pytest.mark.parametrize(("rise", "support"), [(0.0, "stands by itself"), (3.0, "guyed")])
def test_open_vent__support_by_height(line, sizing_of, rise, support) -> None:
    vent = at(sizes_of(sizing_of(line(*HILLS), flood_rise_m=rise)), 0.0)
    assert vent.support == support
    assert (vent.open_height_m > 3.0) == (support == "guyed")


def test_rating__greatest_of_static_surge_and_test(line, sizing_of) -> None:
    inputs = line(*HILLS, intake_level=130.0)
    water = inputs.water.density_kg_m3 * G
    bare = at(sizes_of(sizing_of(inputs)), 400.0)
    assert bare.rating_pa == pytest.approx(water * 35.0)
    assert "surge not computed" in bare.rating_basis
    tested = at(sizes_of(sizing_of(inputs, test_pa=np.full(4, 9e5))), 400.0)
    assert tested.rating_pa == 9e5
    assert tested.rating_basis.startswith("test pressure")


def test_seals__by_flowing_head_or_else_static(line, sizing_of) -> None:
    # A float valve needs about 5 psi, 3.5 m (dsurbanfarm.com).
    calm = line(*HILLS, intake_level=130.0)
    vent = at(sizes_of(sizing_of(calm)), 400.0)
    assert vent.seals
    assert vent.seal_head_m == pytest.approx(35.0)
    fast = line(*HILLS, intake_level=130.0, flowing=[30.0, 40.0, 3.0, 2.0])
    sized = sizes_of(sizing_of(fast, flow_m3_s=0.05))
    assert at(sized, 400.0).seals is False
    # the summit is the flow's own matter; the end of the line is told of here
    assert [f.station_m for f in sized.findings if f.code == "vent_may_leak"] == [700.0]


def test_release__two_percent_of_the_flow(line, sizing_of) -> None:
    # Fresh water carries about 2 % of air (dripdepot.freshdesk.com, article 11000064574).
    fast = line(*HILLS, intake_level=130.0, flowing=[30.0, 40.0, 20.0, 60.0])
    vent = at(sizes_of(sizing_of(fast, flow_m3_s=0.05)), 400.0)
    case = by_name(vent)["release"]
    assert case.air_m3_s == pytest.approx(0.001)
    assert vent.release_m == case.bore_m < vent.bore_m
    # a plain drilled hole, Cd 0.6 (common practice), under 20 m of water
    passed = orifice_air_m3_s(
        cd=0.6,
        bore_m=case.bore_m,
        difference_pa=999.7 * G * 20.0,
        atmosphere_pa=atmosphere_pa(95.0),
        inward=False,
    )
    assert passed == pytest.approx(0.001, rel=1e-3)


def test_frost_note__only_where_vents_may_freeze(line, sizing_of) -> None:
    warm = sizes_of(sizing_of(line(*HILLS)))
    cold = sizes_of(sizing_of(line(*HILLS), vents_may_freeze=True))
    assert all(vent.frost_note is None for vent in warm.vents)
    assert all("frozen vent is a shut one" in vent.frost_note for vent in cold.vents)


def test_text__speaks_the_units_of_the_reader(line, sizing_of) -> None:
    metric = sizes_of(sizing_of(line(*HILLS)))
    us = sizes_of(sizing_of(line(*HILLS, units="us")))
    for ours, theirs in zip(metric.vents, us.vents, strict=True):
        assert " mm" in ours.text
        assert " in" in theirs.text
        assert " mm" not in theirs.text
