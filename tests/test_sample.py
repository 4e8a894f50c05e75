"""The demo's files: made by the script that stands beside them, and a study worth showing."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
import rasterio
from pyproj import Transformer

from routing.anchors import check_breaks
from routing.line import find_extremes, ground_profile, read_route
from routing.settings import read_settings
from routing.study import Study, open_study_terrain, run_study
from sample_dem import sample_paths
from sample_dem.make_terrain import make_terrain, write_terrain

PATHS = sample_paths()


@pytest.fixture(scope="module")
def made() -> np.ndarray:
    return make_terrain()


@pytest.fixture(scope="module")
def study() -> Study:
    settings = read_settings(PATHS.settings)
    terrain = open_study_terrain([PATHS.terrain], settings)
    return run_study(terrain, read_route(PATHS.line), settings)


def test_sample_paths__files_are_there_and_small() -> None:
    for path in (PATHS.terrain, PATHS.line, PATHS.settings):
        assert path.is_file()
    assert PATHS.terrain.stat().st_size < 2_000_000


def test_make_terrain__gives_the_raster_that_is_kept(made: np.ndarray) -> None:
    with rasterio.open(PATHS.terrain) as raster:
        kept = raster.read(1)
    # Another machine may round a last digit the other way, never more than one centimetre.
    assert np.abs(kept - made).max() <= 0.0101
    assert np.mean(kept != made) < 1e-3


def test_make_terrain__is_whole_centimetres_of_plausible_ground(made: np.ndarray) -> None:
    assert made.dtype == np.float32
    assert np.isfinite(made).all()
    assert np.abs(made * 100 - np.round(made * 100)).max() < 0.01
    rise = np.hypot(*np.gradient(made.astype(np.float64), 5.0))
    assert 0.1 < np.median(rise) < 0.8
    assert rise.max() < 3.0


def test_write_terrain__states_system_unit_and_datum(tmp_path: Path, made: np.ndarray) -> None:
    write_terrain(tmp_path / "again.tif", made)
    with rasterio.open(tmp_path / "again.tif") as raster:
        assert np.array_equal(raster.read(1), made)
        assert raster.crs.to_epsg() == 32628
        assert raster.units == ("metre",)
        assert raster.block_shapes == [(128, 128)]
        assert raster.res == (5.0, 5.0)
        assert raster.dtypes == ("float32",)
        assert "datum" in raster.tags()["VERTICAL_DATUM"]


def test_sample_line__runs_down_the_valley_inside_the_raster() -> None:
    document = json.loads(PATHS.line.read_text(encoding="utf-8"))
    lon, lat = np.array(document["features"][0]["geometry"]["coordinates"]).T
    x, y = Transformer.from_crs(4326, 32628, always_xy=True).transform(lon, lat)
    with rasterio.open(PATHS.terrain) as raster:
        box = raster.bounds
    assert x.min() > box.left + 50
    assert x.max() < box.right - 50
    assert y.min() > box.bottom + 50
    assert y.max() < box.top - 50


def test_sample_line__ground_has_highs_and_lows_to_find() -> None:
    profile = ground_profile(open_study_terrain([PATHS.terrain]), read_route(PATHS.line))
    highs, lows = find_extremes(profile.station_m, profile.ground_m, least_prominence_m=0.5)
    assert len(highs) >= 3
    assert len(lows) >= 3


def test_sample_study__is_a_scheme_of_the_size_meant(study: Study) -> None:
    assert 1_100 < study.line.pipe.station_m[-1] < 1_400
    assert 55 < study.line.gross_head_m < 85
    assert len(study.line.pipe.summits) >= 3
    assert study.flow is not None
    assert 5 < study.flow.power_kw < 15


def test_sample_study__summits_are_real(study: Study) -> None:
    highs, _ = find_extremes(
        study.line.pipe.station_m, study.line.pipe.pipe_m, least_prominence_m=0.2
    )
    assert len(highs) >= 3


def test_sample_study__has_no_fault_and_keeps_its_ratings(study: Study) -> None:
    assert [f for f in study.findings if f.severity == "fault"] == []
    assert (study.line.static_pressure_pa < study.line.rating_pa).all()
    assert study.flow is not None
    assert study.flow.aged.flowing_head_m.min() > 0.0


def test_sample_study__crosses_the_gill_on_a_span(study: Study) -> None:
    inside = study.line.pipe.in_span
    clearance = (study.line.pipe.pipe_m - study.line.pipe.ground_m)[inside]
    assert inside.any()
    assert clearance.max() > 3.0
    (span,) = study.line.pipe.spans
    assert 20 <= span.to_m - span.from_m <= 35


def test_sample_study__each_pipe_serves_a_part_of_the_line(study: Study) -> None:
    assert study.line.schedule is not None
    ratings = [run.pipe.rating_pa for run in study.line.schedule.runs]
    assert len(ratings) == 2
    assert ratings[0] < ratings[1]


def test_study__arcs_keep_to_the_trench_where_the_depth_leaves_room(
    study: Study, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two arcs would leave it. At 697 m the floor stands in the way of lowering the corner."""
    monkeypatch.setattr("routing.trench_study.EASINGS", 0)
    as_laid = run_study(study.terrain, read_route(PATHS.line), study.settings)
    made = [check_breaks(one.line) for one in (as_laid, study)]
    left = [[round(each.station_m) for each in one if each.outside_m > 0.02] for one in made]
    assert left == [[8, 592], []]
    wide = {round(each.station_m): each.plan_radius_m for each in made[1] if each.plan_radius_m}
    assert wide[697] == pytest.approx(2.0 * 34.0 * 0.2)  # twice the least radius of SDR 26
    dug = [one.line.pipe.excavation.volume_m3 for one in (as_laid, study)]
    assert dug[0] < dug[1] < dug[0] + 1.0
    assert study.line.pipe.summits.tolist() == as_laid.line.pipe.summits.tolist()
