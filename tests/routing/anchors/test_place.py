import math
import pickle
from dataclasses import replace

import numpy as np
import pytest

from routing.anchors import (
    Branch,
    Ground,
    anchor_limits,
    bearing_area_m2,
    bearing_block_volume_m3,
    bearing_of_soil,
    bend_thrust_n,
    block_findings,
    formulas,
    governing_pressure,
    judge_blocks,
    place_blocks,
    restrained_length_m,
)
from routing.check import failed_findings
from routing.errors import InputError
from routing.pipe import load_catalogue
from routing.trench import Bend
from tests.routing.anchors.conftest import COLD, pipe


def by_place(blocks):
    return {block.place: block for block in blocks}


def turn(deg, vertical=0.0, at=100.0):
    """Return one bend of the line, in plan or in the vertical."""
    a, b = math.radians(deg), math.radians(vertical)
    space = math.degrees(math.acos(math.cos(a) * math.cos(b)))
    return (Bend(id="B1", index=int(at / 5), station_m=at, plan_deg=deg, vertical_deg=vertical,
                 deflection_deg=space),)  # fmt: skip


def test_place_blocks__one_for_every_bend_and_the_end(line):
    case = line()
    blocks = case.blocks
    assert [block.id for block in blocks] == ["T1", "T2", "T3"]
    assert [block.place for block in blocks] == ["bend", "bend", "end"]
    assert [block.bend_id for block in blocks] == ["B1", "B2", None]
    for block, bend in zip(blocks, case.line.bends, strict=False):
        end = math.pi / 4 * 0.2**2 * block.pressure_pa
        assert block.thrust.total_n == pytest.approx(
            bend_thrust_n(end, bend.deflection_deg), rel=1e-3
        )
    assert all(key in formulas() for block in blocks for key in block.formulas)
    assert pickle.loads(pickle.dumps(blocks)) == blocks


def test_place_blocks__plan_bend_pushes_outward_and_bears_on_the_wall(line):
    block = line().blocks[0]
    # North, then 30 degrees to the right: the push is to the left of the middle, 285 degrees.
    assert block.bearing_deg == pytest.approx(285.0, abs=0.5)
    assert block.up == "level" or abs(block.thrust.up_n) < 0.02 * block.thrust.total_n
    assert block.along_n == pytest.approx(0.0, abs=0.01 * block.thrust.total_n)
    assert block.across_n == pytest.approx(block.thrust.horizontal_n, rel=1e-3)
    sand = bearing_of_soil("sand", 1.1)
    assert block.least_face_m2 == pytest.approx(bearing_area_m2(block.across_n, sand.bearing_pa))
    # Half the depth to its base (a municipal standard of thrust blocks): 2/3 of 1.1 m at most.
    assert block.cast.height_m <= 2.0 / 3.0 * 1.1
    assert block.cast.face_m2 == pytest.approx(block.cast.height_m * block.cast.width_m)
    assert block.cast.face_m2 >= block.least_face_m2
    assert dict(block.others)["A"] == pytest.approx(block.least_face_m2 / 2.0)
    assert dict(block.others)["C"] == pytest.approx(block.least_face_m2 / 4.0)


def test_place_blocks__overbend_is_held_by_weight(line):
    block = line().blocks[1]
    assert block.hold == "gravity block"
    assert block.up == "up"
    # Independently computed: W >= SF Tz and mu (W - Tz) >= SF Th.
    assert block.weight_n >= 1.5 * block.thrust.up_n
    assert 0.5 * (block.weight_n - block.thrust.up_n) >= 1.5 * abs(block.along_n) - 1e-6
    # Under water: 22.8 kN/m3 of concrete less that of the water.
    assert block.cast.volume_m3 * (22_800 - COLD.weight_n_m3) >= block.weight_n
    assert block.cast_weight_n == pytest.approx(block.cast.volume_m3 * 22_800)


def test_place_blocks__sag_bend_stands_on_the_floor(line):
    # 0 after -20 degrees of slope: Tz = -P A sin 20, Th = P A (1 - cos 20), independently computed.
    bend = turn(0.0, 20.0)
    block = line(bends=bend, pipe_m=90.0, pressure_pa=1e6).blocks[0]
    end = 1e6 * math.pi / 4 * 0.2**2
    assert block.up == "down"
    assert block.thrust.up_n == pytest.approx(-2 * end * math.sin(math.radians(10.0)), rel=1e-3)
    sand = bearing_of_soil("sand", 1.1).bearing_pa
    assert block.cast.floor_m2 >= 1.5 * -block.thrust.up_n / sand
    assert "block.floor" in block.formulas
    assert block.ground_pa == pytest.approx(-1.5 * block.thrust.up_n / block.cast.floor_m2)
    # The same turn the other way lifts: nothing presses on the floor.
    over = line(bends=turn(0.0, -20.0), pipe_m=90.0, pressure_pa=1e6).blocks[0]
    assert over.up == "up"
    assert "block.floor" not in over.formulas
    assert over.ground_pa is None


def test_place_blocks__every_block_can_be_built(line):
    rng = np.random.default_rng(7)
    station = np.arange(0.0, 401.0, 5.0)
    for _ in range(60):
        level = 200.0 - np.cumsum(np.repeat(rng.uniform(-0.5, 2.5, 27), 3))
        bends = tuple(
            Bend(id=f"B{n}", index=i, station_m=5.0 * i, plan_deg=float(p), vertical_deg=float(v),
                 deflection_deg=min(math.hypot(p, v), 120.0))
            for n, (i, p, v) in enumerate(
                zip(range(5, 80, 6), rng.normal(0, 20, 13), rng.normal(0, 12, 13), strict=True)
            )
        )  # fmt: skip
        made = pipe(
            float(rng.uniform(0.05, 0.6)),
            joint=rng.choice(["gasket pvc", "gasket di", "fused", "flanged"]),
        )
        soil = rng.choice(["sand", "soft clay", "hardpan", "unknown"])
        case = line(
            pipes=made, bends=bends, pipe_m=level, cover_m=float(rng.uniform(-0.1, 2.0)),
            pressure_pa=float(rng.uniform(1e3, 3e6)), soil=None if soil == "unknown" else soil,
            span=(100.0, 150.0) if rng.random() < 0.5 else None,
        )  # fmt: skip
        assert station.size == case.line.station_m.size
        for block in case.blocks:
            assert 0.0 <= block.bearing_deg < 360.0
            if block.hold in ("pipe", "joint"):
                assert block.cast is None
                assert block.hold == "joint" or block.restrained_m > 0.0
                continue
            sides = (block.cast.width_m, block.cast.height_m, block.cast.length_m)
            assert min(sides) > 0.0
            assert np.allclose(np.array(sides) / 0.05, np.round(np.array(sides) / 0.05))
            assert block.cast.volume_m3 > 0.0
            assert (block.cast.face_m2 or 0.0) + (block.cast.floor_m2 or 0.0) > 0.0
            assert (block.least_face_m2 or 0.0) <= (block.cast.face_m2 or 0.0) + 1e-9
            if block.buried and block.weight_n is not None:
                under = 22_800 - case.line.water.weight_n_m3
                assert block.cast.volume_m3 * under >= block.weight_n * (1 - 1e-9)
            assert (block.ground_pa or 0.0) <= block.bearing.bearing_pa * (1 + 1e-9)


def test_place_blocks__angle_in_space_not_in_plan(line):
    # 10 degrees in plan and 20 down: sized from the plan angle the thrust would be half of it.
    bend = turn(10.0, -20.0, at=200.0)
    block = line(bends=bend, pipe_m=100.0, pressure_pa=1e6).blocks[0]
    end = 1e6 * math.pi / 4 * 0.2**2
    assert block.thrust.total_n == pytest.approx(
        bend_thrust_n(end, bend[0].deflection_deg), rel=5e-3
    )
    assert block.thrust.total_n > 1.9 * bend_thrust_n(end, 10.0)


def test_place_blocks__outside_diameter_and_momentum_count(line):
    end = by_place(line(velocity_m_s=None).blocks)["end"]
    expected = math.pi / 4 * (end.pressure_pa * 0.2**2 + COLD.density_kg_m3 * 9.0 * 0.18**2)
    assert end.thrust.total_n == pytest.approx(expected)
    # The outlet is taken as shut: its thrust points down the line.
    assert end.thrust.up_n < 0.0
    assert end.along_n == pytest.approx(end.thrust.horizontal_n)


def test_place_blocks__reducer_valve_and_tee(line):
    tee = Branch(station_m=350.0, outside_diameter_m=0.05, side="left")
    pipes = [(0.0, pipe(0.3)), (100.0, pipe(0.2))]
    blocks = by_place(line(pipes=pipes, valves_m=(350.0,), branches=(tee,)).blocks)
    reducer = blocks["reducer"]
    assert reducer.station_m == 100.0
    areas = math.pi / 4 * (0.3**2 - 0.2**2)
    assert reducer.thrust.total_n == pytest.approx(reducer.pressure_pa * areas)
    assert reducer.along_n > 0.0
    valve = blocks["valve"]
    assert valve.thrust.total_n == pytest.approx(valve.pressure_pa * math.pi / 4 * 0.2**2)
    branch = blocks["tee"]
    # The line runs 30 degrees east of north there; a branch to the left pushes to the right.
    assert branch.bearing_deg == pytest.approx(120.0, abs=0.5)
    # Joints that hold together carry the thrust of what stands between them.
    fused = line(pipes=[(0.0, pipe(0.3, joint="fused")), (100.0, pipe(0.2, joint="fused"))],
                 valves_m=(350.0,)).blocks  # fmt: skip
    assert {b.hold for b in fused if b.place in ("reducer", "valve")} == {"pipe"}


def test_place_blocks__small_turn_is_left_to_the_joint_in_firm_ground(line):
    bends, allowed = turn(0.8), pipe(allowance_deg=1.0)
    firm = line(pipes=allowed, bends=bends).blocks[0]
    assert firm.hold == "joint"
    assert firm.thrust.total_n > 0.0
    assert firm.soil_hold_n >= 1.5 * firm.thrust.total_n
    assert firm.cast is firm.weight_n is firm.least_face_m2 is None
    for change in ({"pipes": pipe()}, {"soil": None}, {"soil": "soft clay"},
                   {"span": (0.0, 400.0)}):  # fmt: skip
        block = line(**{"pipes": allowed, "bends": bends, **change}).blocks[0]
        assert block.hold in ("block", "gravity block", "anchor block")
        # A turn that joints could lay says so beside its block.
        assert (block.remedy is None) == (change == {"pipes": pipe()})


def test_place_blocks__a_curve_of_joints_shares_its_thrust(line):
    # Ductile iron, 5.5 m sticks of up to 5 degrees (AWWA C600). Between legs of 200 m an arc of
    # 100/tan(7.5) = 760 m fits, on which each joint turns by 2 asin(5.5/(2 R)) and pushes with
    # 2 P A 5.5/(2 R); sand holds 47.88 kPa over 5.5 m of 0.2 m, 1.5 times the push up to 154 MPa.
    bends, iron = turn(15.0, at=200.0), pipe(joint="gasket di", stick_m=5.5)
    radius = 100.0 / math.tan(math.radians(7.5))
    most = 47_880.26 * 5.5 * 0.2 / (1.5 * 5.5 / radius * math.pi / 4 * 0.2**2)
    assert most == pytest.approx(154e6, rel=0.01)
    for pressure, hold in ((0.99 * most, "joint"), (1.01 * most, "block")):
        block = line(pipes=iron, bends=bends, pipe_m=90.0, pressure_pa=pressure).blocks[0]
        assert block.hold == hold


def test_place_blocks__fused_pipe_has_wall_anchors_instead(line):
    blocks = line(pipes=[(0.0, pipe()), (300.0, pipe(joint="fused"))]).blocks
    kinds = [(block.place, block.hold) for block in blocks]
    assert kinds[0] == ("bend", "block")
    assert ("bend", "pipe") in kinds
    anchors = [block for block in blocks if block.place == "wall anchor"]
    assert [anchor.station_m for anchor in anchors] == [300.0, 400.0]
    assert all(anchor.cast.volume_m3 > 0.0 for anchor in anchors)


def test_place_blocks__pipe_that_holds_together_does_so_over_a_length(line):
    case = line(pipes=pipe(joint="fused"))
    block = case.blocks[0]
    assert block.hold == "pipe"
    # Ductile Iron Pipe Research Association, from memory: L = SF P A tan(theta/2) / Ff with
    # Ff = mu (2 gamma H D + w); soil and full pipe weighed under water, mu 0.25.
    water = COLD.weight_n_m3
    inside, outside = math.pi / 4 * 0.18**2, math.pi / 4 * 0.2**2
    weight = (case.line.pipes.runs[0].pipe.mass_kg_m or 0.0) * 9.80665
    full = max(weight + (inside - outside) * water, 0.0)
    drag = 0.25 * (2 * (19_000 - water) * 1.0 * 0.2 + full)
    expected = restrained_length_m(block.pressure_pa * outside, block.deflection_deg, drag_n_m=drag)
    assert block.restrained_m == pytest.approx(expected)
    assert {"restraint.length", "restraint.drag"} <= set(block.formulas)


@pytest.mark.parametrize(
    ("name", "hold"),
    [("STEEL-B3610-STD-8in", "pipe"), ("PE100-SDR17-200", "pipe")],
)
def test_place_blocks__welded_steel_and_polyethylene_hold_together(line, name, hold):
    blocks = line(pipes=load_catalogue().find(name)).blocks
    assert {block.hold for block in blocks if block.place == "bend"} == {hold}
    assert blocks[-1].place == "wall anchor"


def test_place_blocks__ductile_iron_is_pushed_on(line):
    made = load_catalogue().select(material="DI")[0]
    case = line(pipes=made, bends=turn(4.0), pipe_m=90.0, pressure_pa=1e5)
    assert case.blocks[0].hold == "joint"
    assert case.blocks[-1].place == "end"


def test_place_blocks__direction_is_that_of_the_sticks_beside(line):
    # The line turns at 200 m without a listed bend, 5 m above this one.
    bend = turn(10.0, at=205.0)
    short = line(bends=bend, pipes=pipe(stick_m=5.0)).blocks[0]
    long = line(bends=bend, pipes=pipe(stick_m=15.0)).blocks[0]
    # Over the last 5 m the line bears 30 degrees, over the last 15 m 5 m of 30 and 10 m of 0:
    # atan2(5 sin 30, 10 + 5 cos 30) = 9.9 degrees.
    assert short.bearing_deg == pytest.approx(30.0 + 5.0 - 90.0 + 360.0, abs=0.5)
    assert long.bearing_deg == pytest.approx(9.9 + 5.0 - 90.0 + 360.0, abs=0.5)


def test_place_blocks__above_ground_by_weight_alone(line):
    block = line(span=(150.0, 250.0)).blocks[0]
    assert block.hold == "anchor block"
    assert block.least_face_m2 is block.soil_hold_n is block.restrained_m is None
    up, push = block.thrust.up_n, block.thrust.horizontal_n
    assert block.weight_n == pytest.approx(max(up + 1.5 * push / 0.5, 0.0))
    assert block.cast.volume_m3 * 22_800 >= block.weight_n


def test_place_blocks__peat_holds_nothing(line):
    blocks = line(soil="peat").blocks
    assert {block.hold for block in blocks if block.across_n > 0.0} == {"no ground"}
    (found,) = [f for f in failed_findings(judge_blocks(blocks)) if f.code == "soil_no_bearing"][:1]
    assert found.severity == "fault"
    assert found.margin == pytest.approx(-1.0)


def test_block_findings__unknown_soil(line):
    found = block_findings(line(soil=None).blocks)
    assert [each.code for each in found] == ["soil_unknown"]
    assert "500 psf" in found[0].message
    assert block_findings(line().blocks) == ()


@pytest.mark.parametrize(("cover", "shallow"), [(0.60, True), (0.615, False)])
def test_judge_blocks__soil_tables_hold_from_two_feet_of_cover(line, cover, shallow):
    # A pipe maker's handbook of thrust blocks: more than 2 ft (0.61 m) of cover.
    codes = {each.code for each in failed_findings(judge_blocks(line(cover_m=cover).blocks))}
    assert ("block_shallow" in codes) == shallow


def test_judge_blocks__wider_than_three_metres_says_what_else_would_do(line):
    blocks = line(pressure_pa=2e6, soil="soft clay").blocks
    wide = [f for f in failed_findings(judge_blocks(blocks)) if f.code == "block_wide"]
    at = {b.station_m for b in blocks if max(b.cast.width_m, b.cast.length_m) > 3.0}
    assert {f.station_m for f in wide} == at
    assert at
    assert any("restrain the joints over" in f.message.lower() for f in wide)
    # Just at 3 m a block is still cast: common practice.
    for width, told in ((3.0, False), (3.05, True)):
        block = replace(blocks[0], cast=replace(blocks[0].cast, width_m=width, length_m=1.0))
        found = {f.code for f in failed_findings(judge_blocks([block]))}
        assert ("block_wide" in found) is told
    narrow = judge_blocks(line().blocks)
    # What holds speaks by its tightest: ground, cover and width once each.
    assert [check.code for check in narrow] == ["soil_no_bearing", "block_shallow", "block_wide"]
    assert all(check.passed for check in narrow)


def test_place_blocks__more_pressure_never_needs_less(line):
    sizes = []
    for factor in np.linspace(0.5, 3.0, 11):
        blocks = line(factor=factor).blocks
        sizes.append([(b.least_face_m2 or 0.0, b.weight_n or 0.0, b.restrained_m) for b in blocks])
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
        ({"soil": "moon dust"}, "'moon dust'"),
        ({"pressure_pa": -1.0}, "pressure is -1 at station 0.0 m"),
        ({"pressure_pa": np.nan}, "pressure is nan"),
    ],
)
def test_place_blocks__one_clear_message(line, change, words):
    with pytest.raises(InputError, match=words):
        _ = line(**change).blocks


def test_place_blocks__a_column_has_one_value_per_station(line):
    with pytest.raises(InputError, match=r"pressure has shape \(3,\)"):
        place_blocks(line().line, np.zeros(3), Ground())


def test_place_blocks__ground_holds_over_one_stick(line):
    # Table B for sand is 1000 psf (47.88 kPa): on 6 m of a 200 mm pipe 57.46 kN.
    for stick, hold in ((6.0, 57_456.0), (3.0, 28_728.0)):
        block = line(pipes=pipe(stick_m=stick)).blocks[0]
        assert block.soil_hold_n == pytest.approx(hold, abs=0.5)


def test_bearing_block_volume__prism_and_frustum():
    # Solid geometry: between two equal squares a prism; at 45 degrees from a point a pyramid.
    assert bearing_block_volume_m3(0.04, 0.2, 0.2, 0.3) == pytest.approx(0.04 * 0.3)
    pyramid = bearing_block_volume_m3(1.0, 1.0, 1e-9, 0.1)
    assert pyramid == pytest.approx(1.0 * 0.5 / 3.0)


def test_anchor_limits__blocks_cure_ten_days_in_concrete_of_3000_psi():
    # A municipal code on water mains; a pipe maker's handbook: at least 3000 psi (20 MPa).
    assert anchor_limits().block_cure_days == 10
    assert anchor_limits().block_concrete_mpa == 20
