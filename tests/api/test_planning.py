"""What the planning page asks for: short previews, lines, pipes, where numbers come from."""

from __future__ import annotations

import base64
import json
from typing import Any

import httpx
import jsonschema
import numpy as np
import pytest
from api_service import is_problem

from api.compact import (
    AT_REST,
    BEND_KEYS,
    COLUMNS,
    DRAIN_KEYS,
    GRADE_KEYS,
    MOST_BENDS,
    OF_FITTINGS,
    OF_LINE,
    VENT_KEYS,
)
from routing.pipe import load_catalogue
from routing.provenance import provenance_keys


@pytest.fixture
def full(client: httpx.Client, body: dict[str, Any]) -> dict[str, Any]:
    found: dict[str, Any] = client.post("/api/preview", json=body).json()
    return found


@pytest.fixture
def short(client: httpx.Client, body: dict[str, Any]) -> dict[str, Any]:
    """Return the answer at rest, which has all that the full form has."""
    path = "/api/preview?form=compact&pressures=true"
    found: dict[str, Any] = client.post(path, json=body).json()
    return found


@pytest.fixture
def dragged(client: httpx.Client, body: dict[str, Any]) -> dict[str, Any]:
    """Return the answer while a line moves: fewer levels, rough doubt, no pressures."""
    found: dict[str, Any] = client.post("/api/preview?form=compact", json=body).json()
    return found


def unpacked(short: dict[str, Any], name: str) -> np.ndarray:
    return np.frombuffer(base64.b64decode(short["stations"]["columns"][name]), dtype="<f4")


def test_compact__same_figures_to_the_last_digit(
    full: dict[str, Any], short: dict[str, Any]
) -> None:
    for part in ("name", "units", "summary", "water", "trench", "flow", "air", "cautions"):
        assert short[part] == full[part], part
    assert len(short["warnings"]) == short["warning_count"]
    assert all(item in full["warnings"] for item in short["warnings"])
    for part, keys in (("vents", VENT_KEYS), ("drains", DRAIN_KEYS), ("grades", GRADE_KEYS)):
        assert short[part] == [{key: item[key] for key in keys} for item in full[part]]
    assert short["bend_count"] == len(full["bends"])
    sent = {bend["id"] for bend in short["bends"]}
    least = min((bend["deflection_deg"] for bend in short["bends"]), default=0.0)
    for bend in full["bends"]:
        assert bend["id"] in sent or bend["deflection_deg"] <= least
    assert len(sent) == min(MOST_BENDS, len(full["bends"]))
    assert all(set(bend) == set(BEND_KEYS) for bend in short["bends"])


# How far a line being dragged may be from the line at rest: what the eye does not see on the
# profile (our own choice). Its grades are found among fewer levels.
ROUGH = {
    "plan_length_m": 0.0, "ground_length_m": 0.0, "gross_head_m": 0.0, "pipe_length_m": 0.001,
    "head_loss_m": 0.02, "net_head_m": 0.002, "trench_volume_m3": 0.02,
}  # fmt: skip


def test_compact__a_line_being_dragged_is_close_to_the_line_at_rest(
    short: dict[str, Any], dragged: dict[str, Any]
) -> None:
    for key, share in ROUGH.items():
        assert dragged["summary"][key] == pytest.approx(short["summary"][key], rel=share), key
    for part in ("name", "units", "water"):
        assert dragged[part] == short[part], part
    assert set(short) - set(dragged) == {*AT_REST, "bend_count"}
    gap = np.abs(unpacked(dragged, "pipe_m") - unpacked(short, "pipe_m"))
    assert gap.max() < 0.3
    np.testing.assert_array_equal(unpacked(dragged, "ground_m"), unpacked(short, "ground_m"))
    for part in ("vents", "drains"):
        turns = [
            [item["kind"] for item in found[part] if item["need"] == "must"]
            for found in (short, dragged)
        ]
        assert turns[0] == turns[1], part


def test_compact__with_pressures_nothing_is_unsaid(
    full: dict[str, Any], short: dict[str, Any], dragged: dict[str, Any]
) -> None:
    assert short["pressures"] is True
    assert short["warning_count"] == len(full["warnings"])
    order = {"fault": 0, "warning": 1, "note": 2}
    expected = sorted(full["warnings"], key=lambda found: order[found["severity"]])
    assert short["warnings"] == expected
    assert dragged["pressures"] is False


def test_compact__columns_are_the_study_within_rounding_to_32_bits(
    full: dict[str, Any], short: dict[str, Any]
) -> None:
    stations = full["stations"]
    assert short["stations"]["n"] == len(stations["station_m"])
    assert set(short["stations"]["columns"]) == {name for name in COLUMNS if name in stations} | {
        "lon_from_origin",
        "lat_from_origin",
    }
    for name in ("station_m", "ground_m", "pipe_m", "flowing_head_m"):
        expected = np.array(stations[name], dtype=np.float32)
        np.testing.assert_array_equal(unpacked(short, name), expected)
    for name in ("lon", "lat"):
        origin = short["stations"]["origin"][name]
        place = origin + unpacked(short, f"{name}_from_origin").astype(np.float64)
        np.testing.assert_allclose(place, stations[name], atol=1e-9, rtol=0)


def test_compact__what_is_left_out_follows_from_what_is_sent(
    full: dict[str, Any], short: dict[str, Any]
) -> None:
    pipe, ground = unpacked(short, "pipe_m"), unpacked(short, "ground_m")
    bore = short["pipes"][0]["inside_diameter_m"]
    weight = short["water"]["density_kg_m3"] * short["water"]["gravity_m_s2"] / 1000.0
    head = short["summary"]["intake_level_m"] - pipe.astype(float)
    stations = full["stations"]
    np.testing.assert_allclose(ground - pipe + bore / 2, stations["depth_m"], atol=2e-4)
    np.testing.assert_allclose(head * weight, stations["static_pressure_kpa"], atol=2e-3)


def test_compact__is_as_openapi_describes_it(client: httpx.Client, short: dict[str, Any]) -> None:
    described = client.get("/api/openapi.json").json()
    schema = {"$ref": "#/components/schemas/StudyInShort", "components": described["components"]}
    jsonschema.validate(short, schema)


def test_compact__has_energy_and_surge_where_they_were_asked_for(
    client: httpx.Client, body: dict[str, Any], short: dict[str, Any]
) -> None:
    assert "energy" not in short
    settings = {**body["settings"], "energy": {"curve": CURVE}, "intake": {"residual": "2 L/s"}}
    settings["turbine"] = {"closure_time": "20 s"}
    path = "/api/preview?form=compact&pressures=true"
    asked = {**body, "settings": settings}
    answer = client.post(path, json=asked).json()
    whole = client.post("/api/preview", json=asked).json()
    assert answer["energy"] == whole["energy"]
    assert answer["energy"]["energy_kwh"] > 0.0
    for name in ("surge_max_kpa", "surge_min_kpa"):
        expected = np.array(whole["stations"][name], dtype=np.float32)
        np.testing.assert_array_equal(unpacked(answer, name), expected)


CURVE = [{"share": "5 %", "flow": "90 L/s"}, {"share": "95 %", "flow": "20 L/s"}]


def test_preview__echoes_the_number_of_the_question(
    client: httpx.Client, body: dict[str, Any]
) -> None:
    answer = client.post("/api/preview?form=compact", json=body, headers={"x-sequence": "417"})
    assert answer.headers["x-sequence"] == "417"
    assert "x-sequence" not in client.post("/api/preview?form=compact", json=body).headers
    wrong = client.post("/api/preview", json=body, headers={"x-sequence": "4 17"})
    is_problem(wrong, 422, "invalid_request")


GPX = """<gpx version="1.1" creator="x" xmlns="http://www.topografix.com/GPX/1/1"><trk><name>Burn
</name><trkseg><trkpt lat="62.1" lon="-14.2"/><trkpt lat="62.101" lon="-14.199"/></trkseg></trk>
</gpx>"""


def test_routes__any_line_file(client: httpx.Client, line: dict[str, Any]) -> None:
    text = json.dumps(line).encode()
    form = client.post("/api/routes", files={"file": ("a line.geojson", text)}).json()
    bare = client.post(
        "/api/routes", content=text, headers={"content-type": "application/geo+json"}
    ).json()
    assert form == bare
    coordinates = np.array(line["geometry"]["coordinates"])
    np.testing.assert_array_equal(form["lon"], coordinates[:, 0])
    np.testing.assert_array_equal(form["lat"], coordinates[:, 1])
    assert form["name"] == "East beck"
    gpx = client.post("/api/routes", files={"file": ("../../etc/burn.gpx", GPX.encode())}).json()
    assert gpx["lat"] == [62.1, 62.101]


def test_routes__a_nameless_line_takes_the_file_name(client: httpx.Client) -> None:
    text = b"lon,lat\n-14.2,62.1\n-14.19,62.11\n"
    found = client.post("/api/routes", files={"file": ("north burn.csv", text)}).json()
    assert found["name"] == "north-burn"


@pytest.mark.parametrize(
    ("name", "content"),
    [
        ("x.png", b"\x89PNG\r\n\x1a\n0000"),
        ("x.geojson", b'{"type": "Point", "coordinates": [1, 2]}'),
        ("x.geojson", b'{"type": "LineString", "coordinates": [[1, 2], [NaN, 3]]}'),
        ("x", b""),
    ],
)
def test_routes__files_without_a_line(client: httpx.Client, name: str, content: bytes) -> None:
    problem = is_problem(client.post("/api/routes", files={"file": (name, content)}), 422, "route")
    assert "/tmp" not in json.dumps(problem)
    assert "incoming" not in json.dumps(problem)


def test_routes__nothing_and_too_much(client: httpx.Client) -> None:
    is_problem(client.post("/api/routes", content=b""), 400, "bad_upload")
    is_problem(client.post("/api/routes", content=b" " * 9_000_000), 413)


def test_catalogue__every_word_must_fit(client: httpx.Client) -> None:
    found = client.get("/api/catalogue", params={"material": "PE100", "q": "sdr17 200"}).json()
    assert found
    for pipe in found:
        text = f"{pipe['id']} {pipe['label']}".casefold()
        assert pipe["material"] == "PE100"
        assert "sdr17" in text
        assert "200" in text
        known = load_catalogue().find(pipe["id"])
        assert pipe["inside_diameter_m"] == pytest.approx(known.inside_diameter_m)
        assert pipe["dimension_source"]


def test_catalogue__limit_and_nothing_found(client: httpx.Client) -> None:
    assert len(client.get("/api/catalogue", params={"limit": 3}).json()) == 3
    everything = client.get("/api/catalogue", params={"limit": 1000}).json()
    assert len(everything) == len(load_catalogue())
    assert client.get("/api/catalogue", params={"q": "no such pipe"}).json() == []
    is_problem(client.get("/api/catalogue", params={"nominal": "huge"}), 422, "pipe")


def test_where_from__answers_for_every_figure(client: httpx.Client, full: dict[str, Any]) -> None:
    for key in provenance_keys():
        found = client.get("/api/where-from", params={"key": key}).json()
        assert found["key"] == key
        assert found["formula"]
    for name in full["summary"]:
        assert client.get("/api/where-from", params={"key": name}).status_code == 200, name


def test_where_from__an_unknown_one_names_the_nearest(client: httpx.Client) -> None:
    problem = is_problem(client.get("/api/where-from?key=net_heat_m"), 404, "not_found")
    assert "net_head_m" in problem["hint"]


def test_line__first_look_is_the_dragged_line_without_what_hangs_on_fittings(
    client: httpx.Client, body: dict[str, Any], dragged: dict[str, Any]
) -> None:
    look = client.post("/api/preview?form=line", json=body, headers={"x-sequence": "7"})
    assert look.headers["x-sequence"] == "7"
    line = look.json()
    described = client.get("/api/openapi.json").json()
    schema = {"$ref": "#/components/schemas/LineInShort", "components": described["components"]}
    jsonschema.validate(line, schema)
    assert line["stations"] == dragged["stations"]
    assert line["pipes"] == dragged["pipes"]
    assert line["flow"] == dragged["flow"]
    assert line["fitted"] is False
    for part, absent in OF_FITTINGS.items():
        assert line[part] == {k: v for k, v in dragged[part].items() if k not in absent}
    assert set(line) == {*OF_LINE, "fitted"}
    assert len(look.content) < 0.7 * len(json.dumps(dragged, separators=(",", ":")))
