"""The catchment and the flow at a study's intake: found, carried over, guessed, or left alone."""

from __future__ import annotations

import json
from dataclasses import replace

import jsonschema
import numpy as np
import pytest
from pyproj import Geod, Transformer
from shapely.geometry import Polygon

from routing import catchment_study, stream_study
from routing.document import study_schema
from routing.errors import SettingsError
from routing.line import Route
from routing.record import study_document, to_json
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)
PIPE = [{"catalogue": "PE100-SDR17-200"}]
CURVE = [
    {"share": f"{share} %", "flow": f"{flow} L/s"}
    for share, flow in ((0, 120), (50, 40), (100, 10))
]
MEAN = (0.5 * (120 + 40) * 0.5 + 0.5 * (40 + 10) * 0.5) / 1000.0
"""Mean of that curve, by its two trapezes [m3/s]."""


@pytest.fixture
def valley(make_raster):
    """A valley of 300 m between its ridges, to the south; returns the maker of studies on it."""
    col, row = np.meshgrid(np.arange(70.0), np.arange(90.0))
    off = np.abs(col - 35.0)
    side = np.where(off > 15, 30.0 - off, off) * 4.0
    path = make_raster(600.0 + side - 1.2 * row, cell=10.0, unit="metre", crs="EPSG:32633")
    lon, lat = BACK.transform([500_355.0 + 12.0, 500_355.0], [5_199_695.0, 5_199_195.0])

    def make(drawn=None, pressures=True, **tables):
        settings = settings_from_mapping(tables)
        x, y = drawn or (np.array(lon), np.array(lat))
        line = Route(name="line", lon=x, lat=y)
        return run_study(open_study_terrain([path], settings), line, settings, pressures=pressures)

    catchment_study._kept.clear()
    return make


AREA = 31 * 30 * 100.0
"""Rows to the intake, cells between the ridges, of which the western one sheds inwards [m2]."""


def codes(study):
    return {finding.code for finding in study.findings}


def test_catchment__is_not_followed_unless_asked(valley, monkeypatch):
    monkeypatch.setattr(stream_study, "followed", None)
    document = study_document(valley(pipe=PIPE, energy={"curve": CURVE}))
    assert "catchment" not in document
    assert document["stream_flow"]["basis"] == "record"


def test_catchment__in_the_document(valley):
    study = valley(catchment={"threshold": "0.01 km2"})
    document = study_document(study)
    found = document["catchment"]
    assert found["area_m2"] == pytest.approx(AREA, rel=2e-3)
    assert found["method"] == "d8"
    assert found["at_least"] is True
    assert found["snapped_m"] == pytest.approx(12.0, rel=1e-3)
    assert "catchment_at_least" in codes(study)
    assert "stream_flow" not in document
    rings = [Polygon(zip(ring["lon"], ring["lat"], strict=True)) for ring in found["outline"]]
    area = sum(abs(Geod(ellps="WGS84").geometry_area_perimeter(ring)[0]) for ring in rings)
    assert area == pytest.approx(found["area_m2"], rel=0.05)
    jsonschema.validate(json.loads(to_json(document)), study_schema())


def test_catchment__snap_and_threshold_are_those_of_the_settings(valley):
    missed = valley(catchment={"threshold": "0.01 km2", "snap": "5 m"})
    assert "catchment_no_stream" in codes(missed)
    assert missed.water.catchment.snapped_m == 0.0
    assert missed.water.catchment.area_m2 < 0.05 * AREA
    larger = valley(catchment={"threshold": "1 km2"})
    assert "catchment_no_stream" in codes(larger)


def test_catchment__shared_among_neighbours(valley):
    one = valley(catchment={"threshold": "0.01 km2"}).water.catchment
    many = valley(catchment={"threshold": "0.01 km2", "method": "freeman"}).water.catchment
    assert many.method == "freeman"
    assert many.area_m2 == pytest.approx(one.area_m2, rel=0.2)
    assert many.area_m2 != one.area_m2


def test_catchment__as_given_needs_no_raster(valley, monkeypatch):
    monkeypatch.setattr(stream_study, "followed", None)
    study = valley(catchment={"area": "3.2 km2", "specific_yield": "28 L/s/km2"})
    found = study_document(study)["catchment"]
    assert (found["area_m2"], found["method"], found["snapped_m"]) == (3.2e6, "as given", None)
    assert study.water.mean_m3_s == pytest.approx(0.028 * 3.2)


def test_catchment__while_dragged_only_from_memory(valley):
    tables = {"catchment": {"threshold": "0.01 km2"}}
    dragged = valley(pressures=False, **tables)
    assert dragged.water.catchment is None
    assert "catchment_later" in codes(dragged)
    saved = valley(**tables)
    again = valley(pressures=False, **tables)
    assert again.water.catchment == saved.water.catchment


def test_flow__carried_over_by_the_ratio_of_areas(valley):
    gauged = AREA / 0.8
    study = valley(
        pipe=PIPE,
        flow={"design": "20 L/s"},
        catchment={"threshold": "0.01 km2"},
        intake={"residual_share": "10 %"},
        energy={"curve": CURVE, "gauged_area": f"{gauged} m2", "area_exponent": 0.9},
        turbine={"kind": "crossflow"},
    )
    factor = (study.water.catchment.area_m2 / gauged) ** 0.9
    flow = study_document(study)["stream_flow"]
    assert flow["basis"] == "ratio of areas"
    assert flow["guess"] is True
    assert flow["mean_m3_s"] == pytest.approx(MEAN * factor, abs=1e-5)
    assert flow["residual_m3_s"] == pytest.approx(0.1 * MEAN * factor, abs=1e-6)
    assert flow["area_ratio"] == pytest.approx(0.8, rel=2e-3)
    curve = study.stream.energy.curve
    np.testing.assert_allclose(curve.flow_m3_s, factor * np.array([0.12, 0.04, 0.01]))
    assert study.stream.energy.residual_m3_s == pytest.approx(0.1 * MEAN * factor, rel=1e-4)
    assert study.stream.energy.year is not None
    assert "flow_guessed" in codes(study)
    assert "area_ratio_far" not in codes(study)
    assert any("ratio of the catchments" in words for words in study.assumptions)
    assert any("the permit's figure counts" in words for words in study.assumptions)


def test_settings_at_intake__are_those_of_the_study_and_carried_once(valley):
    tables = {
        "catchment": {"threshold": "0.01 km2"},
        "intake": {"residual_share": "10 %"},
        "energy": {"curve": CURVE, "gauged_area": f"{AREA / 0.8} m2"},
    }
    study = valley(**tables)
    given = settings_from_mapping(tables)
    known = stream_study.settings_at_intake(given, study.terrain, study.line)
    assert known == study.settings
    assert known.energy.curve[0].flow == pytest.approx(0.12 * study.water.ratio)
    assert known.intake.residual == pytest.approx(0.1 * study.water.mean_m3_s)
    again = stream_study.settings_at_intake(known, study.terrain, study.line)
    assert again.energy.curve == known.energy.curve
    plain = settings_from_mapping({"energy": {"curve": CURVE}})
    assert stream_study.settings_at_intake(plain, study.terrain, study.line) is plain


def test_catchment__usual_reach_and_threshold(valley):
    """Two cells, 25 m at least; 0.1 km2: our own estimates."""
    assert catchment_study.snap_distance_m(valley().terrain) == 25.0
    coarse = replace(valley().terrain, cell_m=30.0)
    assert catchment_study.snap_distance_m(coarse) == 60.0
    assert settings_from_mapping({}).catchment.threshold == 1e5


@pytest.mark.parametrize("ratio", [0.3, 1.8])
def test_flow__too_different_catchments_are_a_warning(valley, ratio):
    study = valley(
        pipe=PIPE,
        energy={"curve": CURVE, "gauged_area": f"{AREA / ratio} m2"},
        catchment={"threshold": "0.01 km2"},
    )
    assert "area_ratio_far" in codes(study)
    (failed,) = [
        check for check in study.checks if check.code == "area_ratio_far" and not check.passed
    ]
    assert failed.demand == pytest.approx(100.0 * ratio, rel=2e-3)


def test_flow__left_out_while_dragged_without_its_catchment(valley):
    study = valley(pressures=False, pipe=PIPE, energy={"curve": CURVE, "gauged_area": "0.1 km2"})
    assert study.water.mean_m3_s is None
    assert study.settings.energy.curve == ()


def test_flow__from_a_specific_yield_is_a_guess(valley):
    study = valley(catchment={"threshold": "0.01 km2", "specific_yield": "28 L/s/km2"})
    water = study.water
    assert water.mean_m3_s == pytest.approx(28e-9 * water.catchment.area_m2)
    assert (water.basis, water.guess) == ("specific yield", True)
    assert water.settings.intake.residual is None
    assert any("guess until the stream is gauged" in words for words in study.assumptions)


def test_flow__what_was_measured_goes_before_what_is_guessed(valley):
    given = valley(
        intake={"mean_annual_flow": "50 L/s"},
        catchment={"threshold": "0.01 km2", "specific_yield": "28 L/s/km2"},
    ).water
    assert (given.mean_m3_s, given.basis, given.guess) == (0.05, "as given", False)
    read = valley(
        energy={"curve": CURVE},
        catchment={"threshold": "0.01 km2", "specific_yield": "28 L/s/km2"},
    ).water
    assert (read.basis, read.guess) == ("record", False)
    assert read.mean_m3_s == pytest.approx(MEAN, rel=1e-4)


def test_flow__a_share_of_an_unknown_mean_is_no_residual_flow(valley):
    study = valley(pipe=PIPE, flow={"design": "20 L/s"}, intake={"residual_share": "10 %"})
    assert study.water.mean_m3_s is None
    assert "residual_missing" in codes(study)


def test_flow__residual_as_a_share_is_held_against_tennants_tenth(valley):
    study = valley(
        pipe=PIPE,
        flow={"design": "20 L/s"},
        intake={"residual_share": "8 %", "mean_annual_flow": "50 L/s"},
    )
    assert study.stream.intake.residual_m3_s == pytest.approx(0.004)
    assert "residual_low" in codes(study)


@pytest.mark.parametrize(
    ("tables", "named"),
    [
        ({"catchment": {"specific_yield": "28 L/s"}}, "no flow for an area"),
        ({"catchment": {"specific_yield": "0 L/s/km2"}}, "out of range"),
        ({"catchment": {"specific_yield": "2000 L/s/km2"}}, "out of range"),
        ({"intake": {"residual": "1 L/s", "residual_share": "10 %"}}, "both given"),
        ({"energy": {"area_exponent": 2.0}}, "area_exponent"),
        ({"catchment": {"method": "d16"}}, "method"),
    ],
)
def test_settings__refuse(tables, named):
    with pytest.raises(SettingsError, match=named):
        settings_from_mapping(tables)


@pytest.mark.parametrize(
    ("text", "si"), [("28 L/s/km2", 28e-9), ("1 m3/s/km2", 1e-6), ("2 cfs/mi2", 2.186657e-8)]
)
def test_settings__specific_yield_in_usual_units(text, si):
    """1 cfs/mi2 = 0.0283168 m3/s / 2 589 988 m2, both factors exact."""
    found = settings_from_mapping({"catchment": {"specific_yield": text}})
    assert found.catchment.specific_yield == pytest.approx(si, rel=1e-6)


def test_followed__takes_a_changed_raster_anew(make_raster):
    from routing.terrain import open_terrain

    catchment_study._kept.clear()
    heights = np.add.outer(-np.arange(30.0), -0.1 * np.arange(20.0))
    first = catchment_study.followed(open_terrain([make_raster(heights)]), 500.0)
    assert catchment_study.followed(open_terrain([make_raster(heights[:, :])]), 500.0) is not None
    other = catchment_study.followed(open_terrain([make_raster(heights[::-1])]), 500.0)
    assert first.drainage.directions[10, 10] != other.drainage.directions[10, 10]
    finer = catchment_study.followed(other.drainage.terrain, 200.0)
    assert finer.drainage is other.drainage
    assert finer.cell.size > other.cell.size
