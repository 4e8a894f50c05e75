"""How sure a study says its line is."""

from __future__ import annotations

import numpy as np
import pytest
from pyproj import Transformer

from routing.doubt import limits
from routing.line import Route
from routing.papers.study_facts import summary_facts
from routing.record import study_document
from routing.settings import settings_from_mapping
from routing.study import open_study_terrain, run_study

BACK = Transformer.from_crs("EPSG:32633", "EPSG:4326", always_xy=True)
CELL = 10.0


@pytest.fixture
def study(make_raster):
    """A slope of 3 % to the east with waves of 2.4 m, and a study along it."""

    def run(*, whole=False, preview=False, **tables):
        x = np.arange(160) * CELL + CELL / 2
        height = 500 - 0.03 * x + 2.4 * np.sin(x / 45.0)
        grid = np.tile(np.round(height) if whole else height, (60, 1))
        path = make_raster(grid, cell=CELL, unit="metre")
        settings = settings_from_mapping(tables)
        terrain = open_study_terrain([path], settings)
        at = [(500_050, 5_199_700), (501_500, 5_199_700)]
        lon, lat = BACK.transform(*np.array(at, dtype=float).T)
        line = Route(name="waves", lon=lon, lat=lat)
        return study_document(run_study(terrain, line, settings, pressures=not preview))

    return run


def turns(doc):
    return [
        each
        for each in doc["vents"] + doc["drains"]
        if each["rule"] in ("summit", "sag", "bridge top", "crossing")
    ]


def test_doubt__nothing_known_nothing_said(study):
    doc = study()
    assert doc["doubt"]["source"] == "none"
    assert turns(doc)
    assert {each["probability"] for each in turns(doc)} == {None}
    assert {each["need"] for each in turns(doc)} == {"must"}
    assert doc["levels_to_shoot"] == []
    assert doc["doubt"]["settled"] == []
    assert doc["summary"]["gross_head_sd_m"] is None
    assert doc["summary"]["expected_vents"] is None


def test_doubt__a_stated_error_gives_probabilities_and_needs(study):
    doc = study(terrain={"rmse": "1.5 m", "error_range": "40 m"})
    assert doc["doubt"]["source"] == "stated"
    assert doc["doubt"]["range_m"] == 40.0
    for each in turns(doc):
        assert 0.0 <= each["probability"] <= 1.0
        assert each["need"] == ("must" if each["probability"] >= 0.8 else "level")
    others = [each for each in doc["vents"] if each not in turns(doc)]
    assert all(each["need"] != "level" for each in others)
    expected = doc["summary"]["expected_vents"]
    assert expected["mean"] > 0.0
    assert expected["sd"] >= 0.0
    depths = [step["summits"] for step in doc["doubt"]["depths"]]
    assert depths[0] == sum(each["rule"] == "summit" for each in doc["vents"])
    assert depths == sorted(depths, reverse=True)


def test_doubt__depths_tell_what_is_dug_and_what_that_costs(study):
    known = {"terrain": {"rmse": "0.5 m"}, "prices": {"trench_per_m3": 30.0, "currency": "crowns"}}
    doc = study(trench={"max_depth": "1.3 m"}, **known)
    first, *deeper = doc["doubt"]["depths"]
    assert first["extra_volume_m3"] == first["price"] == 0.0
    saving = [each for each in deeper if each["summits"] < first["summits"]]
    assert saving
    # The same line with that limit, laid as for the plan, digs and saves what was said.
    best = saving[0]
    plan, deep = (
        study(trench={"max_depth": f"{each['max_depth_m']} m"}, preview=True, **known)
        for each in (first, best)
    )
    more = deep["summary"]["trench_volume_m3"] - plan["summary"]["trench_volume_m3"]
    assert best["extra_volume_m3"] == pytest.approx(more, abs=2e-4)
    assert best["price"] == pytest.approx(30.0 * more, abs=0.02)
    said = dict(summary_facts(doc))["Deeper trench"]
    assert " deeper saves " in said
    assert "\u00a0crowns)" in said
    assert study(terrain={"rmse": "0.5 m"})["doubt"]["depths"][0]["price"] is None


def test_doubt__figures_say_how_far_they_may_be_off(study):
    doc = study(terrain={"rmse": "0.5 m"})
    facts, sd = dict(summary_facts(doc)), doc["summary"]["gross_head_sd_m"]
    # The 95th percentile of the normal distribution lies 1.645 standard errors above the mean.
    assert facts["Gross head"].endswith(f"± {1.645 * sd:.1f} m with 90 %")
    assert facts["Static pressure at outlet"].endswith(f"± {9.80 * 1.645 * sd:.0f} kPa with 90 %")
    assert doc["summary"]["gross_head_off_m"] == pytest.approx(1.645 * sd, rel=1e-3)
    bare = dict(summary_facts(study()))
    assert "±" not in bare["Gross head"] + bare["Static pressure at outlet"]
    assert "Summits to expect" not in bare


def test_class_check__uses_the_head_that_is_exceeded_with_5_percent(study):
    pipe = [{"catalogue": "PE100-SDR26-200"}]
    tables = {"terrain": {"rmse": "0.5 m"}, "pipe": pipe}
    doc = study(**tables)
    (check,) = (each for each in doc["checks"] if each["subject"].startswith("pressure at rest, w"))
    assert "5 %" in check["rule"]
    assert limits().exceeded_chance == 0.05, "the words of the rules say so"
    plain = max(doc["stations"]["static_pressure_kpa"])
    sd = doc["summary"]["gross_head_sd_m"]
    assert check["demand"] == pytest.approx(plain + 9.80 * 1.645 * sd, rel=2e-3)
    own = study(intake={"level": "501 m"}, **tables)
    (known,) = (each for each in own["checks"] if each["subject"] == check["subject"])
    # One end levelled: half the variance is left.
    extra = 9.80 * 1.645 * sd / np.sqrt(2.0)
    highest = max(own["stations"]["static_pressure_kpa"])
    assert known["demand"] == pytest.approx(highest + extra, rel=2e-3)
    bare = study(pipe=pipe)["checks"]
    assert not [each for each in bare if "error of the elevations" in each["subject"]]


def test_doubt__head_is_as_sure_as_its_ends(study):
    terrain = {"rmse": "0.2 m"}
    both = study(terrain=terrain)["summary"]["gross_head_sd_m"]
    local = study(terrain=terrain)["doubt"]["local_sigma_m"]
    assert both == pytest.approx(np.sqrt(2.0) * local, abs=3e-4)
    one = study(terrain=terrain, intake={"level": "501 m"})["summary"]["gross_head_sd_m"]
    assert one == pytest.approx(both / np.sqrt(2.0), abs=2e-4)
    none = study(terrain=terrain, intake={"level": "501 m"}, outlet={"level": "450 m"})
    assert none["summary"]["gross_head_sd_m"] == 0.0


def test_doubt__a_smooth_raster_has_no_large_local_error(study):
    doc = study(terrain={"rmse": "5 m", "error_range": "40 m"})["doubt"]
    assert doc["lowered_from_m"] == 5.0
    assert doc["local_sigma_m"] < 1.0


def test_doubt__whole_metres_are_recognised(study):
    doc = study(whole=True)
    assert doc["doubt"]["source"] == "step"
    assert doc["doubt"]["step_m"] == 1.0
    assert all(each["probability"] is not None for each in turns(doc))


def test_doubt__levels_make_a_summit_certain(study):
    terrain = {"rmse": "1.5 m"}
    before = study(terrain=terrain)
    summit = next(each for each in before["vents"] if each["rule"] == "summit")
    sags = [each["serves_m"] for each in before["drains"] if each["rule"] == "sag"]
    low = max((at for at in sags if at < summit["serves_m"]), default=0.0)
    high = min(at for at in sags if at > summit["serves_m"])
    column = before["stations"]
    rows = [
        {
            "station": f"{at} m",
            "elevation": f"{np.interp(at, column['station_m'], column['ground_m']):.3f} m",
        }
        for at in (low, summit["serves_m"], high)
    ]
    after = study(terrain=terrain, survey={"points": rows})
    same = next(v for v in after["vents"] if abs(v["serves_m"] - summit["serves_m"]) < 5.0)
    assert same["probability"] == 1.0
    assert same["need"] == "must"
    assert before["doubt"]["settled"] == []


@pytest.mark.parametrize("waves", [True, False])
def test_doubt__levels_settle_what_whole_metres_left_open(study, waves):
    """Levels every 10 m of the waves themselves, or of a straight slope without any summit."""
    x = np.arange(0, 1500, 10) + 50.0
    ground = 500.0 - 0.03 * x + (2.4 * np.sin(x / 45.0) if waves else 0.0)
    rows = [
        {"station": f"{at - 50.0} m", "elevation": f"{level:.3f} m"}
        for at, level in zip(x.tolist(), ground.tolist(), strict=True)
    ]
    # The summits stand 2 x 2.4 sin 0.973 - 0.03 x 45 x 1.946 = 1.34 m above the sags beside them
    # (cos 0.973 = 0.03 x 45 / 2.4), more than the play of this trench: no pipe avoids them.
    doc = study(whole=True, survey={"points": rows}, trench={"max_depth": "2.2 m"})
    settled = doc["doubt"]["settled"]
    assert settled
    assert all(each["before"] < limits().doubtful_below for each in settled)
    assert {each["there"] for each in settled} == {waves}
    assert all((each["id"] is not None) == waves for each in settled)
    (note,) = (each for each in doc["warnings"] if each["code"] == "levels_settled")
    many = len(settled)
    assert note["severity"] == "note"
    assert f"settled {many} of {many} doubtful" in note["message"]


def test_doubt__a_dragged_line_has_rough_values(study):
    doc = study(preview=True, terrain={"rmse": "1.5 m"})
    assert doc["doubt"]["rough"]
    assert all(0.5 <= each["probability"] <= 1.0 for each in turns(doc))
    assert not study(terrain={"rmse": "1.5 m"})["doubt"]["rough"]
