"""Proposals on hills of known shape: within every limit, different, and studied like any line."""

from __future__ import annotations

from itertools import combinations

import numpy as np
import pytest
from by_hand import drawn_by_hand
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from plane_hill import place
from shapely.geometry import LineString, Polygon

import sample_dem
from routing.errors import InputError, NoLine, OutsideTerrain, PipeError
from routing.line import read_route, route_from_geojson
from routing.record import to_json
from routing.search import propose, search_document
from routing.search.lines import laid
from routing.search.propose import apart_m
from routing.settings import read_settings, settings_from_mapping
from routing.study import open_study_terrain, run_study

ROWS, COLS, CELL_M = 50, 70, 10.0
START, END = place(60.0, 250.0), place(640.0, 250.0)


pytestmark = pytest.mark.usefixtures("compiled")


def slope(rough=0.0, seed=0):
    """A plane that falls a tenth to the east, with soft humps on it."""
    x = np.arange(COLS)[None, :] * CELL_M
    y = np.arange(ROWS)[:, None] * CELL_M
    draw = np.random.default_rng(seed)
    ground = 400.0 - 0.1 * x + 0.0 * y
    for _ in range(12 if rough else 0):
        cx, cy = draw.uniform(100, 600), draw.uniform(50, 450)
        ground = ground + rough * np.exp(-((x - cx) ** 2 + (y - cy) ** 2) / 50.0**2)
    return ground


@pytest.fixture
def hill(make_raster):
    def made(**how):
        return open_study_terrain([make_raster(slope(**how), cell=CELL_M)])

    return made


def no_go(*rings):
    features = [
        {
            "type": "Feature",
            "properties": {"name": f"area {at}"},
            "geometry": {"type": "Polygon", "coordinates": [[list(place(x, y)) for x, y in ring]]},
        }
        for at, ring in enumerate(rings)
    ]
    return {"kind": "no-go", "features": {"type": "FeatureCollection", "features": features}}


def ground(kind, *rings):
    layer = no_go(*rings)
    for each in layer["features"]["features"]:
        each["properties"]["name"] = kind
    return {**layer, "kind": "ground"}


def box(x0, y0, x1, y1):
    return [(x0, y0), (x1, y0), (x1, y1), (x0, y1), (x0, y0)]


def told(**tables):
    return settings_from_mapping(tables)


def test_propose__on_an_even_slope_the_straight_line(hill):
    found = propose(hill(), START, END, told(search={"alternatives": 1}))
    line = found.lines[0]
    assert line.route.lon[[0, -1]].tolist() == [START[0], END[0]]
    assert line.route.lat[[0, -1]].tolist() == [START[1], END[1]]
    assert line.study.profile.station_m[-1] == pytest.approx(580.0, rel=1e-3)
    assert 0.9 < found.bound <= 1.0


def test_propose__the_studies_are_those_of_the_routes(hill):
    """A proposal's figures are what a study of its route with its settings says."""
    terrain = hill(rough=6.0)
    document = search_document(propose(terrain, START, END, told(flow={"design": "10 L/s"})))
    for each in document["alternatives"]:
        route = route_from_geojson(each["route"], name="x", source="x")
        again = run_study(terrain, route, settings_from_mapping(each["settings"]))
        summary = each["study"]["summary"]
        assert summary["gross_head_m"] == pytest.approx(again.line.gross_head_m, abs=1e-3)
        assert summary["pipe_length_m"] == pytest.approx(again.line.slope_station_m[-1], abs=2e-3)
        assert summary["power_kw"] > 0.0
    order = [(len(each["faults"]), each["cost"]) for each in document["alternatives"]]
    assert order == sorted(order)
    assert [each["rank"] for each in document["alternatives"]] == list(range(1, len(order) + 1))
    assert document["bound"] <= 1.0


def test_propose__alternatives_differ_by_the_stated_measure(hill):
    found = propose(hill(rough=8.0), START, END, told())
    assert 3 <= len(found.lines) <= 5
    for one, other in combinations(found.lines, 2):
        assert apart_m(found.site, one.way.points, other.way.points) >= found.apart_m
    assert min(found.differs_m) >= found.apart_m
    assert len(set(found.names)) == len(found.names)


def test_propose__is_deterministic(hill):
    terrain = hill(rough=8.0)
    ask = told(search={"alternatives": 2})
    first, again = (propose(terrain, START, END, ask) for _ in range(2))
    for one, other in zip(first.lines, again.lines, strict=True):
        assert one.route.lon.tolist() == other.route.lon.tolist()
        assert one.cost == other.cost


def test_propose__passes_through_places(hill):
    through = place(350.0, 120.0)
    found = propose(
        hill(), START, END, told(search={"alternatives": 2, "through": [list(through)]})
    )
    for line in found.lines:
        gap = np.hypot(line.route.lon - through[0], line.route.lat - through[1])
        assert gap.min() < 2e-8  # places are rounded to a millimetre


@settings(
    max_examples=8, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture]
)
@given(
    boxes=st.lists(
        st.tuples(st.floats(120, 520), st.floats(0, 400), st.floats(20, 120), st.floats(20, 150)),
        min_size=1,
        max_size=5,
    ),
    seed=st.integers(0, 99),
)
def test_propose__never_enters_land_that_is_closed(make_raster, boxes, seed):
    terrain = open_study_terrain(
        [make_raster(slope(rough=6.0, seed=seed), cell=CELL_M, name=f"s{seed}.tif")]
    )
    rings = [box(x, y, x + w, y + h) for x, y, w, h in boxes]
    ask = told(layer=[no_go(*rings)], search={"alternatives": 2})
    try:
        found = propose(terrain, START, END, ask, tries=4)
    except NoLine:
        return  # what it says is checked below
    shapes = [Polygon([place(*corner) for corner in ring]) for ring in rings]
    for line in found.lines:
        drawn = LineString(np.column_stack([line.route.lon, line.route.lat]))
        assert not any(drawn.intersects(shape) for shape in shapes)
        assert not any(each.code == "no_go_crossed" for each in line.study.findings)


def test_propose__stays_below_the_intake_and_its_hydraulic_line(hill, make_raster):
    ground = slope()
    ground[:, 30:34] += 40.0  # a ridge right across, with a pass in the north
    ground[5:9, 30:34] -= 40.0
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M)])
    found = propose(terrain, START, END, told(flow={"design": "10 L/s"}))
    for line in found.lines:
        assert line.study.flow is not None
        assert line.study.flow.aged.flowing_head_m[1:].min() > 0.0
        assert line.study.line.pipe_m.max() < line.study.line.levels.intake_m


def test_propose__a_wall_says_what_to_lift(hill):
    wall = no_go(box(300, -50, 330, 600))
    with pytest.raises(NoLine) as caught:
        propose(hill(), START, END, told(layer=[wall]))
    assert caught.value.code == "no_line"
    assert "no-go land stands in the way" in caught.value.problem
    assert "Take the area out" in caught.value.remedy
    assert caught.value.lon == pytest.approx(place(300.0, 250.0)[0], abs=3e-4)


def test_propose__missing_ground_and_high_ground_are_told_apart(make_raster):
    ground = slope()
    ground[:, 35] = np.nan
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M, nodata=-9999.0)])
    with pytest.raises(NoLine, match="missing elevation stands in the way"):
        propose(terrain, START, END)
    ground = slope()
    ground[:, 35:38] += 60.0
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M, name="ridge.tif")])
    with pytest.raises(NoLine, match="ground above the hydraulic line stands in the way"):
        propose(terrain, START, END)


def test_propose__uphill_is_no_line(hill):
    with pytest.raises(NoLine, match="does not lie below the water at the intake"):
        propose(hill(), END, START)


def test_propose__refuses_ends_off_the_raster_and_at_one_place(hill):
    with pytest.raises(OutsideTerrain, match="outside the raster"):
        propose(hill(), (0.0, 0.0), END)
    with pytest.raises(InputError, match="within two cells"):
        propose(hill(), START, START)


def test_propose__chooses_pipe_by_the_head(hill):
    found = propose(hill(), START, END, told(flow={"design": "15 L/s"}))
    assert found.site.ladder.kind == "chosen"
    for line in found.lines:
        runs = line.study.line.pipes.runs
        ratings = [run.pipe.rating_pa for run in runs]
        assert ratings == sorted(ratings)
        # Three kinds at the most, none on less than five sticks of 12 m (common practice).
        assert len({run.pipe for run in runs}) <= 3
        assert min(run.to_m - run.from_m for run in runs) >= 60.0
        for run in runs:
            end = np.interp(run.to_m, line.study.line.station_m, line.study.line.static_pressure_pa)
            assert end <= run.pipe.rating_pa


def test_settled__pipes_are_put_in_for_their_surges(hill):
    """Put in by the head at rest alone, a pipe is loaded beyond its class; settled, none is."""
    found = propose(hill(), START, END, told(flow={"design": "15 L/s"}), tries=0)
    line = found.lines[0]
    for each, faulted in ((laid(found.site, line.way, full=True), True), (line, False)):
        codes = {finding.code for finding in each.study.findings if finding.severity == "fault"}
        assert ("class_exceeded" in codes) is faulted


def test_propose__on_the_sample_lines_that_hold_come_first():
    """Of the sample's two pipes the stronger one holds 1000 kPa: where it lies decides.

    Where no order of the two holds a blockage that parts the water, the line says so and is last.
    """
    sample = sample_dem.sample_paths()
    told_ = read_settings(sample.settings)
    terrain = open_study_terrain([sample.terrain], told_)
    ends = (-16.0696748, 47.2980052), (-16.055734, 47.2947241)
    found = propose(terrain, *ends, told_, tries=0)
    faults = [line.faults for line in found.lines]
    assert len(faults) >= 4
    assert faults[:4] == [()] * 4
    assert set(faults) <= {(), ("class_exceeded",)}
    for line in found.lines[4:]:
        (why,) = (each for each in line.study.findings if each.severity == "fault")
        assert "the figure with parting governs" in why.message
        assert "Lines without a fault come first" in " ".join(found.notes)
    by_rest = [laid(found.site, line.way, full=True) for line in found.lines]
    assert any("class_exceeded" in line.faults for line in by_rest)


def test_propose__faulty_lines_come_last_and_that_is_said(hill):
    """The one pipe given is too weak for every line: they are shown, and said to be faulty."""
    weak = [{"catalogue": "PE100-SDR26-200"}]
    asked = {"alternatives": 2, "margin": "0.6 m"}
    steep = told(flow={"design": "40 L/s"}, pipe=weak, intake={"level": "480 m"}, search=asked)
    found = propose(hill(), START, END, steep, tries=0)
    assert all(line.faults for line in found.lines)
    assert "No line without a fault was found; those with the fewest faults come first." in (
        found.notes
    )
    for each in search_document(found)["alternatives"]:
        assert each["fault_findings"] == [
            one for one in each["study"]["warnings"] if one["severity"] == "fault"
        ]
        assert {one["code"] for one in each["fault_findings"]} == set(each["faults"])
        # A line that is taken goes on as it was sought.
        assert each["settings"]["search"] == each["study"]["settings"]["search"] == asked


def test_propose__in_a_narrow_valley_says_why_there_are_few(make_raster):
    """Between walls too steep to be benched there is room for one line."""
    y = np.arange(ROWS)[:, None] * CELL_M
    ground = slope() + np.clip(4.0 * (np.abs(y - 250.0) - 25.0), 0.0, 60.0)
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M)])
    ask = told(catchment={"threshold": "900 km2"})
    found = propose(terrain, START, END, ask, tries=0)
    assert len(found.lines) < 5
    assert any(f"5 lines were asked for and {len(found.lines)} found" in e for e in found.notes)


def test_propose__copies_of_the_process_find_the_same(hill):
    terrain, ask = hill(rough=8.0), told(search={"alternatives": 3})
    alone, helped = (
        to_json(search_document(propose(terrain, START, END, ask, tries=2, copies=copies), copies))
        for copies in (0, 1)
    )
    assert helped == alone


def test_propose__a_stream_is_not_followed(make_raster):
    """A line that would run along a stream in the valley's floor keeps beside it."""
    y = np.arange(ROWS)[:, None] * CELL_M
    ground = slope() + 0.19 * np.abs(y - 250.0)  # the floor is the row with its centre at 255 m
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M)])
    ends = place(60.0, 255.0), place(640.0, 255.0)
    bed = [place(90.0, 255.0), place(600.0, 255.0)]
    geometry = {"type": "LineString", "coordinates": [list(each) for each in bed]}
    beck = {"type": "Feature", "properties": {"name": "beck"}, "geometry": geometry}
    layer = {"kind": "stream", "features": {"type": "FeatureCollection", "features": [beck]}}

    def inside(**tables):
        ask = told(search={"alternatives": 1}, **tables)
        line = propose(terrain, *ends, ask).lines[0]
        drawn = LineString(np.column_stack([line.route.lon, line.route.lat]))
        return drawn.intersection(LineString(bed).buffer(2e-5)).length / drawn.length

    assert inside(catchment={"threshold": "900 km2"}) > 0.8
    assert inside(layer=[layer]) < 0.3
    # Without a layer the water is followed over the raster.
    assert inside(catchment={"threshold": "0.02 km2"}) < 0.5


def test_propose__a_head_that_no_pipe_holds_is_told(make_raster):
    ground = slope() - 0.5 * np.arange(COLS)[None, :] * CELL_M
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M)])
    with pytest.raises(PipeError, match="No pipe on offer holds"):
        propose(terrain, START, END, told(flow={"design": "10 L/s"}))


def test_propose__legs_keep_below_the_intake_between_the_centres_of_cells(make_raster):
    """A knoll just above the intake's water beside the straight line is led round."""
    ground = slope()
    ground[22:29, 20:30] = ground[25, 6] + 0.55
    terrain = open_study_terrain([make_raster(ground, cell=CELL_M)])
    for line in propose(terrain, START, END, told(search={"alternatives": 2})).lines:
        assert line.barred == ()
        assert line.study.line.pipe_m.max() + 0.1 < line.study.line.levels.intake_m


def test_propose__beats_the_line_drawn_by_hand_on_the_sample():
    """By the study's own cost, and with as few fittings; the drawn line has its bridge."""
    sample = sample_dem.sample_paths()
    told_ = read_settings(sample.settings)
    terrain = open_study_terrain([sample.terrain], told_)
    drawn = read_route(sample.line)
    ends = [(float(drawn.lon[at]), float(drawn.lat[at])) for at in (0, -1)]
    found = propose(terrain, *ends, told_)
    hand = drawn_by_hand(found.site, drawn, ((525.0, 557.0),))
    fittings = [
        len(line.study.fittings.vents) + len(line.study.fittings.drains)
        for line in (found.lines[0], hand)
    ]
    assert found.lines[0].cost < 0.9 * hand.cost
    assert fittings[0] <= fittings[1] + 1


def test_propose__keeps_off_ground_that_is_too_steep(make_raster):
    """A bank of 1 in 1 right across, with a ramp in the north: lines go over the ramp."""
    x = np.arange(COLS)[None, :] * CELL_M
    y = np.arange(ROWS)[:, None] * CELL_M
    bank = 40.0 * np.clip((340.0 - x) / 40.0, 0.0, 1.0)
    ramp = 40.0 * np.clip((500.0 - x) / 300.0, 0.0, 1.0)
    terrain = open_study_terrain(
        [make_raster(slope() + np.where(y < 120.0, ramp, bank), cell=CELL_M)]
    )
    straight = propose(terrain, START, END, told(search={"alternatives": 1}), tries=0).lines[0]
    assert straight.study.profile.station_m[-1] < 600.0
    ask = told(search={"alternatives": 2}, trench={"steepest_ground": 0.5})
    for line in propose(terrain, START, END, ask, tries=0).lines:
        assert line.route.lat.max() > place(0.0, 120.0)[1]
        assert "ground_too_steep" not in line.faults
    wall = told(trench={"steepest_ground": 0.05})
    with pytest.raises(NoLine, match="steeper than allowed"):
        propose(terrain, START, END, wall)


@pytest.mark.parametrize("radius_m", [30.0, 60.0])
def test_propose__corners_leave_room_for_the_least_radius(hill, radius_m):
    """An arc of radius R through an angle begins R tan(angle / 2) before the corner.

    Each leg lends half of itself to either corner.
    """
    block = no_go(box(250, 150, 350, 320))
    ask = told(layer=[block], search={"alternatives": 2, "least_radius": f"{radius_m} m"})
    for line in propose(hill(rough=4.0), START, END, ask).lines:
        legs = np.diff(line.way.points * CELL_M, axis=0)
        length = np.hypot(*legs.T)
        turned = np.abs(np.diff(np.unwrap(np.arctan2(legs[:, 0], legs[:, 1]))))
        assert turned.size
        room = 0.5 * np.minimum(length[:-1], length[1:]) / np.tan(turned / 2.0)
        assert room.min() >= radius_m * (1.0 - 1e-6)
    ask = told(layer=[block], search={"least_radius": "900 m"})
    with pytest.raises(NoLine, match="more sharply than an arc of 900 m"):
        propose(hill(), START, END, ask)


ROCK = ground("rock", box(250.0, 150.0, 400.0, 420.0))


def test_propose__goes_round_dear_ground_and_through_cheap(hill):
    """The way round costs some length; rock at twenty times the digging costs far more."""
    terrain = hill()
    prices = {"trench_per_m3": 10.0, "currency": "EUR"}
    inside = {}
    for price in (10.0, 200.0):
        given = told(
            search={"alternatives": 1}, layer=[ROCK], prices={**prices, "ground": {"rock": price}}
        )
        found = propose(terrain, START, END, given, tries=0)
        study = found.lines[0].study
        inside[price] = sum(each.to - each.from_ for each in study.settings.trench.ground)
        assert "trench in “rock”" not in found.site.book.defaults
    assert inside[10.0] == pytest.approx(150.0, abs=8.0)
    assert inside[200.0] < 20.0


def test_propose__ground_costs_the_line_what_the_bill_says_and_no_more(hill):
    """Graph and study price the same: the trench in rock by its own price, once."""
    terrain, rates = hill(), {"trench_per_m3": 10.0, "currency": "EUR"}
    cost, volume = {}, 0.0
    for price in (10.0, 14.0):
        given = told(
            search={"alternatives": 1},
            layer=[ground("rock", box(0.0, 0.0, 700.0, 500.0))],
            prices={**rates, "ground": {"rock": price}},
        )
        found = propose(terrain, START, END, given, tries=0)
        line = found.lines[0]
        cost[price] = line.cost
        volume = line.study.line.pipe.excavation.volume_m3
        section = found.site.terms.trench / 10.0
        assert found.site.dug[5, 5] == pytest.approx((price - 10.0) * section, rel=1e-6)
        assert found.bound <= 1.0
    assert cost[14.0] - cost[10.0] == pytest.approx(4.0 * volume, rel=1e-3)


def test_propose__ground_without_a_price_is_as_all_other_and_that_is_said(hill):
    found = propose(hill(), START, END, told(search={"alternatives": 1}, layer=[ROCK]), tries=0)
    assert "trench in “rock”" in found.site.book.defaults
    assert not found.site.dug.any()
    alone = told(layer=[ROCK], prices={"ground": {"rock": 95.0}, "currency": "EUR"})
    with pytest.raises(InputError, match="cannot be compared"):
        propose(hill(), START, END, alone)
