"""Shapefiles and the permit package."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import zipfile
from pathlib import Path

import geopandas
import pytest
from made_study import as_read_from_disk, made_document, made_relief

from routing.errors import StudyFileError
from routing.papers import export
from routing.papers.export import EXPORTS, export_bytes
from routing.papers.package import package_zip
from routing.papers.shapefile import shapefile_zip

FILES = {row.name: row.title for row in EXPORTS.values() if row.folder not in ("", "lines")}


def test_shapefile_zip__read_by_geopandas(tmp_path: Path) -> None:
    doc = made_document()
    with zipfile.ZipFile(io.BytesIO(shapefile_zip(doc))) as archive:
        archive.extractall(tmp_path)
    with (tmp_path / "fields.csv").open(encoding="utf-8", newline="") as stream:
        names = {(row["layer"], row["full_name"]): row["field"] for row in csv.DictReader(stream)}
    for key in ("vents", "drains", "bends"):
        read = geopandas.read_file(tmp_path / f"{key}.shp")
        assert read.crs.to_epsg() == 4326
        assert list(read["id"]) == [item["id"] for item in doc[key]]
        field = names[key, "station_m"]
        assert list(read[field]) == pytest.approx(
            [item["station_m"] for item in doc[key]], abs=1e-6
        )
        for point, item in zip(read.geometry, doc[key], strict=True):
            assert (point.x, point.y) == pytest.approx((item["lon"], item["lat"]), abs=1e-7)
            assert point.z == pytest.approx(item["pipe_m"], abs=1e-3)
    assert len(geopandas.read_file(tmp_path / "pipes.shp")) == len(doc["pipes"])
    assert len({field for (layer, _), field in names.items() if layer == "vents"}) == len(
        [1 for layer, _ in names if layer == "vents"]
    )
    assert all(len(field) <= 10 for field in names.values())


def test_shapefile_zip__same_bytes() -> None:
    doc = made_document()
    assert shapefile_zip(doc) == shapefile_zip(as_read_from_disk(doc))


def test_package_zip__manifest_is_true_and_complete() -> None:
    doc, heard = made_document(name="ñ & 山"), []
    data = package_zip(doc, progress=heard.append)
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert archive.testzip() is None
        manifest = json.loads(archive.read("manifest.json"))
        assert manifest["generator"] == doc["generator"]
        assert {entry["file"] for entry in manifest["files"]} == set(FILES)
        own = {"README.txt", "SHA256SUMS", "manifest.json"}
        assert set(archive.namelist()) == {*own, *FILES}
        readme = archive.read("README.txt").decode()
        assert doc["name"] in readme
        assert all(name in readme for name in FILES)
        sums = [line.split("  ", 1) for line in archive.read("SHA256SUMS").decode().splitlines()]
        assert {name for _, name in sums} == {"manifest.json", *FILES}
        for digest, name in sums:
            assert hashlib.sha256(archive.read(name)).hexdigest() == digest
        for entry in manifest["files"]:
            content = archive.read(entry["file"])
            assert hashlib.sha256(content).hexdigest() == entry["sha256"]
            assert len(content) == entry["bytes"] > 0
            assert entry["purpose"]
        study = json.loads(archive.read("study.json"))
    assert study["summary"]["gross_head_m"] == doc["summary"]["gross_head_m"]
    assert heard == pytest.approx([(n + 1) / len(FILES) for n in range(len(FILES))])


def test_package_zip__same_bytes_fresh_and_from_disk() -> None:
    doc = made_document()
    assert package_zip(doc) == package_zip(as_read_from_disk(doc))


def test_package_zip__its_study_makes_the_same_package_again() -> None:
    data = package_zip(as_read_from_disk(made_document()))
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        again = json.loads(archive.read("study.json"))
    assert package_zip(again) == data


@pytest.mark.parametrize("name", ["pdf", "report", "package", "dxf"])
def test_export__a_broken_study_leaves_nothing_behind(name: str, tmp_path: Path) -> None:
    doc = made_document()
    del doc["summary"]
    with pytest.raises((KeyError, StudyFileError)):
        export(
            doc | {"stations": {"station_m": doc["stations"]["station_m"]}},
            name,
            tmp_path / EXPORTS[name].name,
        )
    assert list(tmp_path.iterdir()) == []


def test_package_zip__holds_what_each_export_gives_alone() -> None:
    """What papers of a package share changes none of them."""
    doc = made_document(count=120)
    relief = made_relief(doc)
    with zipfile.ZipFile(io.BytesIO(package_zip(doc, relief))) as archive:
        for form in ("pdf", "dxf"):
            assert archive.read(EXPORTS[form].name) == export_bytes(doc, form, relief), form
