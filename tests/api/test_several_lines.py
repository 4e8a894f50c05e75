"""Several lines in one study, by command and over HTTP: each is judged as if it stood alone."""

from __future__ import annotations

import copy
import io
import json
from pathlib import Path
from typing import Any

import httpx
import jsonschema
import openpyxl
import orjson
import pyogrio
import pypdfium2
import pytest
from leatline_command import clean, leatline

from api.lines import LineRows, Lines
from routing.document import study_schema
from routing.errors import InputError
from routing.papers import export_bytes
from routing.papers.side_by_side import compared

ALIKE = ("faults", "warnings", "notes", "failed_checks", "unsettled_checks", "open")


SQUARE = ((-1, -1), (1, -1), (1, 1), (-1, 1), (-1, -1))


def moved(line: dict[str, Any], name: str, east: float) -> dict[str, Any]:
    """Return a line whose inner vertices lie further east."""
    other = copy.deepcopy(line)
    other["properties"] = {"name": name}
    places = other["geometry"]["coordinates"]
    for place in places[1:-1]:
        place[0] += east
    return other


@pytest.fixture(scope="session")
def other(line: dict[str, Any]) -> dict[str, Any]:
    return moved(line, "West bank", 2e-4)


@pytest.fixture(scope="session")
def far(line: dict[str, Any]) -> dict[str, Any]:
    away = copy.deepcopy(line)
    away["properties"] = {"name": "Far off"}
    away["geometry"]["coordinates"] = [[x + 3.0, y] for x, y in line["geometry"]["coordinates"]]
    return away


def file_of(folder: Path, name: str, *lines: dict[str, Any]) -> Path:
    path = folder / name
    document = {"type": "FeatureCollection", "features": list(lines)}
    path.write_text(json.dumps(document), encoding="utf-8")
    return path


def words_of(study: Path, hill: Path) -> str:
    """Return the words of the alternatives as they are handed over."""
    path = study.with_name("alternatives.pdf")
    asked = ("export", study, "--format", "alternatives", "--out", path, "--terrain", hill)
    clean(leatline(*asked, cwd=study.parent), 0)
    return str(pypdfium2.PdfDocument(path)[0].get_textpage().get_text_range())


def test_study__all_lines_of_a_file_stand_beside_one_another(
    hill: Path, line: Any, other: Any, settings_file: Path, tmp_path: Path
) -> None:
    both = file_of(tmp_path, "both.geojson", line, other)
    given = ("--terrain", hill, "--settings", settings_file)
    done = leatline("study", both, *given, "--line", "all", "--out", "out", cwd=tmp_path)
    clean(done, 0)
    study = orjson.loads((tmp_path / "out" / "study.json").read_bytes())
    jsonschema.validate(study, study_schema())
    assert [row["name"] for row in study["lines"]] == ["East beck", "West bank"]
    assert [each["name"] for each in study["alternatives"]] == ["West bank"]
    assert "West bank" in done.stdout.decode()
    # The second line on its own says the same, figure by figure.
    clean(leatline("study", both, *given, "--line", "2", "--out", "alone", cwd=tmp_path), 0)
    alone = orjson.loads((tmp_path / "alone" / "study.json").read_bytes())
    assert "lines" not in alone
    assert study["lines"][1]["summary"] == alone["summary"]
    assert {key: study["lines"][1]["verdict"][key] for key in ALIKE} == {
        key: alone["verdict"][key] for key in ALIKE
    }
    assert study["lines"][0]["summary"] == study["summary"]
    assert study["lines"][0]["verdict"] == study["verdict"]
    words = words_of(tmp_path / "out" / "study.json", hill)
    assert "1. East beck" in words
    assert "2. West bank" in words
    assert f"{alone['summary']['pipe_length_m']:.1f} m" in words


def test_study__the_land_of_several_lines_is_kept_once(
    hill: Path, line: Any, other: Any, tmp_path: Path
) -> None:
    both = file_of(tmp_path, "both.geojson", line, other)
    (x, y), *_, (far, low) = line["geometry"]["coordinates"]
    middle = [(x + far) / 2, (y + low) / 2]
    ring = [[middle[0] + i * 4e-4, middle[1] + j * 4e-4] for i, j in SQUARE]
    area = {"type": "Feature", "properties": {"name": "Fen"}}
    shape = {"geometry": {"type": "Polygon", "coordinates": [ring]}}
    file_of(tmp_path, "fen.geojson", area | shape)
    settings = tmp_path / "land.toml"
    settings.write_text('[[layer]]\nfile = "fen.geojson"\nkind = "no-go"\n', encoding="utf-8")
    given = ("--terrain", hill, "--settings", settings)
    clean(leatline("study", both, *given, "--line", "all", "--out", "out", cwd=tmp_path), 0)
    text = (tmp_path / "out" / "study.json").read_bytes()
    study = orjson.loads(text)
    (kept,) = study["alternatives"]
    assert kept["same_land"]
    assert "layer" not in kept["settings"]
    assert text.count(b'"Polygon"') == 1
    assert all(row["verdict"]["faults"] for row in study["lines"]), "both cross the fen"


def test_study__several_files_are_several_lines_the_first_is_the_one(
    hill: Path, line: Any, other: Any, tmp_path: Path
) -> None:
    one, two = (
        file_of(tmp_path, f"{n}.geojson", each) for n, each in (("one", line), ("two", other))
    )
    clean(leatline("study", two, one, "--terrain", hill, "--out", "out", cwd=tmp_path), 0)
    study = orjson.loads((tmp_path / "out" / "study.json").read_bytes())
    assert [row["name"] for row in study["lines"]] == ["West bank", "East beck"]
    assert study["route"]["name"] == "West bank"


def test_study__several_lines_and_no_choice_is_still_bad_input(
    hill: Path, line: Any, other: Any, tmp_path: Path
) -> None:
    both = file_of(tmp_path, "both.geojson", line, other)
    said = clean(leatline("study", both, "--terrain", hill, "--out", "out", cwd=tmp_path), 2)
    assert "East beck, West bank" in said
    assert "--line all" in said


def test_study__a_line_that_cannot_be_computed_is_told_and_the_rest_stands(
    hill: Path, line: Any, far: Any, tmp_path: Path
) -> None:
    both = file_of(tmp_path, "both.geojson", line, far)
    asked = ("study", both, "--terrain", hill, "--line", "all", "--out", "out")
    clean(leatline(*asked, cwd=tmp_path), 0)
    study = orjson.loads((tmp_path / "out" / "study.json").read_bytes())
    jsonschema.validate(study, study_schema())
    first, second = study["lines"]
    assert second["summary"] is None
    assert "outside" in second["problem"]
    assert first["problem"] is None
    words = words_of(tmp_path / "out" / "study.json", hill)
    assert "Far off cannot be computed" in words


def test_lines__a_choice_comes_first_and_stands_once(line: Any, other: Any, tmp_path: Path) -> None:
    third = moved(line, "Third", -1e-4)
    path = file_of(tmp_path, "three.geojson", line, other, third)
    chosen = Lines(paths=(path,), choice="all").routes("west bank")
    assert [each.name for each in chosen] == ["West bank", "East beck", "Third"]
    assert [each.name for each in Lines(paths=(path,)).routes("3")] == ["Third"]


@pytest.fixture
def several(body: dict[str, Any], other: Any, far: Any) -> dict[str, Any]:
    """Return a study with two further lines, one of them beside the raster."""
    more = [
        {"name": "West bank", "route": other, "settings": body["settings"]},
        {"name": "Far off", "route": far, "settings": {}},
    ]
    return {**body, "alternatives": more}


def test_http__a_saved_study_holds_the_figures_of_all_its_lines(
    client: httpx.Client, body: dict[str, Any], several: dict[str, Any], tmp_path: Path
) -> None:
    saved = client.post("/api/studies", json=several)
    assert saved.status_code == 201
    study = saved.json()
    jsonschema.validate(study, study_schema())
    first, second, third = study["lines"]
    assert first["summary"] == study["summary"]
    assert (third["name"], third["summary"]) == ("Far off", None)
    alone = client.post("/api/preview", json={**body, "route": several["alternatives"][0]["route"]})
    assert second["summary"] == alone.json()["summary"]
    assert {key: second["verdict"][key] for key in ALIKE} == {
        key: alone.json()["verdict"][key] for key in ALIKE
    }
    address = f"/api/studies/{study['id']}"
    answer = client.get(f"{address}/export", params={"format": "alternatives"})
    assert answer.content.startswith(b"%PDF")
    path = tmp_path / "study.gpkg"
    path.write_bytes(client.get(f"{address}/export", params={"format": "gpkg"}).content)
    frame = pyogrio.read_dataframe(path, layer="lines")
    assert list(frame["name"]) == [first["name"], "West bank"]
    assert list(frame["faults"]) == [first["verdict"]["faults"], second["verdict"]["faults"]]
    book = openpyxl.load_workbook(
        io.BytesIO(client.get(f"{address}/export", params={"format": "xlsx"}).content)
    )
    rows = list(book["lines"].iter_rows(values_only=True))
    assert [row[0] for row in rows[2:]] == [first["name"], "West bank", "Far off"]
    assert "West bank" in client.get(f"{address}/map").text
    # Lines changed over: the other is now the one of the study.
    turned = {**several, "route": several["alternatives"][0]["route"], "alternatives": []}
    again = client.put(address, json=turned, headers={"if-match": saved.headers["etag"]})
    assert again.status_code == 200
    assert "lines" not in again.json()
    client.delete(address)


def test_line_rows__what_did_not_change_is_not_computed_again() -> None:
    rows, counted = LineRows(), []

    def compute() -> dict[str, Any]:
        counted.append(1)
        raise InputError("The line is no line.", "Draw it.")

    for name in ("a", "b"):
        row = rows.row(name, {"route": [1, 2]}, compute)
        assert row == {"name": name, "problem": "The line is no line. Draw it."}
    assert len(counted) == 1
    rows.row("a", {"route": [1, 3]}, compute)
    assert len(counted) == 2


def test_alternatives__a_study_of_one_line_says_that_there_is_no_other(
    client: httpx.Client, body: dict[str, Any]
) -> None:
    study = client.post("/api/preview", json=body).json()
    assert "lines" not in study
    assert not any(each.differs for each in compared(study))
    page = pypdfium2.PdfDocument(export_bytes(study, "alternatives"))[0]
    assert "nothing to compare" in page.get_textpage().get_text_range()


def test_compared__says_which_figures_differ(client: httpx.Client, several: dict[str, Any]) -> None:
    saved = client.post("/api/studies", json=several).json()
    client.delete(f"/api/studies/{saved['id']}")
    figures = {each.label: each for each in compared(saved)}
    assert figures["Design flow"].values[2] == "–"
    assert not figures["Design flow"].differs
    assert figures["Length of pipe"].differs
    assert "Cost" not in figures


def test_compared__what_a_fault_puts_out_of_reach_is_said_beside_its_figure(
    client: httpx.Client, several: dict[str, Any]
) -> None:
    saved = client.post("/api/studies", json=several).json()
    client.delete(f"/api/studies/{saved['id']}")
    first, *others = saved["lines"]
    verdict = {**first["verdict"], "out_of_reach": "over its rating"}
    lines = [{**first, "verdict": verdict}, *others]
    figures = {each.label: each.values for each in compared({**saved, "lines": lines})}
    for label in ("Net head", "Power"):
        assert figures[label][0].endswith(", out of reach: over its rating")
        assert "out of reach" not in figures[label][1]
    assert "out of reach" not in "".join(figures["Gross head"])
