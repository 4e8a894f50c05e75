"""The face for notebooks: one call, tables, a value that shows itself, an example that runs."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import Any

import pytest

import sample_dem
import web
from routing.errors import InputError, LeatlineError
from routing.notebook import LaidStudy, lay
from routing.outputs import OUTPUT_FILES

SAMPLE = sample_dem.sample_paths()
NOTEBOOK = Path(web.__file__).parent / "guide" / "a-line.ipynb"


@pytest.fixture(scope="module")
def study() -> LaidStudy:
    return lay(SAMPLE.line, SAMPLE.terrain, SAMPLE.settings)


def test_tables_hold_what_the_document_holds(study: LaidStudy) -> None:
    document: Any = study.document
    assert len(study.stations) == len(document["stations"]["station_m"])
    assert study.stations["station_m"].is_monotonic_increasing
    named = {item["id"] for kind in ("vents", "drains") for item in document[kind]}
    things = study.things.set_index("id")
    assert named <= set(things.index)
    assert things.crs.to_epsg() == study.line.crs.to_epsg() == 4326
    first = document["vents"][0]
    assert things.loc[first["id"]].geometry.coords[0] == (first["lon"], first["lat"])
    assert len(study.checks) == len(document["checks"])
    assert list(study.findings["code"]) == [found["code"] for found in document["warnings"]]


def test_a_line_may_be_a_file_a_mapping_or_places(study: LaidStudy) -> None:
    told = json.loads(SAMPLE.line.read_text(encoding="utf-8"))
    places = [tuple(place[:2]) for place in told["features"][0]["geometry"]["coordinates"]]
    for route in (told, places):
        again = lay(route, [SAMPLE.terrain], study.document["settings"])
        assert again.summary == study.summary


def test_it_shows_itself_with_map_profile_and_findings(study: LaidStudy) -> None:
    shown = study._repr_html_()
    assert "<iframe srcdoc=" in shown
    assert "<svg" in shown
    assert str(study.findings["message"][0])[:40] in shown


def test_it_saves_what_the_command_saves(study: LaidStudy, tmp_path: Path) -> None:
    folder = study.save(tmp_path / "line")
    assert {path.name for path in folder.iterdir()} == set(OUTPUT_FILES)
    assert study.export("gpx", tmp_path / "line.gpx").read_bytes().startswith(b"<?xml")


def test_what_cannot_be_used_is_named() -> None:
    with pytest.raises(LeatlineError, match=r"missing\.tif"):
        lay(SAMPLE.line, "missing.tif")


def test_every_cell_of_the_example_runs() -> None:
    cells = json.loads(NOTEBOOK.read_text(encoding="utf-8"))["cells"]
    names: dict[str, Any] = {}
    for cell in cells:
        if cell["cell_type"] == "code":
            exec(compile("".join(cell["source"]), str(NOTEBOOK), "exec"), names)
    assert isinstance(names["study"], LaidStudy)
    assert len(names["deeper"].document["vents"]) <= len(names["study"].document["vents"])


def test_tables_name_the_extra_where_their_library_is_missing(
    study: LaidStudy, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "geopandas", None)
    with pytest.raises(InputError, match=r"geopandas.*leatline\[notebook\]"):
        study.things  # noqa: B018
    monkeypatch.setitem(sys.modules, "pandas", None)
    with pytest.raises(InputError, match=r"pandas.*leatline\[notebook\]"):
        study.stations  # noqa: B018
