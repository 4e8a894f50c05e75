import math
import pickle

import numpy as np
import pytest

from routing.anchors import (
    Branch,
    bearing_area_m2,
    bearing_block_volume_m3,
    bearing_of_soil,
    bend_thrust_n,
    block_findings,
    formulas,
    governing_pressure,
    place_blocks,
)
from routing.errors import InputError
from routing.trench import Bend


def by_place(blocks):
    return {block.place: block for block in blocks}


def test_place_blocks__one_for_every_bend_and_the_end(line):
    inputs = line()
    blocks = place_blocks(inputs)
    assert [block.id for block in blocks] == ["T1", "T2", "T3"]
    assert [block.place for block in blocks] == ["bend", "bend", "end"]
    assert [block.bend_id for block in blocks] == ["B1", "B2", None]
    for block, bend in zip(blocks, inputs.bends, strict=False):
        end = math.pi / 4 * 0.2**2 * block.pressure_pa
        assert block.thrust.total_n == pytest.approx(
            bend_thrust_n(end, bend.deflection_deg), rel=1e-3
        )
    assert all(key in formulas() for block in blocks for key in block.formulas)
    assert pickle.loads(pickle.dumps(blocks)) == blocks


def test_place_blocks__plan_bend_pushes_outward_and_bears_on_the_wall(line):
    block = place_blocks(line())[0]
    # North, then 30 degrees to the right: the push is to the left of the middle, 285 degrees.
    assert block.thrust.bearing_deg == pytest.approx(285.0, abs=0.5)
    assert block.along_n == pytest.approx(0.0, abs=0.01 * block.thrust.total_n)
    assert block.across_n == pytest.approx(block.thrust.horizontal_n, rel=1e-3)
    sand = bearing_of_soil("sand", 1.0)
    assert block.face_m2 == pytest.approx(bearing_area_m2(block.across_n, sand.bearing_pa))
    assert block.height_m == pytest.approx(2.0 / 3.0)
    assert block.face_m2 == pytest.approx(block.height_m * block.width_m)
    assert dict(block.others)["A"] == pytest.approx(block.face_m2 / 2.0)
    assert dict(block.others)["C"] == pytest.approx(block.face_m2 / 4.0)
    assert block.volume_m3 > 0.0


def test_place_blocks__overbend_is_held_by_weight(line):
    block = place_blocks(line())[1]
    assert block.hold == "gravity block"
    assert block.thrust.up_n > 0.0
    # Independently computed: W >= SF Tz and mu (W - Tz) >= SF Th.
    assert block.weight_n >= 1.5 * block.thrust.up_n
    assert 0.5 * (block.weight_n - block.thrust.up_n) >= 1.5 * abs(block.along_n) - 1e-6
    dry = place_blocks(line(flooded=False))[1]
    assert dry.weight_n == pytest.approx(block.weight_n)
    assert dry.volume_m3 == pytest.approx(block.volume_m3 * (22_800 - 9806.65) / 22_800)


def test_place_blocks__angle_in_space_not_in_plan(line):
    # 10 degrees in plan and 20 down: sized from the plan angle the thrust would be half of it.
    plan, down = 10.0, -20.0
    space = math.degrees(2 * math.asin(math.sqrt(
        math.sin(math.radians(down / 2)) ** 2
        + math.cos(0.0) * math.cos(math.radians(down)) * math.sin(math.radians(plan / 2)) ** 2
    )))  # fmt: skip
    bend = Bend(id="B1", index=40, station_m=200.0, plan_deg=plan, vertical_deg=down,
                deflection_deg=space)  # fmt: skip
    flat = line().station_m * 0.0
    pipe = flat + 100.0
    block = place_blocks(line(bends=(bend,), pipe_m=pipe, ground_m=pipe + 1.0,
                              pressure_pa=flat + 1e6))[0]  # fmt: skip
    end = 1e6 * math.pi / 4 * 0.2**2
    assert block.thrust.total_n == pytest.approx(bend_thrust_n(end, space), rel=5e-3)
    assert block.thrust.total_n > 1.9 * bend_thrust_n(end, plan)


def test_place_blocks__outside_diameter_and_momentum_count(line):
    end = by_place(place_blocks(line(velocity_m_s=None)))["end"]
    expected = math.pi / 4 * (end.pressure_pa * 0.2**2 + 1000.0 * 9.0 * 0.18**2)
    assert end.thrust.total_n == pytest.approx(expected)
    # The outlet is taken as shut: its thrust points down the line.
    assert end.thrust.up_n < 0.0
    assert end.along_n == pytest.approx(end.thrust.horizontal_n)


def test_place_blocks__reducer_valve_and_tee(line):
    base = line()
    outside = np.where(base.station_m < 100.0, 0.3, 0.2)
    tee = Branch(station_m=350.0, outside_diameter_m=0.05, inside_diameter_m=0.04, side="left")
    blocks = by_place(place_blocks(line(
        outside_diameter_m=outside, inside_diameter_m=0.9 * outside, valves_m=(350.0,),
        branches=(tee,),
    )))  # fmt: skip
    reducer = blocks["reducer"]
    assert reducer.station_m == 100.0
    areas = math.pi / 4 * (0.3**2 - 0.2**2)
    assert reducer.thrust.total_n == pytest.approx(reducer.pressure_pa * areas)
    assert reducer.along_n > 0.0
    valve = blocks["valve"]
    assert valve.thrust.total_n == pytest.approx(valve.pressure_pa * math.pi / 4 * 0.2**2)
    branch = blocks["tee"]
    # The line runs 30 degrees east of north there; a branch to the left pushes to the right.
    assert branch.thrust.bearing_deg == pytest.approx(120.0, abs=0.5)


def test_place_blocks__small_turn_is_left_to_the_joint_in_firm_ground(line):
    bend = Bend(id="B1", index=20, station_m=100.0, plan_deg=0.8, vertical_deg=0.0,
                deflection_deg=0.8)  # fmt: skip
    firm = place_blocks(line(bends=(bend,), joint_allowance_deg=1.0))[0]
    assert firm.hold == "joint"
    assert firm.thrust.total_n > 0.0
    assert firm.soil_hold_n >= 1.5 * firm.thrust.total_n
    assert firm.face_m2 is firm.weight_n is firm.volume_m3 is None
    for change in ({"joint_allowance_deg": None}, {"soil": None}, {"soil": "soft clay"},
                   {"in_span": np.ones(81, bool)}):  # fmt: skip
        given = {"bends": (bend,), "joint_allowance_deg": 1.0, **change}
        assert place_blocks(line(**given))[0].hold in ("block", "gravity block", "anchor block")


def test_place_blocks__fused_pipe_has_wall_anchors_instead(line):
    blocks = place_blocks(line(joints=((0.0, "gasket pvc"), (300.0, "fused"))))
    kinds = [(block.place, block.hold) for block in blocks]
    assert kinds[0] == ("bend", "block")
    assert ("bend", "pipe") in kinds
    anchors = [block for block in blocks if block.place == "wall anchor"]
    assert [anchor.station_m for anchor in anchors] == [300.0, 400.0]
    cold = place_blocks(line(joints=((0.0, "fused"),), restrained_change_c=-20.0,
                             elastic_short_pa=758e6, expansion_per_c=1.4e-4))[-1]  # fmt: skip
    heat = 758e6 * math.pi / 4 * (0.2**2 - 0.18**2) * 1.4e-4 * 20.0
    assert cold.thrust.total_n == pytest.approx(anchors[-1].thrust.total_n + heat)


def test_place_blocks__above_ground_by_weight_alone(line):
    block = place_blocks(line(in_span=np.ones(81, bool)))[0]
    assert block.hold == "anchor block"
    assert block.face_m2 is block.soil_hold_n is None
    up, push = block.thrust.up_n, block.thrust.horizontal_n
    assert block.weight_n == pytest.approx(up + 1.5 * push / 0.5)


def test_place_blocks__peat_holds_nothing(line):
    blocks = place_blocks(line(soil="peat"))
    assert {block.hold for block in blocks if block.across_n > 0.0} == {"no ground"}
    assert all(block.volume_m3 is None or math.isfinite(block.volume_m3) for block in blocks)
    found = block_findings(blocks)
    assert "soil_no_bearing" in {each.code for each in found}


def test_block_findings__unknown_soil_and_sharp_bend(line):
    bend = Bend(id="B1", index=20, station_m=100.0, plan_deg=95.0, vertical_deg=0.0,
                deflection_deg=95.0)  # fmt: skip
    base = line()
    found = block_findings(place_blocks(line(bends=(bend,), soil=None,
                                             ground_m=base.pipe_m + 0.5)))  # fmt: skip
    assert [each.code for each in found] == ["soil_unknown", "bend_sharp", "block_shallow"]
    assert "500 psf" in found[0].message
    assert block_findings(place_blocks(base)) == ()


@pytest.mark.parametrize(("cover", "shallow"), [(0.60, True), (0.615, False)])
def test_block_findings__soil_tables_hold_from_two_feet_of_cover(line, cover, shallow):
    # thermalpipesystems.com/flipbook/inc/html/106.html: more than 2 ft (0.61 m) of cover.
    ground = line().pipe_m + 0.1 + cover
    codes = {each.code for each in block_findings(place_blocks(line(ground_m=ground)))}
    assert ("block_shallow" in codes) == shallow


def test_place_blocks__more_pressure_never_needs_less(line):
    base = line()
    sizes = []
    for factor in np.linspace(0.5, 3.0, 11):
        blocks = place_blocks(line(pressure_pa=factor * base.pressure_pa))
        sizes.append([(b.face_m2 or 0.0, b.floor_m2 or 0.0, b.volume_m3) for b in blocks])
    assert np.all(np.diff(np.array(sizes), axis=0) >= 0.0)


def test_governing_pressure__greatest_of_test_and_surge():
    rest = np.array([0.0, 3e5, 5e5, -2e4])
    pressure, which = governing_pressure(
        rest, surge_pa=np.array([0.0, 1e5, 3e5, 0.0]), test_pa=np.array([1e5, 4.5e5, 7e5, -1e5])
    )
    assert pressure.tolist() == [1e5, 4.5e5, 8e5, 0.0]
    assert which == ("test", "test", "static and surge", "static and surge")
    with pytest.raises(InputError, match="surge_pa has shape"):
        governing_pressure(rest, surge_pa=np.zeros(3))


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"valves_m": (401.0,)}, "valve at station 401"),
        ({"joints": ((5.0, "fused"),)}, "joints begin"),
        ({"soil": "moon dust"}, "'moon dust'"),
        ({"joint_allowance_deg": 40.0}, "turn by 40 degrees"),
        ({"pressure_pa": np.full(81, -1.0)}, "pressure_pa falls"),
        ({"lon": np.full(81, np.nan)}, "lon is not a finite number"),
        ({"joints": ((0.0, "string"),)}, "'string'"),
    ],
)
def test_anchor_inputs__one_clear_message(line, change, words):
    with pytest.raises(InputError, match=words):
        place_blocks(line(**change))


def test_block_findings__turn_of_just_over_a_right_angle(line):
    for angle, sharp in ((89.0, False), (91.0, True)):
        bend = Bend(id="B1", index=20, station_m=100.0, plan_deg=angle, vertical_deg=0.0,
                    deflection_deg=angle)  # fmt: skip
        codes = {each.code for each in block_findings(place_blocks(line(bends=(bend,))))}
        assert ("bend_sharp" in codes) == sharp


def test_place_blocks__ground_holds_over_one_stick(line):
    # Table B for sand is 1000 psf (47.88 kPa): on 6 m of a 200 mm pipe 57.46 kN.
    assert place_blocks(line())[0].soil_hold_n == pytest.approx(57_456.0, abs=0.5)
    assert place_blocks(line(stick_m=3.0))[0].soil_hold_n == pytest.approx(28_728.0, abs=0.5)


def test_bearing_block_volume__prism_and_frustum():
    # Solid geometry: between two equal squares a prism; at 45 degrees from a point a pyramid.
    assert bearing_block_volume_m3(0.04, 0.2, 0.2, 0.3) == pytest.approx(0.04 * 0.3)
    pyramid = bearing_block_volume_m3(1.0, 1.0, 1e-9, 0.1)
    assert pyramid == pytest.approx(1.0 * 0.5 / 3.0)
