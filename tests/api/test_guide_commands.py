"""Every command of README and guide is run as it is written, every piece of settings is read."""

from __future__ import annotations

import re
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
import rasterio
import typer
from api_service import running
from guide_texts import GUIDE, TEXTS, commands, settings_pieces
from rasterio.enums import Resampling
from typer.testing import CliRunner

import sample_dem
from api.cli import app
from routing import document
from routing.settings import read_settings, settings_schema
from routing.trade_table import trade_table

PARSED = {
    ("serve",): "it answers until it is stopped",
    ("demo",): "run where the installation is tried",
    ("pipes",): "some hundred pipes; held by tests of its own, as the search and the screen are",
    ("search",): "as above",
    ("screen",): "as above",
    ("study", "--papers"): "sheets and report take the time of all other commands together",
    ("export", "package"): "as above",
}
"""Commands whose words are only parsed, names of files and values among them, and why."""
TABLES = settings_schema()["properties"]
SUFFIXES = (".json", ".geojson", ".gpkg", ".kml")
DENSE = 4
"""Cells of the sample that one of the valley's stands for: a quarter of its sharpness will do."""


@pytest.fixture(scope="module")
def scratch(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return a folder with the files that README and guide speak of, made from the sample."""
    import geopandas

    folder, sample = tmp_path_factory.mktemp("scratch"), sample_dem.sample_paths()
    for name in ("hill.tif", "dem.tif"):
        shutil.copyfile(sample.terrain, folder / name)
    coarse(sample.terrain, folder / "valley.tif")
    for name in ("line.geojson", "east.geojson"):
        shutil.copyfile(sample.line, folder / name)
    for name in ("line.toml", "beck.toml", "leat.toml"):
        shutil.copyfile(sample.settings, folder / name)
    line = geopandas.read_file(sample.line)[["geometry"]].assign(name="east")
    line.to_file(folder / "both.gpkg", layer="lines")
    line.assign(name="west").to_file(folder / "both.gpkg", layer="lines", mode="a")
    points = "".join(f'<trkpt lat="{y}" lon="{x}"/>' for x, y in line.geometry[0].coords)
    gpx = f'<gpx version="1.1" creator="test"><trk><trkseg>{points}</trkseg></trk></gpx>'
    (folder / "west.gpx").write_text(gpx, encoding="utf-8")
    (folder / "valley.toml").write_text(settings_pieces((GUIDE / "valley.md").read_text())[0])
    line.to_file(folder / "roads.gpkg")
    line.to_file(folder / "parcels.shp")
    wide = line.to_crs(line.estimate_utm_crs()).buffer(20.0).to_crs(line.crs)
    line.set_geometry(wide).assign(**{"class": "rock"}).to_file(folder / "geology.gpkg")
    with zipfile.ZipFile(folder / "parcels.zip", "w") as archive:
        for part in folder.glob("parcels.*"):
            if part.suffix != ".zip":
                archive.write(part, part.name)
    (folder / "levels.csv").write_text("station,level\n100,300\n")
    with running(folder / "srv" / "leatline"):
        return folder


def coarse(path: Path, out: Path) -> None:
    """Write a raster with means of several cells in a cell."""
    with rasterio.open(path) as source:
        shape = (source.height // DENSE, source.width // DENSE)
        values = source.read(1, out_shape=shape, resampling=Resampling.average)
        wider = source.transform @ source.transform.scale(DENSE)
        profile = {**source.profile, "height": shape[0], "width": shape[1], "transform": wider}
    with rasterio.open(out, "w", **profile) as written:
        written.write(values, 1)


def whole(words: list[str]) -> bool:
    """Return whether a command names its files, and has no word that stands for the reader's."""
    names = any(re.search(r"\w\.\w{2,7}$", word) for word in words)
    return names and not any(re.search(r"\b[A-Z]{2,}\b|\||\.\.\.", word) for word in words)


def parsed(words: list[str]) -> None:
    """Have a command read its words and end before it does anything."""
    command: Any = typer.main.get_command(app)
    while hasattr(command, "commands"):
        command, words = command.commands[words[0]], words[1:]
    with command.make_context(command.name, list(words)):
        pass


def test_every_command_of_the_texts_runs(scratch: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(scratch)
    texts = [path for path in TEXTS if path.stem != "changes"]  # which names commands in short
    told = [words for path in texts for words in commands(path.read_text(encoding="utf-8"))]
    asked = {tuple(words): words for words in told if whole(words)}.values()
    assert len(asked) >= 20
    for words in asked:
        words = [word.replace("/srv/", "srv/") for word in words]
        if any(all(each in words for each in those) for those in PARSED):
            parsed(words)
            continue
        done = CliRunner().invoke(app, words)
        assert done.exit_code == 0, (words, done.output[-500:], done.exception)


@pytest.mark.parametrize("path", TEXTS, ids=lambda path: path.stem)
def test_every_piece_of_settings_is_read(path: Path, scratch: Path) -> None:
    for number, piece in enumerate(settings_pieces(path.read_text(encoding="utf-8"))):
        settings = scratch / f"{path.stem}-{number}.toml"
        settings.write_text(piece, encoding="utf-8")
        read_settings(settings)


def test_every_key_that_is_named_is_a_setting_or_of_the_study() -> None:
    known = {f"{table}.{key}" for table, rows in TABLES.items() for key in keys_of(rows)}
    known |= {row["path"] for row in trade_table(document.__file__, "document.csv")}
    named = [
        word
        for path in TEXTS
        for word in re.findall(r"`([a-z_]+\.[a-z_]+)`", path.read_text(encoding="utf-8"))
        if word.partition(".")[0] in TABLES and not word.endswith(SUFFIXES)
    ]
    assert len(named) >= 10
    assert set(named) <= known


def keys_of(schema: dict[str, Any]) -> set[str]:
    """Return the keys of a table of the settings, or of the tables of a list of them."""
    return set(schema.get("items", schema).get("properties", ()))
