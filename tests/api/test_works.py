"""The plan of works by command and over HTTP: one plan, and bad readings told."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
import pytest
from api_service import is_problem
from leatline_command import clean, leatline

Body = dict[str, Any]


@pytest.fixture
def study(client: httpx.Client, body: Body, tmp_path: Path) -> Path:
    path = tmp_path / "study.json"
    made = client.post("/api/studies", json=body)
    assert made.status_code == 201, made.text
    path.write_bytes(client.get(made.headers["location"]).content)
    return path


def test_works__http_gives_what_the_study_holds(client: httpx.Client, study: Path) -> None:
    doc = json.loads(study.read_text("utf-8"))
    answer = client.get(f"/api/studies/{doc['id']}/works")
    assert answer.status_code == 200, answer.text
    assert answer.json()["works"] == doc["works"]
    is_problem(client.get("/api/studies/0000/works"), 404, "not_found")


def test_works__filling_ends_at_the_pressure_at_rest(study: Path) -> None:
    doc = json.loads(study.read_text("utf-8"))
    stages = doc["works"]["filling"]["stages"]
    volumes = [stage["cumulative_m3"] for stage in stages]
    assert volumes == sorted(volumes)
    rest = doc["summary"]["static_pressure_kpa"]
    assert stages[-1]["gauge_kpa"] == pytest.approx(rest, abs=0.02)
    rate = doc["works"]["filling"]["rate_m3_s"]
    assert stages[-1]["time_s"] == pytest.approx(volumes[-1] / rate, abs=0.06)


def test_works_command__prints_cautions_and_stages(study: Path, tmp_path: Path) -> None:
    done = leatline("works", study, cwd=tmp_path)
    clean(done, 0)
    text = done.stdout.decode()
    for words in ("BEFORE WATER", "Nobody stands in line with an end", "FILLING"):
        assert words in text


def test_works_command__writes_the_paper(study: Path, tmp_path: Path) -> None:
    clean(leatline("works", study, "--out", tmp_path / "works.pdf", cwd=tmp_path), 0)
    assert (tmp_path / "works.pdf").read_bytes().startswith(b"%PDF")


def test_diagnose_command__as_predicted_low_and_absurd(study: Path, tmp_path: Path) -> None:
    doc = json.loads(study.read_text("utf-8"))
    rest = doc["summary"]["static_pressure_kpa"]
    last = doc["taps"][-1]["id"]

    def told(kpa: float) -> dict[str, Any]:
        reading = f"{kpa}@{last}"
        done = leatline("works", "diagnose", study, "--shut", reading, "--format", "json",
                        cwd=tmp_path)  # fmt: skip
        clean(done, 0)
        found: dict[str, Any] = json.loads(done.stdout)
        return found

    assert told(rest)["causes"][0]["cause"] == "as predicted"
    low = told(0.7 * rest)
    assert "as predicted" not in {each["cause"] for each in low["causes"][:1]}
    assert low["decided"] or low["read"]
    for bad in ("much@M1", "600@nowhere", "600"):
        said = clean(leatline("works", "diagnose", study, "--shut", bad, cwd=tmp_path), 2)
        assert bad.partition("@")[0] in said or "nowhere" in said
