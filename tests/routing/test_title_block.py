"""The [sheet] table of the settings."""

from __future__ import annotations

import pickle
from pathlib import Path

import pytest

from routing.errors import SettingsError
from routing.settings import read_settings, settings_from_mapping

LAND = '{"type": "FeatureCollection", "features": [{"type": "Feature", "properties": {"kind": "road"}, "geometry": {"type": "LineString", "coordinates": [[0, 0], [1, 1]]}}]}'  # noqa: E501


def test_sheet__all_keys(tmp_path: Path) -> None:
    (tmp_path / "land.geojson").write_text(LAND, encoding="utf-8")
    path = tmp_path / "s.toml"
    path.write_text(
        '[sheet]\nproject = "P"\nowner = "O"\nnumber = "1"\ndrawn = "a"\nchecked = "b"\n'
        'date = 2026-11-25\nsigned = "c"\nsize = "A1"\nscale = "1 : 500"\ncrs = "EPSG:32633"\n'
        'features = "land.geojson"\n[[sheet.revision]]\nmark = "A"\ndate = "2026-11-25"\n',
        encoding="utf-8",
    )
    settings = read_settings(path)
    assert settings.sheet.date == "2026-11-25"
    assert settings.sheet.scale == "1:500"
    assert settings.sheet.revision[0].mark == "A"
    # The file is read in, so that the saved study holds all that the papers need.
    assert settings.given["sheet"]["features"]["features"][0]["properties"]["kind"] == "road"
    assert pickle.loads(pickle.dumps(settings)).sheet == settings.sheet


@pytest.mark.parametrize(
    ("table", "told"),
    [
        ({"size": "A9"}, "A9"),
        ({"scale": "2:1000"}, "2:1000"),
        ({"scale": "1:7"}, "1:7"),
        ({"date": "25.11.2026"}, "25.11.2026"),
        ({"owner": ""}, "sheet.owner"),
        ({"owner": 3}, "sheet.owner"),
        ({"revision": "A"}, "sheet.revision"),
        ({"revision": [{"text": "x"}]}, "mark"),
        ({"revision": [{"mark": "A", "colour": "red"}]}, "colour"),
        ({"features": {"type": "Point"}}, "FeatureCollection"),
        ({"features": {"features": [{"properties": {"kind": "moon"}, "geometry": {}}]}}, "kind"),
        ({"colour": "red"}, "colour"),
    ],
)
def test_sheet__bad_values_are_named(table: dict, told: str) -> None:
    with pytest.raises(SettingsError, match=told):
        settings_from_mapping({"sheet": table})


@pytest.mark.parametrize("content", [None, "no json", "[1]"])
def test_sheet__features_file_that_cannot_be_used(content, tmp_path: Path) -> None:
    path = tmp_path / "s.toml"
    path.write_text('[sheet]\nfeatures = "land.geojson"\n', encoding="utf-8")
    if content is not None:
        (tmp_path / "land.geojson").write_text(content, encoding="utf-8")
    with pytest.raises(SettingsError, match=r"sheet\.features"):
        read_settings(path)
