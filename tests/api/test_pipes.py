from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import httpx
from api_service import is_problem
from leatline_command import clean, leatline

Body = dict[str, Any]
PRICES = {"date": "2026-11-25", "currency": "crowns", "per_kg": {"PE100": 3.0}}


def test_pipes__of_a_saved_study(client: httpx.Client, body: Body) -> None:
    body = {**body, "settings": {**body["settings"], "prices": PRICES}}
    study = client.post("/api/studies", json=body).json()
    response = client.get(f"/api/studies/{study['id']}/pipes")
    assert response.status_code == 200, response.text
    choice = response.json()
    assert choice["tried"] == len(choice["sweep"]) > 600
    assert choice["ranked_by"] == "price"
    assert choice["line"]["flow_m3_s"] == 0.018
    assert choice["line"]["gross_head_m"] == study["summary"]["gross_head_m"]
    assert choice["sweep"][0]["fits"]
    few = client.get(f"/api/studies/{study['id']}/pipes", params={"material": "PE100"}).json()
    assert {row["material"] for row in few["sweep"]} == {"PE100"}
    assert few["sweep"][0] == choice["sweep"][0]


def test_pipes__of_a_line_that_is_not_saved(client: httpx.Client, body: Body) -> None:
    before = client.get("/api/health").json()["studies"]
    study = client.post("/api/studies", json=body).json()
    saved = client.get(f"/api/studies/{study['id']}/pipes").json()
    drawn = client.post("/api/pipes", json=body).json()
    for one, other in zip(drawn["sweep"], saved["sweep"], strict=True):  # places as saved are round
        assert (one["id"], one["verdict"]) == (other["id"], other["verdict"])
    assert drawn["diameters"] is not None
    quick = client.post("/api/pipes?sizes=false", json=body).json()
    assert quick["sweep"] == drawn["sweep"]
    assert quick["diameters"] is quick["class_line"] is None
    assert client.get("/api/health").json()["studies"] == before + 1
    still = {key: table for key, table in body["settings"].items() if key != "flow"}
    problem = is_problem(client.post("/api/pipes", json={**body, "settings": still}), 422)
    assert "design flow" in problem["detail"]


def test_pipes__what_cannot_be_asked(client: httpx.Client, body: Body) -> None:
    is_problem(client.get("/api/studies/0000/pipes"), 404, "not_found")
    still = {key: table for key, table in body["settings"].items() if key != "flow"}
    study = client.post("/api/studies", json={**body, "settings": still}).json()
    problem = is_problem(client.get(f"/api/studies/{study['id']}/pipes"), 422)
    assert "design flow" in problem["detail"]
    study = client.post("/api/studies", json=body).json()
    bamboo = client.get(f"/api/studies/{study['id']}/pipes", params={"material": "BAMBOO"})
    assert "BAMBOO" in is_problem(bamboo, 422)["detail"]


def test_pipes__energy_and_intake_of_a_study(client: httpx.Client, body: Body) -> None:
    record = {"unit": "L/s", "flows": [60.0 - 0.05 * day for day in range(800)]}
    more = {"intake": {"residual": "5 L/s"}, "energy": {"record": record}}
    answer = client.post("/api/studies", json={**body, "settings": {**body["settings"], **more}})
    assert answer.status_code == 201, answer.text
    study = answer.json()
    assert study["energy"]["days"] == 800
    assert study["energy"]["energy_kwh"] > 0
    assert study["intake"]["residual_m3_s"] == 0.005
    assert client.get(f"/api/studies/{study['id']}").json()["settings"]["energy"] == more["energy"]


def test_pipes_command__prints_the_best_rows(
    hill: Path, line_file: Path, settings_file: Path, tmp_path: Path
) -> None:
    (tmp_path / "beck.csv").write_text(
        "flow [L/s]\n" + "\n".join(str(60 - 0.05 * day) for day in range(800)), encoding="utf-8"
    )
    text = settings_file.read_text(encoding="utf-8")
    settings_file.write_text(
        text.replace("[intake]\n", '[intake]\nresidual = "5 L/s"\n')
        + '[energy]\nrecord = "beck.csv"\nprice_per_kwh = 0.15\ninterest = 0.06\nyears = 25\n'
        + '[prices]\ndate = "2026-11-25"\ncurrency = "crowns"\n[prices.per_kg]\nPE100 = 3.0\n',
        encoding="utf-8",
    )
    words = ["pipes", line_file, "--terrain", hill, "--settings", settings_file]
    done = leatline(*words, "--material", "PE100", cwd=tmp_path)
    clean(done, 0)
    printed = done.stdout.decode()
    asked = leatline(*words, "--material", "PE100", "--format", "json", cwd=tmp_path)
    clean(asked, 0)
    choice = json.loads(asked.stdout)
    best = choice["sweep"][0]
    assert best["fits"]
    assert choice["ranked_by"] == "yearly cost"
    for row in choice["sweep"][:15]:
        assert row["id"] in printed
    assert choice["sweep"][16]["id"] not in printed
    assert "crowns" in printed
    assert f"{best['velocity_m_s']:.2f} m/s" in printed


def test_pipes_command__without_a_flow_says_what_is_missing(
    hill: Path, line_file: Path, tmp_path: Path
) -> None:
    said = clean(leatline("pipes", line_file, "--terrain", hill, cwd=tmp_path), 2)
    assert "design flow" in said
    assert said.count("\n") == 1
