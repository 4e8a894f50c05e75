"""Lines proposed by command: files, figures, and how it ends where there is none."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from leatline_command import clean, leatline

import sample_dem

SAMPLE = sample_dem.sample_paths()
ENDS = ("--from", "-16.0696748,47.2980052", "--to", "-16.055734,47.2947241")


def test_search__writes_lines_as_studies_and_answers_with_the_first(tmp_path: Path) -> None:
    settings = tmp_path / "leat.toml"
    settings.write_text('[search]\nalternatives = 2\n\n[flow]\ndesign = "15 L/s"\n', "utf-8")
    done = leatline(
        "search", "--terrain", SAMPLE.terrain, *ENDS, "--settings", settings,
        "--out", "lines", "--format", "json", cwd=tmp_path,
    )  # fmt: skip
    clean(done, 0)
    found: dict[str, Any] = json.loads((tmp_path / "lines/search.json").read_text("utf-8"))
    assert {"alternatives", "bound", "banned"} <= set(found)
    assert 0.0 < found["bound"] <= 1.0
    first = found["alternatives"][0]
    assert {"rank", "name", "route", "study", "cost", "differs_m"} <= set(first)
    assert done.stdout == (tmp_path / "lines/1/study.json").read_bytes()
    assert first["study"] == "1/study.json"
    for each in found["alternatives"]:
        study = json.loads((tmp_path / "lines" / each["study"]).read_text("utf-8"))
        assert study["summary"]["power_kw"] == each["power_kw"]
    table = (tmp_path / "lines/alternatives.csv").read_text("utf-8").splitlines()
    assert table[0].startswith("rank,name,cost,pipe_length_m")
    assert len(table) == len(found["alternatives"]) + 1
    # Its route and settings give the same study.
    place = tmp_path / "lines/1"
    again = leatline(
        "study", place / "route.geojson", "--terrain", SAMPLE.terrain,
        "--settings", place / "settings.json", "--format", "json", cwd=tmp_path,
    )  # fmt: skip
    clean(again, 0)
    one, other = json.loads(again.stdout), json.loads(done.stdout)
    assert [key for key in other if one[key] != other[key] and key != "route"] == []
    (place / "settings.json").write_text("{not it", "utf-8")
    broken = leatline(
        "study", place / "route.geojson", "--terrain", SAMPLE.terrain,
        "--settings", place / "settings.json", cwd=tmp_path,
    )  # fmt: skip
    assert broken.returncode == 2
    assert b"is not JSON" in broken.stderr


@pytest.mark.parametrize(
    ("ends", "words"),
    [
        (("--from", ENDS[3], "--to", ENDS[1]), "does not lie below the water at the intake"),
        (("--from", "north", "--to", ENDS[3]), "--from 'north' is no place"),
        (("--from", "0,0", "--to", ENDS[3]), "outside the raster"),
    ],
)
def test_search__bad_ends_are_one_message_and_nothing_written(
    tmp_path: Path, ends: tuple[str, ...], words: str
) -> None:
    done = leatline("search", "--terrain", SAMPLE.terrain, *ends, "--out", "lines", cwd=tmp_path)
    assert words in clean(done, 2)
    assert list(tmp_path.iterdir()) == []
