"""Names that last from revision to revision, on the sample hill and on things made up."""

from __future__ import annotations

import tomllib
from typing import Any

import orjson
import pyproj
import pytest

from routing.line import read_route
from routing.record import keep_names, study_document, to_json, was_named
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from sample_dem import sample_paths

SECTIONS = ("vents", "drains", "valves", "taps", "blocks", "anchors", "supports", "bends")
GEOD = pyproj.Geod(ellps="WGS84")


def sample(max_depth: str) -> dict[str, Any]:
    paths = sample_paths()
    tables = tomllib.loads(paths.settings.read_text("utf-8"))
    tables["trench"]["max_depth"] = max_depth
    settings = settings_from_mapping(tables)
    terrain = open_study_terrain([paths.terrain], settings)
    study = run_study(terrain, read_route(paths.line), settings)
    found: dict[str, Any] = orjson.loads(to_json(study_document(study)))
    return found


@pytest.fixture(scope="module")
def shallow() -> dict[str, Any]:
    return sample("1.3 m")


@pytest.fixture(scope="module")
def deep() -> dict[str, Any]:
    return sample("2.4 m")


def by_name(doc: dict[str, Any]) -> dict[str, dict[str, Any]]:
    return {item["id"]: item for key in SECTIONS for item in doc.get(key) or ()}


def test_keep_names__a_deeper_trench_leaves_every_name_at_its_place(shallow, deep) -> None:
    """Numbered by station most names would stand elsewhere; kept, none does."""
    was, plain, kept = by_name(shallow), by_name(deep), by_name(keep_names(deep, shallow))

    def wander(now: dict[str, dict[str, Any]]) -> int:
        both = [name for name in was if name in now]
        return sum(
            GEOD.inv(was[n]["lon"], was[n]["lat"], now[n]["lon"], now[n]["lat"])[2] > 25.0
            for n in both
        )

    assert wander(plain) > 20
    assert wander(kept) == 0
    assert len(kept) == len(plain)


def test_keep_names__changes_account_for_every_thing(shallow, deep) -> None:
    doc = keep_names(deep, shallow)
    was, now, changes = by_name(shallow), by_name(doc), doc["changes"]
    assert sorted(changes["new"]) == sorted(set(now) - set(was))
    assert sorted(changes["gone"]) == sorted(set(was) - set(now))
    assert changes["gone"]
    assert changes["moved"]
    for each in changes["moved"]:
        assert each["was_m"] == was[each["id"]]["station_m"]
        assert each["now_m"] == now[each["id"]]["station_m"]
        assert abs(each["now_m"] - each["was_m"]) > 0.5
    still = set(was) & set(now) - {each["id"] for each in changes["moved"]}
    assert all(abs(was[n]["station_m"] - now[n]["station_m"]) <= 0.5 for n in still)


def test_keep_names__whatever_speaks_of_a_thing_follows_it(shallow, deep) -> None:
    doc = keep_names(deep, shallow)
    stations = {item["id"]: item["station_m"] for item in (*doc["vents"], *doc["drains"])}
    for size in doc["vent_sizes"]:
        assert stations[size["vent_id"]] == size["station_m"]
    for size in doc["drain_sizes"]:
        assert stations[size["drain_id"]] == size["station_m"]
    bends = {bend["id"]: bend["station_m"] for bend in doc["bends"]}
    for block in doc["blocks"]:
        if block["bend_id"] is not None:
            assert bends[block["bend_id"]] == pytest.approx(block["station_m"], abs=0.01)
    plain = {item["id"]: item["station_m"] for item in (*deep["vents"], *deep["drains"])}
    for kept, numbered in zip(doc["levels_to_shoot"], deep["levels_to_shoot"], strict=True):
        assert [stations[n] for n in kept["settles"]] == [plain[n] for n in numbered["settles"]]
    assert doc["settings"] == deep["settings"]
    assert doc["pipes"] == deep["pipes"]


def test_keep_names__the_same_study_again_changes_nothing(shallow) -> None:
    doc = keep_names(shallow, shallow)
    assert {key: doc[key] for key in shallow} == shallow
    assert [doc["changes"][key] for key in ("moved", "new", "gone")] == [[], [], []]


def test_keep_names__there_and_back_uses_no_number_twice(shallow, deep) -> None:
    first = keep_names(deep, shallow)
    back = keep_names(shallow, first)
    again = set(back["changes"]["new"])
    assert again
    assert not again & (set(by_name(shallow)) | set(by_name(first)))
    for name in first["changes"]["gone"]:
        assert was_named(back, name)
    assert not was_named(back, "V999")


def vent(number: int, station_m: float, rule: str = "summit") -> dict[str, Any]:
    # 1 m along a meridian at 47 degrees is 1 / 111 179 degree (WGS 84).
    lat = 47.0 + station_m / 111_179.0
    said = {"rule": rule, "reason": f"V{number} holds."}
    return {"id": f"V{number}", "station_m": station_m, "lon": 9.0, "lat": lat, **said}


def made(vents: list[dict[str, Any]], cell_m: float = 5.0) -> dict[str, Any]:
    return {"terrain": {"cell_m": cell_m}, "vents": vents}


@pytest.mark.parametrize(
    ("cell_m", "apart_m", "same"),
    [(5.0, 24.9, True), (5.0, 25.2, False), (20.0, 39.9, True), (20.0, 40.2, False)],
)
def test_keep_names__within_25_m_or_two_cells(cell_m: float, apart_m: float, same: bool) -> None:
    doc = keep_names(made([vent(1, 100.0 + apart_m)], cell_m), made([vent(4, 100.0)], cell_m))
    assert doc["vents"][0]["id"] == ("V4" if same else "V5")
    assert doc["vents"][0]["reason"] == ("V4 holds." if same else "V5 holds.")
    assert doc["changes"]["gone"] == ([] if same else ["V4"])


def test_keep_names__a_new_one_between_pushes_nobody_on() -> None:
    old = made([vent(1, 100.0), vent(2, 200.0), vent(3, 300.0)])
    doc = keep_names(made([vent(1, 100.0), vent(2, 150.0), vent(3, 210.0), vent(4, 300.0)]), old)
    assert [item["id"] for item in doc["vents"]] == ["V1", "V4", "V2", "V3"]
    assert doc["changes"]["moved"] == [{"id": "V2", "was_m": 200.0, "now_m": 210.0}]


def test_keep_names__the_summit_keeps_its_name_beside_a_nearer_break() -> None:
    old = made([vent(1, 100.0, "summit")])
    doc = keep_names(made([vent(1, 97.0, "steepening"), vent(2, 108.0, "summit")]), old)
    assert [item["id"] for item in doc["vents"]] == ["V2", "V1"]


def test_keep_names__words_that_only_look_like_names_stay() -> None:
    item = {**vent(1, 100.0), "reason": "V1, PVC-V1-200, V1.5 and V1.", "size_source": "V1"}
    doc = keep_names(made([item]), made([vent(7, 100.0)]))
    assert doc["vents"][0]["reason"] == "V7, PVC-V1-200, V1.5 and V7."
