"""What crews bring home by command: into a study, as built, and on into the next study."""

from __future__ import annotations

import base64
import json
import shutil
from pathlib import Path
from typing import Any

import httpx
import numpy as np
import pytest
from leatline_command import clean, leatline

Doc = dict[str, Any]
PHOTO = "data:image/jpeg;base64," + base64.b64encode(b"\xff\xd8\xff\xe0 a weld").decode()


def read(path: Path) -> Doc:
    found: Doc = json.loads(path.read_text("utf-8"))
    return found


def write(path: Path, *records: Doc) -> Path:
    said = {"time": "2026-06-01T09:30:00Z", "device": "north gang"}
    path.write_text(json.dumps({"records": [{**said, **each} for each in records]}), "utf-8")
    return path


@pytest.fixture
def planned(line_file: Path, settings_file: Path, hill: Path, tmp_path: Path) -> Path:
    done = leatline("study", line_file, "--terrain", hill, "--settings", settings_file, "--out",
                    tmp_path / "plan", cwd=tmp_path)  # fmt: skip
    clean(done, 0)
    return tmp_path / "plan" / "study.json"


def test_commands__from_the_hill_into_the_study_and_on(
    planned: Path, line_file: Path, settings_file: Path, hill: Path, tmp_path: Path
) -> None:
    plan = read(planned)
    stations, vent = plan["stations"], plan["vents"][0]
    level = float(np.interp(200.0, stations["station_m"], stations["invert_m"]))
    north = write(
        tmp_path / "north.json",
        {"kind": "tick", "of": vent["id"], "station_m": vent["station_m"], "done": True},
        {"kind": "photo", "of": vent["id"], "photo": PHOTO},
        {"kind": "reading", "of": "Q1", "step": "hold", "gauge_kpa": 1.0, "lasted_s": 60.0},
    )
    south = write(
        tmp_path / "south.json",
        {"kind": "tick", "of": vent["id"], "done": False, "device": "south gang"},
        {"kind": "asbuilt", "station_m": 200.0, "invert_m": level - 0.2, "device": "south gang"},
    )
    strange = write(tmp_path / "strange.json", {"kind": "tick", "of": "V77", "done": True})
    before = planned.read_bytes()
    assert "V77" in clean(leatline("works", "records", planned, strange, cwd=tmp_path), 2)
    assert planned.read_bytes() == before

    told = leatline("works", "records", planned, north, south, cwd=tmp_path)
    clean(told, 0)
    assert "differs" in told.stdout.decode()
    assert "Q1: fail: the gauge stood at 1 kPa" in told.stdout.decode()
    doc = read(planned)
    assert len(doc["records"]) == 5
    (photo,) = [each["photo"] for each in doc["records"] if each["photo"]]
    assert (planned.parent / photo).read_bytes().startswith(b"\xff\xd8\xff")
    clean(leatline("works", "records", planned, north, cwd=tmp_path), 0)
    assert read(planned) == doc

    high = write(
        tmp_path / "high.json", {"kind": "asbuilt", "station_m": 200.0, "invert_m": level + 9.0}
    )
    shutil.copyfile(planned, tmp_path / "doubted.json")
    doubted = leatline("works", "records", tmp_path / "doubted.json", high, cwd=tmp_path)
    assert "9.0 m above the plan" in clean(doubted, 0)

    done = leatline("works", "asbuilt", planned, south, "--terrain", hill, "--out",
                    tmp_path / "built", cwd=tmp_path)  # fmt: skip
    clean(done, 0)
    assert "Q1 as planned: fail: the gauge stood at 1 kPa" in done.stdout.decode()
    built = read(tmp_path / "built" / "study.json")
    assert built["as_built"]["levels"][0]["difference_m"] == pytest.approx(-0.2, abs=1e-3)
    assert "as built" in (tmp_path / "built" / "map.html").read_text("utf-8")
    assert len(built["records"]) == 5
    assert (tmp_path / "built" / photo).read_bytes() == (planned.parent / photo).read_bytes()

    # Into another folder: the photographs go along.
    clean(leatline("study", line_file, "--terrain", hill, "--settings", settings_file, "--before",
                   planned, "--out", tmp_path / "next", cwd=tmp_path), 0)  # fmt: skip
    assert len(read(tmp_path / "next" / "study.json")["records"]) == 5
    assert (tmp_path / "next" / photo).read_bytes() == (planned.parent / photo).read_bytes()

    # The next study into the same folder: names and records go on.
    deeper = settings_file.read_text("utf-8").replace("1.4 m", "1.9 m")
    settings_file.write_text(deeper, "utf-8")
    clean(leatline("study", line_file, "--terrain", hill, "--settings", settings_file, "--out",
                   planned.parent, cwd=tmp_path), 0)  # fmt: skip
    again = read(planned)
    names = {item["id"] for item in (*doc["vents"], *doc["drains"])}
    now = {item["id"] for item in (*again["vents"], *again["drains"])}
    assert now - names <= set(again["changes"]["new"])
    assert len(again["records"]) == 5
    assert clean(
        leatline("study", line_file, "--terrain", hill, "--before", tmp_path / "none.json",
                 cwd=tmp_path), 2,
    )  # fmt: skip


def test_preview__names_as_in_the_saved_study(client: httpx.Client, body: Doc) -> None:
    saved = client.post("/api/studies", json=body).json()
    trench = {**body["settings"].get("trench", {}), "max_depth": "2.4 m"}
    deeper = {**body, "settings": {**body["settings"], "trench": trench}}
    for form in ("full", "compact"):
        answer = client.post("/api/preview", json=deeper,
                             params={"form": form, "study": saved["id"]})  # fmt: skip
        assert answer.status_code == 200, answer.text
        was = {item["id"]: item["station_m"] for item in saved["vents"]}
        for item in answer.json()["vents"]:
            if item["id"] in was:
                assert abs(item["station_m"] - was[item["id"]]) <= 25.0
        assert ("changes" in answer.json()) is (form == "full")
    lost = client.post("/api/preview", json=body, params={"study": "0" * 16})
    assert lost.status_code == 404
