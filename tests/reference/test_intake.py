"""Weirs, mouth, settling, flushing and storage against published tables and worked values."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from fluids.open_flow import Q_weir_rectangular_full_Rehbock
from hypothesis import given
from hypothesis import strategies as st

from routing.errors import InputError
from routing.flow.intake import (
    bar_gap_m,
    basin_area_m2,
    check_mouth,
    check_storage,
    cipolletti_flow_m3_s,
    crest_width_m,
    flushed_grain_m,
    gauge_stream,
    mouth_depths_m,
    residual_check,
    residual_notch_head_m,
    settling_velocity_m_s,
    share_stream,
    size_screen,
    start_up_volume_m3,
    v_notch_flow_m3_s,
    v_notch_head_m,
    v_notch_us_flow_m3_s,
    weir_contracted_flow_m3_s,
    weir_suppressed_flow_m3_s,
)
from routing.water import water_at

FOOT = 0.3048
CFS = FOOT**3

# 90 degree notch, head in feet: 2.49 h^2.48 and the form with Ce 0.578 and k 0.88 mm [L/s];
# independently computed from USBR Water Measurement Manual eq. 7-6 (from memory) and
# ponce.sdsu.edu/protected119/lab05_131025.html
NOTCH_90 = [
    (0.20, 1.303, 1.299),
    (0.50, 12.638, 12.559),
    (0.75, 34.546, 34.442),
    (1.00, 70.509, 70.532),
    (1.25, 122.63, 123.03),
]


@pytest.mark.parametrize(("head_ft", "us", "iso"), NOTCH_90, ids=lambda v: f"{v:g}")
def test_v_notch__90_degrees(head_ft: float, us: float, iso: float) -> None:
    digit = 0.005 if us > 100 else 0.0005
    assert 1000 * v_notch_us_flow_m3_s(head_ft * FOOT) == pytest.approx(us, abs=digit)
    # The table was made with k 0.0029 ft, here 0.85 mm of ISO 1438, which is a little lower
    flow = 1000 * v_notch_flow_m3_s(head_ft * FOOT)
    lower = ((head_ft * FOOT + 0.00085) / ((head_ft + 0.0029) * FOOT)) ** 2.5
    assert flow == pytest.approx(iso * lower, abs=max(digit, 1e-4 * iso))
    assert flow == pytest.approx(us, rel=0.012)


# 60 degree notch, head in feet, cfs: scribd.com/doc/258880814
NOTCH_60 = [(0.20, 0.0258, 0.037), (0.25, 0.0451, None), (0.30, 0.0711, 0.020)]


@pytest.mark.parametrize(("head_ft", "cfs", "above"), NOTCH_60)
def test_v_notch__60_degrees_within_the_tolerance_of_low_heads(
    head_ft: float, cfs: float, above: float | None
) -> None:
    flow = v_notch_flow_m3_s(head_ft * FOOT, 60.0) / CFS
    assert flow == pytest.approx(cfs, rel=0.05)
    if above is not None:
        assert flow / cfs - 1.0 == pytest.approx(above, abs=0.003)


def test_v_notch__not_a_third_too_high() -> None:
    # A function of a well-known library gives 93.5 L/s at 1.00 ft, by a lost 8 sqrt(2)/15
    assert 1000 * v_notch_flow_m3_s(FOOT) < 71.0
    assert 93.5 * 8 * math.sqrt(2) / 15 == pytest.approx(70.5, abs=0.05)


@given(st.floats(1e-6, 0.3), st.floats(25.0, 100.0))
def test_v_notch__head_and_flow_are_inverse(flow: float, angle: float) -> None:
    head = v_notch_head_m(flow, angle)
    if head > 0.0:
        assert v_notch_flow_m3_s(head, angle) == pytest.approx(flow, rel=1e-9)


def test_v_notch__sweep_rises_with_head_and_angle() -> None:
    heads = np.linspace(0.001, 0.6, 200)
    for angle in (25.0, 45.0, 60.0, 90.0, 100.0):
        flows = np.array([v_notch_flow_m3_s(head, angle) for head in heads.tolist()])
        assert np.all(np.diff(flows) > 0.0)
    flows = np.array([v_notch_flow_m3_s(0.2, angle) for angle in np.linspace(25, 100, 151)])
    assert np.all(np.diff(flows) > 0.0)
    assert v_notch_flow_m3_s(0.0) == 0.0
    with pytest.raises(InputError, match="angle"):
        v_notch_flow_m3_s(0.1, 120.0)


def test_weirs__rectangular_and_leaning() -> None:
    # h 0.2, L 1.0, P 0.5 m: Francis 0.15786, Rehbock 0.16925, Kindsvater-Carter 0.16798 m3/s;
    # independently computed; Francis: contraction in lfportal.everettwa.gov doc 829854 p. 147
    assert weir_contracted_flow_m3_s(0.2, 1.0) == pytest.approx(0.15786, abs=5e-6)
    assert weir_suppressed_flow_m3_s(0.2, 1.0, 0.5) == pytest.approx(0.16925, abs=5e-6)
    assert weir_suppressed_flow_m3_s(0.2, 1.0, 0.5) == pytest.approx(0.16798, rel=0.01)
    library = Q_weir_rectangular_full_Rehbock(0.2, 0.5, 1.0)
    assert library == pytest.approx(0.16934, abs=5e-6)
    assert weir_suppressed_flow_m3_s(0.2, 1.0, 0.5) == pytest.approx(library, rel=1e-3)
    # Cipolletti, 3.367 L h^1.5 in feet; USBR Water Measurement Manual, from memory
    assert cipolletti_flow_m3_s(FOOT, FOOT) == pytest.approx(3.367 * CFS, rel=1e-12)
    assert cipolletti_flow_m3_s(1.0, 1.0) == pytest.approx(1.859, abs=5e-4)
    assert weir_contracted_flow_m3_s(FOOT, 3 * FOOT) == pytest.approx(3.33 * 2.8 * CFS, rel=1e-12)


def test_weirs__sweep_rises_with_head() -> None:
    heads = np.linspace(0.0, 0.5, 101).tolist()
    for flows in (
        [weir_suppressed_flow_m3_s(head, 1.0, 0.5) for head in heads],
        [weir_contracted_flow_m3_s(head, 1.0) for head in heads],
        [cipolletti_flow_m3_s(head, 1.0) for head in heads],
    ):
        assert flows[0] == 0.0
        assert np.all(np.diff(flows) > 0.0)


def test_gauge_stream__outside_its_range_says_so() -> None:
    # usbr.gov wmm chap07_07: head above 0.2 ft, tailwater 0.2 ft below the notch
    assert not gauge_stream("v notch", 0.2 * FOOT + 0.001).findings
    for gauging in (
        gauge_stream("v notch", 0.05),
        gauge_stream("v notch", 0.40),
        gauge_stream("v notch", 0.2, tailwater_below_m=0.05),
        gauge_stream("rectangular contracted", 0.2, width_m=0.5),
        gauge_stream("cipolletti", 0.02, width_m=0.5),
        gauge_stream("rectangular suppressed", 0.1, width_m=1.0, crest_m=0.4,
                     tailwater_below_m=-0.02),
    ):  # fmt: skip
        assert [each.code for each in gauging.findings] == ["gauging_outside_range"]
    assert gauge_stream("v notch", 0.2).read_upstream_m == pytest.approx(0.8)
    with pytest.raises(InputError, match="width"):
        gauge_stream("cipolletti", 0.1)
    with pytest.raises(InputError, match="no weir of the kind"):
        gauge_stream("flume", 0.1)  # type: ignore[arg-type]


# Gordon 1970, from memory; V, D, depth symmetric / asymmetric [m]; independently computed
GORDON = [(2.0, 0.5, 0.764, 1.018), (1.0, 0.3, 0.296, 0.394)]


@pytest.mark.parametrize(("velocity", "bore", "straight", "aslant"), GORDON)
def test_mouth_depths__gordon(velocity: float, bore: float, straight: float, aslant: float) -> None:
    depth = mouth_depths_m(velocity, bore, symmetric=True).gordon_m
    assert depth == pytest.approx(straight, abs=5e-4)
    assert mouth_depths_m(velocity, bore).gordon_m == pytest.approx(aslant, abs=5e-4)


def test_mouth_depths__gordon_is_the_least_of_three() -> None:
    # Hydraulic Institute, from memory: D 0.3, V 1: 0.70 m below the centreline
    depths = mouth_depths_m(1.0, 0.3, symmetric=True)
    assert depths.hydraulic_institute_m + 0.15 == pytest.approx(0.70, abs=5e-3)
    assert depths.least_m == 0.3
    assert depths.prosser_m + 0.15 == pytest.approx(1.5 * 0.3)


def _failed(judged: Any) -> list[str]:
    return [check.code for check in judged.checks if not check.passed]


def test_check_mouth__from_the_dirtiest_screen() -> None:
    common = {"centreline_m": 99.2, "velocity_m_s": 1.0, "bore_m": 0.3, "symmetric": True}
    clean = check_mouth(working_level_m=100.0, screen_loss_m=0.0, **common)
    dirty = check_mouth(working_level_m=100.0, screen_loss_m=0.4, **common)
    assert clean.depth_m == pytest.approx(0.65)
    assert _failed(clean) == []
    assert dirty.depth_m == pytest.approx(0.25)
    assert _failed(dirty) == ["mouth_too_shallow"]
    middle = check_mouth(working_level_m=100.0, screen_loss_m=0.2, **common)
    assert _failed(middle) == ["vortex"]


# Ferguson and Church 2004, from memory: grain mm, w at 5 and at 15 degC [mm/s]; computed
SETTLING = [(0.1, 5.2, 6.7), (0.2, 17.4, 21.3), (0.3, 32.0, 37.7), (0.5, 61.0, 68.0)]


@pytest.mark.parametrize(("grain", "cold", "mild"), SETTLING)
def test_settling_velocity__table(grain: float, cold: float, mild: float) -> None:
    for temperature, expected in ((5.0, cold), (15.0, mild)):
        found = 1000 * settling_velocity_m_s(grain / 1000, water_at(temperature))
        assert found == pytest.approx(expected, abs=0.05)


def test_settling_velocity__stokes_and_sweep() -> None:
    # Fine grains follow Stokes: w = R g d^2 / (18 nu)
    cold = water_at(5.0)
    fine = 1e-5
    stokes = 1.65 * 9.80665 * fine**2 / (18 * cold.kinematic_viscosity_m2_s)
    assert settling_velocity_m_s(fine, cold) == pytest.approx(stokes, rel=0.02)
    grains = np.geomspace(1e-5, 1e-2, 100).tolist()
    speeds = np.array([settling_velocity_m_s(grain, cold) for grain in grains])
    assert np.all(np.diff(speeds) > 0.0)
    areas = np.array([basin_area_m2(0.05, grain, cold) for grain in grains])
    assert np.all(np.diff(areas) < 0.0)
    assert basin_area_m2(0.05, 0.0002, cold, factor=1.5) * 17.4e-3 == pytest.approx(0.075, rel=3e-3)


def test_flushed_grain__worked_value() -> None:
    # depth 0.10 m, slope 3 %, quartz: 29.4 Pa, 36 mm; Shields 0.05 from memory, computed
    assert 1000 * flushed_grain_m(0.10, 0.03, water_at(10.0)) == pytest.approx(36, abs=0.5)
    assert water_at(10.0).density_kg_m3 * 9.80665 * 0.1 * 0.03 == pytest.approx(29.4, abs=0.05)


def test_residual_notch__worked_value() -> None:
    # 5 L/s through a 90 degree notch needs 105 mm; independently computed
    assert 1000 * residual_notch_head_m(0.005) == pytest.approx(105, abs=0.5)
    with pytest.raises(InputError, match="residual flow"):
        residual_notch_head_m(0.0)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0, 1))
def test_share_stream__nothing_is_lost_and_the_bed_comes_first(
    stream: float, residual: float, design: float
) -> None:
    share = share_stream(stream, residual, design)
    parts = (share.residual_m3_s, share.machine_m3_s, share.spill_m3_s)
    assert min(parts) >= 0.0
    assert sum(parts) == pytest.approx(stream, abs=1e-12)
    if residual >= stream:
        assert share.machine_m3_s == 0.0
    else:
        assert share.residual_m3_s == residual
    if abs(stream - residual - design) > 1e-12:
        assert bool(_failed(share)) == (stream < residual + design)


def test_share_stream__tennant() -> None:
    # Tennant 1976, seen second-hand: 10 % of the mean annual flow is the minimum
    assert _failed(share_stream(1.0, 0.1, 0.05, mean_annual_m3_s=1.0)) == []
    assert _failed(share_stream(1.0, 0.09, 0.05, mean_annual_m3_s=1.0)) == ["residual_low"]
    # the same: 30 % is a fair base flow
    assert "30 % a fair base flow" in residual_check(0.09, 1.0).message


def test_crest_and_storage__worked_values() -> None:
    # 0.10 m3/s at 0.15 m: 1.01 m (broad crest, from memory); 50 L/s: 3 to 6 m3, common practice
    assert crest_width_m(0.10, 0.15) == pytest.approx(1.01, abs=5e-3)
    assert start_up_volume_m3(0.05, 60.0) == pytest.approx(3.0)
    assert start_up_volume_m3(0.05) == pytest.approx(6.0)
    assert check_storage(3.0, 0.05).passed
    assert not check_storage(2.9, 0.05).passed
    assert check_storage(2.9, 0.05).code == "storage_small"


def test_screen__areas_and_gaps() -> None:
    # 0.3 m/s through the bars and half of them clogged: common practice
    screen = size_screen(0.03, open_share=0.5, built_m2=0.3)
    assert screen.net_m2 == pytest.approx(0.1)
    assert screen.gross_m2 == pytest.approx(0.4)
    assert _failed(screen) == ["screen_small"]
    # ESHA guide, from memory: a fifth of the nozzle, half of the passage
    assert bar_gap_m("Pelton", 0.030) == pytest.approx(0.006)
    assert bar_gap_m("francis", 0.030) == pytest.approx(0.015)
    with pytest.raises(InputError, match="no rule"):
        bar_gap_m("screw", 0.1)
