"""``leatline new``: a folder to start from, whose settings can each be switched on."""

from __future__ import annotations

import json
import re
import tomllib
from pathlib import Path

import pytest

import sample_dem
from api.start_folder import IN_ENGLISH, line_text, make_start_folder, next_text, settings_text
from routing.errors import InputError
from routing.line import read_route
from routing.settings import Settings, read_settings, rows_of
from routing.words import languages, speaking


def every_key() -> set[str]:
    def below(kind: type, above: str) -> set[str]:
        found: set[str] = set()
        for told in rows_of(kind).values():
            name = f"{above}{told.key}"
            if told.reader.rows is None:
                found.add(name)
            else:
                found |= below(told.reader.rows, f"{name}.")
        return found

    return below(Settings, "")


def keys_told(text: str) -> dict[str, object]:
    """Return every key that stands in a comment, with its value, each in its own table."""
    found: dict[str, object] = {}
    table = ""
    for line in text.splitlines():
        if match := re.fullmatch(r"#?\[\[?([a-z_.]+)\]\]?", line):
            table = match.group(1)
        elif match := re.fullmatch(r"#([a-z_0-9]+) = (.*)", line):
            found[f"{table}.{match.group(1)}"] = tomllib.loads(f"v = {match.group(2)}")["v"]
    return found


def test_settings_tell_every_key_and_set_none() -> None:
    text = settings_text()
    given = tomllib.loads(text)
    assert not any(given.values())
    told = keys_told(text)
    assert set(told) == every_key()
    assert "" not in told.values()


def test_settings_as_they_stand_are_those_of_no_file(tmp_path: Path) -> None:
    make_start_folder(tmp_path)
    given, none = read_settings(tmp_path / "settings.toml"), Settings()
    for name in rows_of(Settings):
        assert getattr(given, name) == getattr(none, name), name


@pytest.mark.parametrize(
    "key", ["study.units", "trench.cover", "flow.design", "turbine.efficiency"]
)
def test_a_key_is_set_by_taking_its_mark_away(key: str, tmp_path: Path) -> None:
    make_start_folder(tmp_path)
    place = tmp_path / "settings.toml"
    table, name = key.split(".")
    changed = re.sub(rf"(?ms)^(\[{table}\].*?)^#({name} = )", r"\1\2", place.read_text(), count=1)
    place.write_text(changed)
    assert name in tomllib.loads(changed)[table]
    read_settings(place)


def test_the_line_is_one_in_the_valley_of_the_demo() -> None:
    ends = json.loads(line_text())["features"][0]["geometry"]["coordinates"]
    sample = json.loads(sample_dem.sample_paths().line.read_text())
    drawn = sample["features"][0]["geometry"]["coordinates"]
    assert ends[0] == pytest.approx(drawn[0][:2], abs=1e-6)
    assert ends[1] == pytest.approx(drawn[-1][:2], abs=1e-6)


def test_the_line_is_read_as_a_route(tmp_path: Path) -> None:
    make_start_folder(tmp_path)
    assert len(read_route(tmp_path / "line.geojson").lon) == 2


def test_what_lies_there_is_left_as_it_is(tmp_path: Path) -> None:
    mine = tmp_path / "line.geojson"
    mine.write_text("mine")
    with pytest.raises(InputError, match=r"line\.geojson is already there"):
        make_start_folder(tmp_path)
    assert mine.read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["line.geojson"]


@pytest.mark.parametrize("code", [code for code in languages() if code != "en"])
def test_the_steps_are_said_in_the_language_and_what_is_english_is_named(
    code: str, tmp_path: Path
) -> None:
    with speaking(code) as to:
        place = make_start_folder(tmp_path / code)[0].parent
        told = (place / "next.txt").read_text(encoding="utf-8")
        first = (place / "settings.toml").read_text(encoding="utf-8").splitlines()[0]
        assert first == f"# {to(IN_ENGLISH)}" != f"# {IN_ENGLISH}"
    assert list(to.missing) == []
    commands = [line for line in told.splitlines() if line.startswith("     ")]
    assert commands == [c for c in next_text(place).splitlines() if c.startswith("     ")]
    assert str(place / "study" / "map.html") in told


def test_next_commands_name_the_files_that_were_made(tmp_path: Path) -> None:
    made = make_start_folder(tmp_path / "hill")
    assert all(path.exists() for path in made)
    told = next_text(tmp_path / "hill")
    assert all(str(path) in told for path in made[:2])
