"""Benches and steep ground in a whole study, over a plane that slopes across the line."""

from __future__ import annotations

import numpy as np
import orjson
import pytest
from pyproj import Transformer

from routing.line import Route
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study
from routing.trench import ground_slope

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)


@pytest.fixture
def across(make_raster):
    """A plane of 12 % down to the east and of a slope to the south; returns a study maker."""

    def make(slope: float, **tables):
        x, y = np.meshgrid(np.arange(120) * 5.0, np.arange(60) * 5.0)
        path = make_raster(500.0 - 0.12 * x - slope * y, cell=5.0, unit="metre")
        settings = settings_from_mapping({"pipe": [{"catalogue": "PE100-SDR17-200"}], **tables})
        lon, lat = BACK.transform([500_020.0, 500_520.0], [5_199_850.0, 5_199_850.0])
        line = Route(name="line", lon=np.array(lon), lat=np.array(lat))
        study = run_study(open_study_terrain([path], settings), line, settings)
        return orjson.loads(to_json(study_document(study)))

    return make


def found(doc, code):
    return [each for each in doc["warnings"] if each["code"] == code]


def test_bench__a_slope_to_the_right_is_dug_along_the_whole_line(across) -> None:
    doc = across(0.35)
    slope = np.array(doc["stations"]["side_slope"])
    assert slope == pytest.approx(-0.35, abs=1e-3)  # south is to the right of a line to the east
    bench = doc["trench"]["bench"]
    assert bench["width_m"] == 1.5
    length = doc["summary"]["plan_length_m"]
    area = 1.5**2 * 0.35 / (2.0 * (1.0 - 0.35 / 2.0))
    assert bench["volume_m3"] == pytest.approx(area * length, rel=5e-3)
    (warning,) = found(doc, "bench_needed")
    assert warning["severity"] == "warning"
    check = next(each for each in doc["checks"] if each["code"] == "bench_needed")
    assert (check["demand"], check["limit"]) == (pytest.approx(35.0, abs=0.1), 20.0)
    assert not found(doc, "bench_fails")


def test_bench__gentle_ground_passes_the_check(across) -> None:
    doc = across(0.15)
    assert doc["trench"]["bench"]["stretches"] == []
    check = next(each for each in doc["checks"] if each["code"] == "bench_needed")
    assert check["passed"]
    assert check["demand"] == pytest.approx(15.0, abs=0.1)


def test_bench__ground_as_steep_as_the_face_is_told(across) -> None:
    assert found(across(0.95, trench={"bench_face": 1.0}), "bench_fails")
    assert not found(across(0.95), "bench_fails")


def test_bench__settings_change_width_and_slope(across) -> None:
    wide = across(0.35, trench={"bench_width": "3 m"})["trench"]["bench"]
    assert wide["volume_m3"] == pytest.approx(
        4.0 * across(0.35)["trench"]["bench"]["volume_m3"], rel=1e-6
    )
    assert across(0.35, trench={"bench_from": 0.4})["trench"]["bench"]["stretches"] == []


def test_steep_ground__is_a_fault_only_where_it_is_asked_for(across) -> None:
    assert not found(across(0.35), "ground_too_steep")
    (fault,) = found(across(0.35, trench={"steepest_ground": 0.3}), "ground_too_steep")
    assert fault["severity"] == "fault"
    # The plane lies at the root of 0.12 and 0.35 squared, 0.370.
    assert "37 %" in fault["message"]
    assert not found(across(0.35, trench={"steepest_ground": 0.38}), "ground_too_steep")


def test_ground_slope__at_the_ends_and_on_unknown_sides() -> None:
    at = np.linspace(0.0, 100.0, 21)
    slope = ground_slope(at, 50.0 - 0.4 * at, np.full(21, np.nan), 7.5)
    assert slope == pytest.approx(np.full(21, 0.4))
