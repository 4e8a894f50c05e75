from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import pytest
from api_service import Serve, is_problem, upload
from waiting import until

from routing.document import study_schema
from routing.papers import EXPORTS

Body = dict[str, Any]


def test_health__names_what_computes(client: httpx.Client) -> None:
    import pyproj
    import rasterio
    import shapely

    health = client.get("/api/health").json()
    assert health["status"] == "ok"
    assert health["gdal"] == rasterio.__gdal_version__
    assert health["proj"] == pyproj.proj_version_str
    assert health["geos"] == shapely.geos_version_string


def test_study__is_valid_against_the_published_schema(client: httpx.Client, body: Body) -> None:
    validator = jsonschema.Draft202012Validator(study_schema())
    validator.check_schema(study_schema())
    for settings in (body["settings"], {}):
        asked = {**body, "settings": settings}
        for path in ("/api/studies", "/api/preview"):
            study = client.post(path, json=asked).json()
            faults = [f"{e.json_path}: {e.message}"[:300] for e in validator.iter_errors(study)]
            assert faults == []


@pytest.mark.parametrize("change", [{"schema": 2}, {"vents": None}, {"extra": 1}, {"units": "x"}])
def test_schema__refuses_what_is_no_study(client: httpx.Client, body: Body, change: Body) -> None:
    study = {**client.post("/api/preview", json=body).json(), **change}
    assert not jsonschema.Draft202012Validator(study_schema()).is_valid(study)


def test_schema__every_number_says_its_unit_or_meaning() -> None:
    def walk(node: Any, path: str) -> None:
        if isinstance(node, dict):
            kind = node.get("type")
            if path.rsplit(".", 1)[-1].endswith(("_m", "_kpa", "_m3", "_deg", "_m3_s", "_kw")):
                assert "[" in node["description"], path
            elif kind is not None and "items" not in path.rsplit(".", 2)[-1]:
                assert node.get("description") or path.endswith(("items", "anyOf")), path
            for key, value in node.items():
                if key in ("properties", "$defs"):
                    for name, part in value.items():
                        walk(part, f"{path}.{name}")
                elif key == "items":
                    walk(value, f"{path}.items")

    walk(study_schema(), "study")


def test_map_and_profile__stand_alone(client: httpx.Client, body: Body) -> None:
    saved = client.post("/api/studies", json=body)
    path = saved.headers["location"]
    page = client.get(f"{path}/map")
    assert page.headers["content-type"].startswith("text/html")
    assert page.headers["etag"] == saved.headers["etag"]
    assert "V1" in page.text
    profile = client.get(f"{path}/profile")
    assert profile.headers["content-type"] == "image/svg+xml"
    assert profile.text.lstrip().startswith(("<svg", "<?xml"))


def test_export__offers_every_format_of_the_papers(client: httpx.Client) -> None:
    path = client.get("/api/openapi.json").json()["paths"]["/api/studies/{study_id}/export"]
    (query,) = [each for each in path["get"]["parameters"] if each["name"] == "format"]
    assert query["schema"]["enum"] == list(EXPORTS)
    content = path["get"]["responses"]["200"]["content"]
    assert {row.media.partition(";")[0] for row in EXPORTS.values()} <= content.keys()


def test_export__forms(client: httpx.Client, body: Body) -> None:
    path = client.post("/api/studies", json=body).headers["location"]
    # IFC asks for an extra of the tool, which is named where it is not there.
    forms = [form for form in EXPORTS if form != "ifc"]
    got = {form: client.get(f"{path}/export", params={"format": form}) for form in forms}
    assert all(response.status_code == 200 for response in got.values())
    kinds = {form: response.headers["content-type"] for form, response in got.items()}
    assert kinds == {form: EXPORTS[form].media for form in forms}
    assert got["gpkg"].content.startswith(b"SQLite format 3\0")
    assert got["geojson"].json()["type"] == "FeatureCollection"
    assert "<kml" in got["kml"].text
    assert "<gpx" in got["gpx"].text
    assert "station_m" in got["csv"].text.splitlines()[0]
    for form in ("pdf", "report"):
        assert got[form].content.startswith(b"%PDF")
    for form in ("xlsx", "shp", "package"):
        assert got[form].content.startswith(b"PK")
    assert "AC1024" in got["dxf"].text
    assert "easting" in got["stakes"].text.splitlines()[0]
    for name in ("sheet.pdf", "report.pdf"):
        page = client.get(f"{path}/{name}")
        assert page.headers["content-type"] == "application/pdf"
        assert page.headers["content-disposition"].startswith("inline")
        assert page.content.startswith(b"%PDF")
    assert got["package"].headers["content-disposition"].endswith('"East-beck-package.zip"')
    disposition = got["csv"].headers["content-disposition"]
    assert disposition == 'attachment; filename="East-beck.csv"'
    assert "gpkg" in is_problem(client.get(f"{path}/export?format=exe"), 422)["hint"]
    is_problem(client.get(f"{path}/export"), 422, "invalid_request")


def test_job__saves_a_study_and_tells_how_far_it_is(client: httpx.Client, body: Body) -> None:
    queued = client.post("/api/studies", json=body, headers={"prefer": "respond-async"})
    assert queued.status_code == 202
    assert queued.headers["preference-applied"] == "respond-async"
    events = []
    with client.stream("GET", f"{queued.headers['location']}/events") as stream:
        assert stream.headers["content-type"].startswith("text/event-stream")
        for text in stream.iter_lines():
            if text.startswith("data: "):
                events.append(json.loads(text.removeprefix("data: ")))
    assert events[-1]["state"] == "done", events
    assert [event["progress"] for event in events] == sorted(e["progress"] for e in events)
    assert client.get(queued.headers["location"]).json() == events[-1]
    saved = client.get(f"/api/studies/{events[-1]['result']['id']}").json()
    preview = client.post("/api/preview", json=body).json()
    assert saved["stations"] == preview["stations"]


def test_job__bad_input_is_its_problem(client: httpx.Client, body: Body) -> None:
    body["route"] = {"type": "LineString", "coordinates": [[-16.9, 62.2], [-16.9, 62.3]]}
    job = client.post("/api/studies", json=body, headers={"prefer": "respond-async"}).json()

    def ended() -> Body | None:
        now: Body = client.get(f"/api/jobs/{job['id']}").json()
        return now if now["state"] not in ("waiting", "running") else None

    done = until(ended, "the job to end")
    assert done is not None
    assert done["state"] == "failed"
    assert done["problem"]["code"] == "outside_terrain"


def test_job__unknown_and_busy(serve: Serve, tmp_path: Path, hill: Path, line: Body) -> None:
    with serve(tmp_path, workers=1, max_waiting_jobs=0) as client:
        is_problem(client.get("/api/jobs/x"), 404, "not_found")
        is_problem(client.get("/api/jobs/x/events"), 404, "not_found")
        body = {"terrain": upload(client, hill).json()["id"], "route": line}
        headers = {"prefer": "respond-async"}
        job = client.post("/api/studies", json=body, headers=headers).json()
        busy = client.post("/api/studies", json=body, headers=headers)
        is_problem(busy, 503, "busy")
        assert busy.headers["retry-after"]
        assert client.delete(f"/api/jobs/{job['id']}").json()["state"] in ("stopped", "done")


def test_problem__is_told_in_the_language_of_the_request(client: httpx.Client) -> None:
    """RFC 9457, 3.1.3 and RFC 9110, 8.5: code and status are the same in every language."""
    told = {}
    for code in ("en", "es", "ar"):
        headers = {"accept-language": f"{code}, en;q=0.5"}
        answer = client.get("/api/studies/0123456789abcdef", headers=headers)
        assert (answer.status_code, answer.json()["code"]) == (404, "not_found")
        assert answer.headers["content-language"] == code
        told[code] = answer.json()["detail"]
    assert len(set(told.values())) == 3
    assert client.get("/api/nothing").headers["content-language"] == "en"


def test_page__loads_only_its_own_files(client: httpx.Client) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "default-src 'self'" in page.headers["content-security-policy"]
    assert "http://" not in page.text
    assert "https://" not in page.text
    for path in ("/js/main.js", "/js/list-page.js", "/css/plan.css"):
        file = client.get(path)
        assert file.status_code == 200
        assert "://" not in file.text
