"""GeoPackage, read back by pyogrio: straights and tests as lines, integers as such."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pyogrio
import pytest
from made_study import made_document

from routing.papers.geopackage import write_gpkg


def test_write_gpkg__straights_and_tests_are_lines_with_their_values(tmp_path: Path) -> None:
    doc = made_document()
    test = {"from_m": 0.0, "to_m": 1420.0, "rule": "plain", "bottom_kpa": 900.0, "meets": True}
    doc["works"] = {"tests": [test]}
    write_gpkg(doc, tmp_path / "x.gpkg")
    grades = pyogrio.read_dataframe(tmp_path / "x.gpkg", layer="grades")
    assert list(grades["grade"]) == pytest.approx([each["grade"] for each in doc["grades"]])
    for shape, straight in zip(grades.geometry, doc["grades"], strict=True):
        assert shape.coords[0][2] == pytest.approx(straight["from_z_m"], abs=1e-6)
        assert shape.coords[-1][2] == pytest.approx(straight["to_z_m"], abs=1e-6)
    tests = pyogrio.read_dataframe(tmp_path / "x.gpkg", layer="tests")
    assert tests["rule"].tolist() == ["plain"]
    assert tests["meets"].dtype == np.bool_


def test_write_gpkg__integers_and_flags_are_no_floats(tmp_path: Path) -> None:
    doc = made_document()
    doc["warnings"] = [{"code": "x", "severity": "note", "message": "m", "count": 3}]
    write_gpkg(doc, tmp_path / "x.gpkg")
    stations = pyogrio.read_dataframe(tmp_path / "x.gpkg", layer="stations")
    assert stations["span"].dtype == np.bool_
    assert stations["assumed"].dtype == np.bool_
    assert stations["span"].tolist() == doc["stations"]["span"].astype(bool).tolist()
    warnings = pyogrio.read_dataframe(tmp_path / "x.gpkg", layer="warnings")
    assert warnings["count"].dtype.kind == "i"
