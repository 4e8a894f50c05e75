"""The sample over HTTP, settings files read for the page, and one raster that comes twice."""

from __future__ import annotations

from pathlib import Path

import httpx
import pytest
from api_service import upload

import sample_dem
from routing.settings import read_settings

SAMPLE = sample_dem.sample_paths()


def test_sample__comes_once_and_can_be_studied(client: httpx.Client) -> None:
    first, again = (client.post("/api/sample").json() for _ in range(2))
    assert first == again
    assert first["settings"] == dict(read_settings(SAMPLE.settings).given)
    body = {"terrain": first["terrain"]["id"], "route": first["route"]}
    answer = client.post("/api/preview", json={**body, "settings": first["settings"]})
    assert answer.status_code == 200
    assert answer.json()["summary"]["power_kw"] > 5.0


def test_terrains__the_same_files_once(client: httpx.Client, hill: Path) -> None:
    def sent(query: str) -> httpx.Response:
        files = {"file": ("hill.tif", hill.read_bytes())}
        return client.post(f"/api/terrains{query}", files=files)

    first = upload(client, hill)
    again = sent("?once=true")
    assert (again.status_code, again.json()["id"]) == (200, first.json()["id"])
    assert again.headers["location"] == f"/api/terrains/{first.json()['id']}"
    other = sent("")
    assert other.status_code == 201
    assert other.json()["id"] != first.json()["id"]


def test_settings__with_the_files_they_name(client: httpx.Client) -> None:
    body = {
        "toml": '[survey]\npoints = "levels.csv"\n[flow]\ndesign = "18 L/s"\n',
        "files": {"levels.csv": "station,elevation\n310,412.6\n"},
    }
    tables = client.post("/api/settings", json=body).json()["settings"]
    assert tables["flow"] == {"design": "18 L/s"}
    assert tables["survey"]["points"][0]["elevation"] == "412.6 m"


@pytest.mark.parametrize(
    ("toml", "named"),
    [
        ("x = = 1", "settings.toml"),
        ("[flow]\ndesin = 1", "design"),
        ('[survey]\npoints = "gone.csv"', "gone.csv"),
    ],
)
def test_settings__refused_in_one_message(client: httpx.Client, toml: str, named: str) -> None:
    answer = client.post("/api/settings", json={"toml": toml})
    assert answer.status_code == 422
    problem = answer.json()
    assert named in problem["detail"] + problem["hint"]
    assert "incoming" not in answer.text


@pytest.mark.parametrize("name", ["../x.csv", "a/b.csv", ".hidden", "", "C:\\x"])
def test_settings__names_of_files_stay_names(client: httpx.Client, name: str) -> None:
    answer = client.post("/api/settings", json={"toml": "", "files": {name: "x"}})
    assert answer.status_code == 422


def test_settings__read_no_other_file_of_the_machine(client: httpx.Client, tmp_path: Path) -> None:
    (tmp_path / "secret.json").write_text('{"type": "FeatureCollection", "features": [], "s": 1}')
    (tmp_path / "secret.png").write_bytes(b"\x89PNG\r\n\x1a\nsecret")
    (tmp_path / "secret.csv").write_text("station,elevation\n310,412.6\n")
    (tmp_path / "secret.toml").write_text('[sheet]\nclient = "secret"\n')
    asked = [
        '[sheet]\nlogo = "FOLDER/secret.png"',
        '[sheet]\nfeatures = "FOLDER/secret.json"',
        '[sheet]\ntemplate = "FOLDER/secret.toml"',
        '[survey]\npoints = "FOLDER/secret.csv"',
        '[energy]\nrecord = "FOLDER/secret.csv"',
        '[[layer]]\nkind = "road"\nfile = "FOLDER/secret.json"',
        '[sheet]\nlogo = "/dev/zero"',
        '[sheet]\ntemplate = "own.toml"',
    ]
    files = {"own.toml": f'[sheet]\nlogo = "{tmp_path}/secret.png"\n'}
    up = "../" * 40 + str(tmp_path).lstrip("/")
    for toml in asked:
        for folder in (str(tmp_path), up):
            sent = {"toml": toml.replace("FOLDER", folder), "files": files}
            answer = client.post("/api/settings", json=sent)
            assert answer.status_code == 422, answer.text[:300]
            assert "not sent along" in answer.json()["detail"]
