import math

import numpy as np
import pytest

from routing.anchors import (
    PipeBody,
    Section,
    SpanConditions,
    anchor_limits,
    check_curves,
    check_flotation,
    check_spans,
    curve_findings,
    flotation_findings,
    formulas,
    least_cover_against_uplift_m,
    place_slope_anchors,
    saddle_stress_pa,
    slope_findings,
    span_findings,
    span_requirements,
    weight_n_m,
)
from routing.errors import InputError
from routing.trench import Bend, Span

STEEL = PipeBody(
    material="STEEL",
    section=Section(outside_diameter_m=0.2191, inside_diameter_m=0.2027),
    density_kg_m3=7850.0,
    elastic_long_pa=200e9,
    elastic_short_pa=200e9,
    expansion_per_c=1.17e-5,
)
PVC = PipeBody(
    material="PVC",
    section=Section(outside_diameter_m=0.2191, inside_diameter_m=0.2027),
    density_kg_m3=1400.0,
    elastic_long_pa=1e9,
    elastic_short_pa=2.758e9,
    expansion_per_c=5.4e-5,
)


def spans(pipe, to_m, **change):
    return check_spans([Span(from_m=0.0, to_m=to_m)], np.array([0.0, 100.0]),
                       np.array([50.0, 40.0]), bodies=[pipe], pressure_pa=[5e5],
                       conditions=SpanConditions(**change))[0]  # fmt: skip


@pytest.mark.parametrize("pipe", [STEEL, PVC], ids=["steel", "pvc"])
def test_check_spans__longest_is_the_edge_of_all_requirements(pipe):
    check = spans(pipe, 12.0)
    for bay, passes in ((check.longest_m, True), (check.longest_m + 1e-3, False)):
        asked = span_requirements(pipe, SpanConditions(), bay_m=bay, support="simple",
                                  pressure_pa=5e5, grade=0.1)  # fmt: skip
        assert all(each.passed for each in asked) == passes
    assert all(each.formula in formulas() for each in check.requirements)
    spaced = spans(pipe, 12.0, spacing_m=check.longest_m)
    assert spaced.bay_m <= check.longest_m
    assert spaced.bays == math.ceil(math.hypot(12.0, 1.2) / check.longest_m)
    assert sum(spaced.reactions_n) >= spaced.weight_n_m * spaced.length_m * 0.999


def test_check_spans__worse_conditions_never_lengthen_a_span():
    usual = spans(STEEL, 12.0).longest_m
    assert spans(STEEL, 12.0, extra_n_m=500.0).longest_m <= usual
    assert spans(STEEL, 12.0, hottest_c=70.0).longest_m <= usual
    assert spans(PVC, 12.0, wind_pa=3000.0).longest_m <= spans(PVC, 12.0, wind_pa=0.0).longest_m


def test_check_spans__anchors_and_expansion_joints_from_thirty_metres():
    assert spans(STEEL, 29.0).expansion_joints == 0
    long = spans(STEEL, 65.0, spacing_m=6.0)
    assert long.expansion_joints == 3
    assert long.movement_m == pytest.approx(1.17e-5 * long.length_m * 55.0)
    assert long.joint_opening_m == pytest.approx(1.17e-5 * long.length_m / 3 * 30.0 + 0.005)
    assert "buckling" not in {each.name for each in long.requirements}
    assert long.anchor_pull_n > 0.0


def test_check_spans__bells_need_a_support_each():
    jointed = PipeBody(material="PVC", section=PVC.section, density_kg_m3=1400.0,
                       elastic_long_pa=1e9, elastic_short_pa=2.758e9, expansion_per_c=5.4e-5,
                       stick_m=1.5)  # fmt: skip
    assert spans(jointed, 12.0).longest_m == pytest.approx(1.5, abs=1e-3)


def test_span_findings__say_what_fails_and_how_long_is_right():
    found = span_findings([spans(PVC, 12.0)], ["PVC"])
    assert [each.code for each in found] == [
        "span_structure", "span_fails", "span_long", "span_plastic",
    ]  # fmt: skip
    assert [each.severity for each in found] == ["note", "fault", "fault", "warning"]
    assert all("licensed engineer" in each.message for each in found[:3])
    assert [f.code for f in span_findings([spans(STEEL, 5.0)], ["STEEL"])] == ["span_structure"]
    warned = span_findings([spans(STEEL, 8.0)], ["STEEL"])[1:]
    assert [(f.code, f.severity) for f in warned] == [("span_long", "warning")]
    strange = span_findings([spans(STEEL, 5.0)], ["bamboo"])[1:]
    assert [f.code for f in strange] == ["span_unchecked"]


def test_check_spans__counts_must_agree():
    with pytest.raises(InputError, match="1 spans have 0 pipes"):
        check_spans([Span(from_m=0.0, to_m=5.0)], np.array([0.0, 9.0]), np.zeros(2), bodies=[],
                    pressure_pa=[])  # fmt: skip


def test_check_flotation__reaches_and_worst_place():
    station = np.arange(0.0, 101.0, 10.0)
    cover = np.full(11, 0.8)
    cover[3:6] = (0.25, 0.1, 0.28)
    cover[9:] = -2.0
    span = station >= 90.0
    n = np.ones(11)
    needed = least_cover_against_uplift_m(outside_diameter_m=0.315, pipe_n_m=171.0)
    reaches = check_flotation(station, cover, span, 0.315 * n, 171.0 * n)
    assert [(r.from_m, r.to_m, r.station_m) for r in reaches] == [(30.0, 50.0, 40.0)]
    assert reaches[0].needed_cover_m == pytest.approx(needed)
    assert reaches[0].factor < 1.5
    assert [each.code for each in flotation_findings(reaches)] == ["pipe_floats"]
    peat = check_flotation(station, cover, span, 0.315 * n, 171.0 * n,
                           saturated_n_m3=anchor_limits().peat_n_m3)  # fmt: skip
    assert [(r.from_m, r.to_m) for r in peat] == [(0.0, 80.0)]


def test_check_flotation__missing_cover_is_no_cover_at_all():
    with pytest.raises(InputError, match="cover is not a finite number"):
        check_flotation(np.array([0.0, 1.0]), np.array([0.8, np.nan]), np.zeros(2, bool),
                        np.ones(2), np.ones(2))  # fmt: skip


def test_place_slope_anchors__classes_meet_and_waves_are_no_slopes():
    station = np.linspace(0.0, 90.0, 181)
    pipe = np.interp(station, [0.0, 30.0, 60.0, 90.0], [100.0, 92.5, 80.5, 62.5])
    anchors = place_slope_anchors(station, pipe)
    places = np.array([anchor.station_m for anchor in anchors])
    slope = np.interp(places, station, np.concatenate(([0.0], np.cumsum(
        np.hypot(np.diff(station), np.diff(pipe))))))  # fmt: skip
    for grade, first, last in ((36, 0.0, 25.0), (24, 35.0, 55.0), (16, 65.0, 90.0)):
        inside = (places[:-1] >= first) & (places[1:] <= last)
        assert inside.any()
        assert np.diff(slope)[inside].max() <= grade * 0.3048 + 1e-6
    gentle = 100.0 - 0.05 * station + 0.05 * np.sin(station * 4.0)
    assert place_slope_anchors(station, gentle) == ()
    assert [f.code for f in slope_findings(anchors)] == ["slope_anchors"]
    cliff = place_slope_anchors(station, 200.0 - 1.2 * station)
    assert [f.code for f in slope_findings(cliff)] == ["slope_anchors", "slope_steep"]
    assert slope_findings(()) == ()


def test_check_curves__four_ways_to_turn():
    bends = [
        Bend(id=f"B{i}", index=i, station_m=100.0 * i, plan_deg=a, vertical_deg=0.0,
             deflection_deg=a)
        for i, a in enumerate((2.5, 10.0, 23.5, 8.0), start=1)
    ]  # fmt: skip
    curves = check_curves(bends, np.arange(0.0, 501.0, 100.0), allowance_deg=[3.0, 3.0, 1.2, 0.3],
                          stick_m=[6.0] * 4, bend_radius_m=[math.inf] * 4)  # fmt: skip
    assert [curve.verdict for curve in curves] == [
        "one joint", "curve", "fittings", "cannot be made",
    ]  # fmt: skip
    assert curves[2].made.fittings_deg == (22.5,)
    assert [each.station_m for each in curve_findings(curves)] == [400.0]
    fused = check_curves(bends, np.arange(0.0, 501.0, 100.0), allowance_deg=[0.0] * 4,
                         stick_m=[12.0] * 4, bend_radius_m=[5.0] * 4)  # fmt: skip
    assert {curve.verdict for curve in fused} == {"curve"}
    assert all(curve.formula == "curve.bend" for curve in fused)
    assert check_curves([], np.array([0.0, 1.0]), allowance_deg=[], stick_m=[],
                        bend_radius_m=[]) == ()  # fmt: skip


def test_formulas__every_row_is_whole():
    for formula in formulas().values():
        assert formula.what
        assert formula.equation
        assert formula.status.startswith(("source seen", "from memory of", "common", "calculated"))
        assert formula.source or formula.status == "common practice, no source"


def test_slope_findings__steeper_than_one_in_one():
    # Civil works guidelines for micro-hydropower in Nepal (library.snls.org.sz), page 88.
    station = np.linspace(0.0, 50.0, 11)
    for grade, codes in ((0.99, ["slope_anchors"]), (1.02, ["slope_anchors", "slope_steep"])):
        found = slope_findings(place_slope_anchors(station, 100.0 - grade * station))
        assert [each.code for each in found] == codes


def test_span_requirements__saddle_of_an_inner_support():
    # Beam theory: the middle support of two spans carries 1.25 bays, the most of any.
    asked = span_requirements(STEEL, SpanConditions(wind_pa=0.0), bay_m=6.0, support="continuous",
                              pressure_pa=0.0, grade=0.1)  # fmt: skip
    saddle = next(each for each in asked if each.name == "saddle")
    weight = weight_n_m(STEEL.section, pipe_density_kg_m3=7850.0)
    assert saddle.demand == pytest.approx(saddle_stress_pa(7.5 * weight, 0.2191, 0.0082))
    swing = next(each for each in asked if each.name == "frequency")
    rigidity = 200e9 * STEEL.section.inertia_m4
    # The end bay of a continuous pipe swings as a simple one: pi/2 sqrt(EI/m)/L2.
    expected = math.pi / 2 * math.sqrt(rigidity / (weight / 9.80665)) / 36.0
    assert swing.demand == pytest.approx(expected, rel=1e-6)
