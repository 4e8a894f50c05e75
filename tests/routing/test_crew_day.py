"""A crew's day: filled stage by stage, a limb with air found, a section tested, levels home."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import jsonschema
import numpy as np
import orjson
import pyproj
import pytest
from shapely.geometry import LineString, Point

from routing.as_built_study import AS_BUILT, as_built_document
from routing.crew import merged, read_records, records_from
from routing.document import study_schema
from routing.errors import InputError
from routing.line import geodesic_stations, read_route
from routing.papers import export_bytes
from routing.papers.things import things
from routing.papers.works import section_tests, told_tests, works_parts
from routing.record import (
    built_line,
    check_records,
    moved_settings,
    study_document,
    to_json,
    with_records,
)
from routing.settings import Settings, read_settings, rows_of
from routing.settings.line import STATION
from routing.study import open_study_terrain, run_study
from routing.terrain import Terrain
from routing.works_study import diagnose_document
from sample_dem import sample_paths

Doc = dict[str, Any]
PATHS = sample_paths()
GEOD = pyproj.Geod(ellps="WGS84")


@pytest.fixture(scope="module")
def terrain() -> Terrain:
    return open_study_terrain([PATHS.terrain], read_settings(PATHS.settings))


@pytest.fixture(scope="module")
def plan(terrain: Terrain) -> Doc:
    study = run_study(terrain, read_route(PATHS.line), read_settings(PATHS.settings))
    found: Doc = orjson.loads(to_json(study_document(study)))
    return found


def invert(doc: Doc, station_m: float) -> float:
    stations = doc["stations"]
    return float(np.interp(station_m, stations["station_m"], stations["invert_m"]))


def built(doc: Doc, station_m: float, off_m: float = 0.0, of: str | None = None) -> Doc:
    return {"kind": "asbuilt", "of": of, "station_m": station_m, "device": "level",
            "invert_m": invert(doc, station_m) + off_m, "time": "2026-06-03T16:00:00Z"}  # fmt: skip


@pytest.fixture(scope="module")
def home(plan: Doc, terrain: Terrain) -> Doc:
    """The study as built: one joint 0.7 m low on a flat straight, the rest as planned."""
    turns = [item["station_m"] for key in ("vents", "drains") for item in plan[key]]
    low = next(
        middle
        for grade in plan["grades"]
        for half in [0.5 * (grade["to_m"] - grade["from_m"])]
        for middle in [grade["from_m"] + half]
        if 6.0 < half and -0.6 < grade["grade"] * half < 0.0
        and min(abs(middle - at) for at in turns) > 30.0
    )  # fmt: skip
    records = [built(plan, grade["to_m"]) for grade in plan["grades"]]
    records += [built(plan, vent["station_m"], 0.0, vent["id"]) for vent in plan["vents"]]
    records += [built(plan, low, -0.7), *read_steps(plan, plan["works"]["tests"][0]["id"])]
    return as_built_document(plan, records_from(records), terrain) | {"low": low}


def test_day__stages_ticked_and_a_trapped_limb_found(plan: Doc, tmp_path: Path) -> None:
    stages, taps = plan["works"]["filling"]["stages"], plan["taps"]
    acts = [stage["id"] for stage in stages]
    assert len(set(acts)) == len(acts)
    held = {"kind": "tick", "of": "W1", "done": True, "device": "crew",
            "time": "2026-06-01T07:30:00Z"}  # fmt: skip
    morning = [
        held, *(
        {"kind": "tick", "of": stage["id"], "done": True, "device": "crew",
         "time": f"2026-06-01T08:{n:02}:00Z"}
        for n, stage in enumerate(stages)
        ),
    ]  # fmt: skip
    # Air in the limb below V4: every tap below it shows less by the height of air.
    vent = next(vent for vent in plan["vents"] if vent["id"] == "V4")
    below = [tap for tap in taps if tap["station_m"] > vent["station_m"]]
    shown = {tap["id"]: tap["static_kpa"] - (30.0 if tap in below else 0.0) for tap in taps}
    morning += [
        {"kind": "reading", "of": tap, "gauge_kpa": kpa, "flow_m3_s": 0.0, "device": "crew",
         "time": "2026-06-01T10:00:00Z"}
        for tap, kpa in shown.items()
    ]  # fmt: skip
    found = diagnose_document(plan, [f"{kpa}@{tap}" for tap, kpa in shown.items()])
    assert found.causes[0].cause == "air"
    assert found.causes[0].height_m == pytest.approx(30.0 / 9.80665, rel=0.25)
    section = plan["works"]["tests"][0]["id"]
    test = [{"kind": "tick", "of": section, "done": True, "note": "held", "device": "crew",
             "time": "2026-06-02T15:00:00Z"}, *read_steps(plan, section)]  # fmt: skip
    file = tmp_path / "records.json"
    file.write_text(json.dumps({"records": [*morning, *test]}), encoding="utf-8")
    records = read_records(file)
    check_records(plan, records)
    doc = with_records(plan, records)
    assert len(doc["records"]) == len(morning) + len(test)
    assert with_records(doc, records)["records"] == doc["records"]
    parts = {part.title: part for part in works_parts(doc)}
    assert parts["Before water"].rows[0][-1] == "2026-06-01 07:30 UTC, crew"
    assert parts["Before water"].rows[1][-1] == ""
    read = parts["Filling"].heads.index("read")
    assert [row[read] for row in parts["Filling"].rows] == [
        f"06-01 08:{n:02}" for n in range(len(stages))
    ]
    tap = next(thing for thing in things(doc) if thing.id == below[-1]["id"])
    assert any(label == "Read" for label, _ in tap.facts)


def read_steps(plan: Doc, section: str, **off: Doc) -> list[Doc]:
    """Return the readings of a section tested as its plan has it; ``off`` by step what was not."""
    steps = [each for each in plan["works"]["test_phases"] if each["test"] == section]
    return [
        {"kind": "reading", "of": section, "step": step["name"], "device": "crew",
         "gauge_kpa": step["end_kpa"], "lasted_s": step["time_s"],
         "water_m3": abs(step["water_m3"]), "time": f"2026-06-02T{8 + n:02}:00:00Z",
         **off.get(step["name"].replace(" ", "_"), {})}
        for n, step in enumerate(steps)
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("off", "verdict", "words"),
    [
        ({}, "passed", "pass"),
        ({"let_off": {"gauge_kpa": 900.0}}, "let it off", "let the pressure off"),
        ({"hold": {"lasted_s": 1200.0}}, "under way", "held for 20 min of 1 h 00 min"),
        ({"raise": {"water_m3": 5.0}}, "air", "air in it: 5000.0 L went in"),
        ({"hold": {"water_m3": 0.0025}}, "failed by water", "fail: 2.5 L were added"),
        ({"hold": {"gauge_kpa": 500.0}}, "failed by pressure", "fail: the gauge stood at 500 kPa"),
    ],
)
def test_day__a_section_is_judged_by_gauge_litres_and_minutes(
    plan: Doc, off: Doc, verdict: str, words: str
) -> None:
    """What ASTM F2164 lets a section of this polyethylene pass by, from memory: see its phases."""
    section = plan["works"]["tests"][0]["id"]
    records = records_from(read_steps(plan, section, **off))
    check_records(plan, records)
    doc = with_records(plan, records)
    told = section_tests(doc)[section]
    assert told.verdict.verdict == verdict
    assert words in told.words
    parts = {part.title: part for part in works_parts(doc)}
    assert any(value == told.words for _, value in parts["Pressure test"].facts)
    cell = parts["Pressure test"].rows[0][-1]
    assert cell != "pass / fail"
    assert ("pass" in cell) is (verdict in ("passed", "let it off"))
    read = {row[0]: row[-1] for row in parts["Pressure test, step by step"].rows}
    assert all(read.values())
    tick = {"kind": "tick", "of": section, "done": True, "device": "crew",
            "time": "2026-06-02T18:00:00Z"}  # fmt: skip
    ticked = section_tests(with_records(doc, records_from([tick])))[section]
    assert ("all the same" in ticked.words) is (verdict not in ("passed", "let it off"))


def test_day__readings_of_a_step_that_a_section_has_not_are_refused(plan: Doc) -> None:
    reading = read_steps(plan, plan["works"]["tests"][0]["id"])[0]
    for wrong in ({"of": "Q99"}, {"of": "V1"}):
        with pytest.raises(InputError):
            check_records(plan, records_from([{**reading, **wrong}]))
    with pytest.raises(InputError, match="has a step"):
        records_from([{**reading, "kind": "tick", "done": True}])


def test_day__the_study_as_built_is_a_study_and_says_so(home: Doc, plan: Doc) -> None:
    doc = {key: value for key, value in home.items() if key != "low"}
    doc = orjson.loads(to_json(doc))
    jsonschema.validate(doc, study_schema())
    assert doc["name"] == plan["name"] + AS_BUILT
    pipe = np.interp(home["low"], doc["stations"]["station_m"], doc["stations"]["invert_m"])
    assert pipe == pytest.approx(invert(plan, home["low"]) - 0.7, abs=0.002)
    text = export_bytes(doc, "geojson").decode()
    assert "as built" in text
    assert "AS BUILT" in export_bytes(doc, "svg").decode().upper()
    # What was tested before stands by the plan that it was tested by; its sections are new ones.
    section = plan["works"]["tests"][0]
    (test,) = doc["as_built"]["tests"]
    assert (test["id"], test["verdict"]) == (section["id"], "passed")
    assert (test["from_m"], test["to_m"]) == (section["from_m"], section["to_m"])
    assert section_tests(doc) == {}
    assert told_tests(doc) == {f"{section['id']} as planned": "pass"}
    again = [{**each, "time": each["time"].replace("06-02", "06-05")}
             for each in read_steps(doc, doc["works"]["tests"][0]["id"])]  # fmt: skip
    told = section_tests(with_records(doc, records_from(again)))
    assert [each.verdict.verdict for each in told.values()] == ["passed"]


def test_day__the_low_joint_is_the_only_difference_and_wants_its_drain(home: Doc) -> None:
    off = [level for level in home["as_built"]["levels"] if level["beyond"]]
    assert [level["difference_m"] for level in off] == [pytest.approx(-0.7, abs=1e-3)]
    new = [turn for turn in home["as_built"]["turns"] if turn["new"] and turn["asks"]]
    assert "sag" in {turn["turn"] for turn in new}
    assert any(abs(turn["station_m"] - home["low"]) < 1.0 for turn in new)
    drain = min(home["drains"], key=lambda item: abs(item["station_m"] - home["low"]))
    assert drain["station_m"] == pytest.approx(home["low"], abs=1.0)
    assert drain["id"] in home["changes"]["new"]
    codes = {found["code"] for found in home["warnings"]}
    assert {"built_off_level", "built_new_turn"} <= codes
    assert any(check["subject"] == "trench depth" for check in home["as_built"]["checks"])


def test_day__as_planned_everywhere_changes_no_level_and_no_fitting(
    plan: Doc, terrain: Terrain
) -> None:
    records = records_from([built(plan, vent["station_m"], 0.0, vent["id"])
                            for vent in plan["vents"]])  # fmt: skip
    doc = as_built_document(plan, records, terrain)
    at, was = (np.asarray(each["stations"]["station_m"]) for each in (doc, plan))
    level = np.interp(at, was, plan["stations"]["pipe_m"])
    np.testing.assert_allclose(doc["stations"]["pipe_m"], level, atol=2e-3)
    assert not [level for level in doc["as_built"]["levels"] if level["beyond"]]
    assert not [turn for turn in doc["as_built"]["turns"] if turn["asks"]]
    for key in ("vents", "drains"):
        assert {item["id"] for item in plan[key]} <= {item["id"] for item in doc[key]}


def test_day__places_beside_the_line_move_it_and_positions_no_better_than_that_do_not(
    plan: Doc, terrain: Terrain
) -> None:
    """A bend taped 3 m to the right, by GPS 2 m to the left, and within the GPS's doubt."""
    taped, by_gps, doubtful = plan["bends"][20], plan["bends"][40], plan["bends"][60]
    lon, lat = aside(plan, by_gps["station_m"], -2.0)
    near_lon, near_lat = aside(plan, doubtful["station_m"], 2.0)
    records = records_from([
        {**built(plan, taped["station_m"], 0.0, taped["id"]), "offset_m": 3.0},
        {**built(plan, by_gps["station_m"], 0.0, by_gps["id"]), "lon": lon, "lat": lat,
         "accuracy_m": 0.5},
        {**built(plan, doubtful["station_m"], 0.0, doubtful["id"]), "lon": near_lon,
         "lat": near_lat, "accuracy_m": 4.0},
        {"kind": "tick", "of": "V8", "done": True, "device": "a",
         "station_m": plan["vents"][-1]["station_m"], "time": "2026-06-03T16:00:00Z"},
    ])  # fmt: skip
    doc = as_built_document(plan, records, terrain)
    jsonschema.validate(orjson.loads(to_json(doc)), study_schema())
    places = doc["as_built"]["places"]
    assert [each["of"] for each in places] == [taped["id"], by_gps["id"], doubtful["id"]]
    assert [each["off_m"] for each in places] == pytest.approx([3.0, -2.0, 2.0], abs=0.02)
    assert [each["moves"] for each in places] == [True, True, False]
    for at, off in ((taped["station_m"], 3.0), (by_gps["station_m"], -2.0)):
        assert nearest(doc, *aside(plan, at, off)) < 0.03  # the line goes there ...
        assert nearest(doc, *aside(plan, at, 0.0)) > 1.5  # ... and no longer where it was drawn
    assert nearest(doc, doubtful["lon"], doubtful["lat"]) < 0.01
    assert nearest(doc, plan["route"]["lon"][0], plan["route"]["lat"][0]) < 0.001
    # Levels, checks and what was ticked off go along with the longer line.
    longer = doc["summary"]["plan_length_m"] - plan["summary"]["plan_length_m"]
    assert doc["as_built"]["length_change_m"] == pytest.approx(longer, abs=1e-3)
    assert not [level for level in doc["as_built"]["levels"] if level["beyond"]]
    (check,) = [each for each in doc["checks"] if each["code"] == "built_off_line"]
    assert (check["demand"], check["limit"], check["passed"]) == (3.0, 1.0, False)
    (tick,) = [each for each in doc["records"] if each["kind"] == "tick"]
    assert "was_m" not in tick
    assert doc["stations"]["lon"] is not plan["stations"]["lon"]


def test_day__a_place_without_a_level_moves_the_line_at_the_depth_of_the_plan(
    plan: Doc, terrain: Terrain
) -> None:
    """Taped 3 m to the right, no level: as deep as planned below the ground that is there."""
    bend = plan["bends"][20]
    at, table = bend["station_m"], plan["stations"]
    record = {**built(plan, at, 0.0, bend["id"]), "invert_m": None, "offset_m": 3.0}
    doc = as_built_document(plan, records_from([record]), terrain)
    jsonschema.validate(orjson.loads(to_json(doc)), study_schema())
    assert nearest(doc, *aside(plan, at, 3.0)) < 0.03
    assert doc["as_built"]["levels"] == []
    (assumed,) = doc["as_built"]["assumed"]
    now = doc["stations"]
    ground, pipe, was_ground, was_pipe = (
        float(np.interp(x, each["station_m"], each[key]))
        for x, each in ((assumed["station_m"], now), (at, table))
        for key in ("ground_m", "pipe_m")
    )
    assert assumed["depth_m"] == pytest.approx(was_ground - was_pipe, abs=1e-3)
    assert ground - pipe == pytest.approx(assumed["depth_m"], abs=2e-3)
    assert assumed["level_m"] == pytest.approx(pipe, abs=2e-3)
    assert any("not levelled" in text for text in doc["assumptions"])
    # Levelled as well, nothing is assumed and the level counts.
    levelled = {**record, "invert_m": invert(plan, at)}
    level = as_built_document(plan, records_from([levelled]), terrain)
    assert level["as_built"]["assumed"] == []
    assert len(level["as_built"]["levels"]) == 1


KEYS: Doc = {
    "valve": [{"at": "700 m"}],
    "tap": [{"at": "720 m"}],
    "branch": [{"at": "740 m", "diameter": "63 mm"}],
    "relief": [{"at": "760 m"}, {}],
    "pipe": [{"from": "0 m", "catalogue": "PE100-SDR17-200"},
             {"from": "800 m", "catalogue": "PE100-SDR11-200"}],
    "trench": {"limit": [{"from": "820 m", "to": "840 m", "max_depth": "2 m"}],
               "ground": [{"from": "850 m", "to": "870 m", "kind": "rock"}],
               "span": [{"from": "880 m", "to": "890 m"}]},
    "survey": {"points": [{"name": "a", "station": "900 m", "elevation": "300 m"}]},
}  # fmt: skip
"""Every kind of key that speaks of a station, all below the place that moves."""


def test_day__what_settings_say_by_station_keeps_its_place_on_a_line_moved_as_built(
    plan: Doc,
) -> None:
    """Places of the plan's stations and of the moved ones, compared by the geodesic (pyproj)."""
    settings = {**plan["settings"], **KEYS}
    doc = {**plan, "settings": settings}
    bend = next(each for each in plan["bends"] if 400.0 < each["station_m"] < 600.0)
    record = {**built(plan, bend["station_m"], 0.0, bend["id"]), "offset_m": 12.0}
    line = built_line(doc, records_from([record]), 12.0)
    moved = moved_settings(doc, line)
    given = moved.given
    asked = [
        *((KEYS[table][0]["at"], given[table][0]["at"])
          for table in ("valve", "tap", "branch", "relief")),
        *((was["from"], now["from"]) for was, now in zip(KEYS["pipe"], given["pipe"], strict=True)),
        *((KEYS["trench"][table][0][key], given["trench"][table][0][key])
          for table in ("limit", "ground", "span") for key in ("from", "to")),
    ]  # fmt: skip
    along = geodesic_stations(line.route.lon, line.route.lat)
    shifted = 0.0
    for was, now in asked:
        planned, station = (float(text.removesuffix(" m")) for text in (was, now))
        there = [float(np.interp(planned, plan["route"]["station_m"], plan["route"][key]))
                 for key in ("lon", "lat")]  # fmt: skip
        here = [float(np.interp(station, along, each)) for each in (line.route.lon, line.route.lat)]
        assert GEOD.inv(*there, *here)[2] < 0.01, was
        shifted = max(shifted, abs(station - planned))
    assert shifted > 0.2
    assert "at" not in given["relief"][1]  # at the end, which goes along
    # A level stays where it was taken, with its height.
    (point,) = moved.survey.points
    there = [float(np.interp(900.0, plan["route"]["station_m"], plan["route"][key]))
             for key in ("lon", "lat")]  # fmt: skip
    assert GEOD.inv(*there, point.lon, point.lat)[2] < 0.01
    assert point.elevation_m == pytest.approx(300.0)
    # What is not said by station is as it was.
    assert {key: value for key, value in given.items() if key not in KEYS} == {
        key: value for key, value in settings.items() if key not in KEYS
    }


def test_day__every_key_by_station_is_in_that_table() -> None:
    def stations(kind: type, where: str) -> set[str]:
        found = set()
        for key, row in rows_of(kind).items():
            if row.reader is STATION:
                found.add(f"{where}{key}")
            elif row.reader.rows is not None:
                found |= stations(row.reader.rows, f"{where}{key}.")
        return found

    listed = {f"{table}.{key}" for table in ("valve", "tap", "branch", "relief", "pipe")
              for key in KEYS[table][0] if key in ("at", "from")}  # fmt: skip
    listed |= {f"trench.{table}.{key}" for table in ("limit", "ground", "span")
               for key in ("from", "to")}  # fmt: skip
    assert stations(Settings, "") == listed


def aside(doc: Doc, station_m: float, off_m: float) -> tuple[float, float]:
    """Return the place so far to the right of a line, by the geodesic (pyproj)."""
    table = doc["stations"]
    lon, lat = (np.interp([station_m - 0.5, station_m, station_m + 0.5], table["station_m"],
                          table[key]) for key in ("lon", "lat"))  # fmt: skip
    back, _, _ = GEOD.inv(lon[0], lat[0], lon[1], lat[1])
    ahead, _, _ = GEOD.inv(lon[1], lat[1], lon[2], lat[2])
    turn = (ahead - back + 180.0) % 360.0 - 180.0
    # At a bend both legs keep the distance: farther along the line that halves it.
    away = off_m / np.cos(np.radians(turn / 2.0))
    far_lon, far_lat, _ = GEOD.fwd(lon[1], lat[1], back + turn / 2.0 + 90.0, away)
    return float(far_lon), float(far_lat)


def nearest(doc: Doc, lon: float, lat: float) -> float:
    """Return the distance of a place from a study's line, in a plane about it (shapely)."""
    to = pyproj.Transformer.from_crs(
        "EPSG:4326", f"+proj=tmerc +lat_0={lat} +lon_0={lon} +k=1", always_xy=True
    )
    line = LineString(np.column_stack(to.transform(doc["stations"]["lon"], doc["stations"]["lat"])))
    return float(line.distance(Point(0.0, 0.0)))


def test_day__two_crews_and_the_later_word_on_one_joint(plan: Doc, terrain: Terrain) -> None:
    first = records_from([built(plan, 300.0, -0.5)])
    second = records_from([{**built(plan, 300.0, 0.01), "device": "other",
                            "time": "2026-06-03T17:00:00Z"}])  # fmt: skip
    doc = as_built_document(plan, merged(second, first), terrain)
    (level,) = doc["as_built"]["levels"]
    assert level["difference_m"] == pytest.approx(0.01, abs=1e-3)
    assert len(doc["records"]) == 2


@pytest.mark.parametrize(
    ("change", "said"),
    [
        ({"invert_m": 2.0}, "heights of the study"),
        ({"of": "V99"}, "V99"),
        ({"kind": "note", "note": "mud"}, "No record holds a level"),
        ({"invert_m": None, "offset_m": 0.0}, "nor a place beside the line"),
        ({"station_m": 5_000.0}, "the line ends"),
        ({"offset_m": 80.0}, "80 m off the line"),
        ({"lon": -16.06, "lat": 47.31, "accuracy_m": 3.0}, "off the line"),
    ],
)
def test_day__records_that_cannot_be_of_this_line(
    plan: Doc, terrain: Terrain, change: Doc, said: str
) -> None:
    records = records_from([{**built(plan, 300.0), **change}])
    with pytest.raises(InputError, match=said):
        as_built_document(plan, records, terrain)
