"""Survey and line settings through the whole study, to its document."""

from __future__ import annotations

import pickle
from pathlib import Path

import jsonschema
import numpy as np
import orjson
import pytest
from plane_hill import ground_at, place

from routing.document import study_schema
from routing.errors import SettingsError
from routing.line import Route
from routing.record import study_document, to_json
from routing.settings import read_settings, settings_from_mapping
from routing.study import Study, run_study
from routing.terrain import Terrain

ROWS = [
    {"name": "intake", "station": "0 m", "elevation": "395.8 m"},
    {"name": "peg", "station": "200 m", "elevation": "377.0 m", "accuracy": "2 cm"},
    {"name": "Outlet", "elevation": "344.1 m"},
]


def run(hill: Terrain, line: Route, **tables: object) -> Study:
    return run_study(hill, line, settings_from_mapping(tables))


def codes(study: Study) -> list[str]:
    return [found.code for found in study.findings]


def test_run_study__survey_gives_ground_and_levels(hill: Terrain, line: Route) -> None:
    study = run(hill, line, survey={"points": ROWS, "fade": "25 m"})
    ground = np.interp([0.0, 200.0], study.profile.station_m, study.profile.ground_m)
    assert ground == pytest.approx([395.8, 377.0], abs=1e-8)
    assert study.profile.ground_m[-1] == pytest.approx(344.1, abs=1e-8)
    assert (study.line.levels.intake_m, study.line.levels.outlet_m) == (395.8, 344.1)
    assert codes(study).count("survey_disagrees") == 1  # the peg, 2 m above; the ends agree
    assert any(
        "25 m" in text and "Surveyed" in text for text in study_document(study)["assumptions"]
    )


def test_run_study__own_level_outweighs_the_survey(hill: Terrain, line: Route) -> None:
    study = run(hill, line, survey={"points": ROWS}, intake={"level": "396.5 m"})
    assert study.line.levels.intake_m == 396.5
    assert "survey_level_unused" in codes(study)


def test_run_study__height_above_a_surveyed_end(hill: Terrain, line: Route) -> None:
    study = run(
        hill,
        line,
        survey={"points": ROWS},
        intake={"level_above_ground": "0.4 m"},
        outlet={"level_above_ground": "0.5 m"},
    )
    assert study.line.levels.intake_m == pytest.approx(396.2)
    assert study.line.levels.outlet_m == pytest.approx(344.6)


def test_run_study__two_datums_are_a_fault(hill: Terrain, line: Route) -> None:
    from dataclasses import replace

    named = replace(hill, vertical_datum="Skarn datum 1950")
    study = run(named, line, survey={"points": ROWS, "vertical_datum": "ellipsoid"})
    (found,) = [f for f in study.findings if f.code == "survey_datum_mixed"]
    assert found.severity == "fault"
    same = run(named, line, survey={"points": ROWS, "vertical_datum": "skarn datum 1950"})
    assert "survey_datum_mixed" not in codes(same)


def test_study_document__lists_every_point(hill: Terrain, line: Route) -> None:
    document = orjson.loads(to_json(study_document(run(hill, line, survey={"points": ROWS}))))
    schema = study_schema()
    survey = {**schema, **schema["properties"]["survey"]}
    jsonschema.Draft202012Validator(survey).validate(document["survey"])
    peg = document["survey"]["points"][1]
    assert (peg["name"], peg["station_m"], peg["survey_m"]) == ("peg", 200.0, 377.0)
    # 200 m on the ellipsoid are 199.92 m on the map (scale 0.9996 at the central meridian).
    raster = ground_at(50.0 + 200.0 * 0.9996)
    assert peg["raster_m"] == pytest.approx(raster, abs=1e-3)
    assert peg["difference_m"] == pytest.approx(377.0 - raster, abs=1e-3)
    assert (peg["accuracy_m"], peg["use"], peg["disagrees"]) == (0.02, "on the line", True)
    assert orjson.loads(to_json(study_document(run(hill, line))))["survey"] is None


def test_read_settings__survey_file_beside_the_settings(
    tmp_path: Path, hill: Terrain, line: Route
) -> None:
    (tmp_path / "levels.csv").write_text("station,elevation,name\n200,1236.88,peg\n")
    path = tmp_path / "line.toml"
    path.write_text('[survey]\npoints = "levels.csv"\nunit = "ft"\nfade = "20 m"\n')
    settings = read_settings(path)
    (point,) = settings.survey.points
    assert point.elevation_m == pytest.approx(1236.88 * 0.3048)
    assert point.station_m == pytest.approx(200 * 0.3048)
    # What the study keeps of its settings needs no file any more.
    again = settings_from_mapping(orjson.loads(orjson.dumps(dict(settings.given))))
    assert again.survey.points[0].elevation_m == point.elevation_m
    assert pickle.loads(pickle.dumps(settings)).survey.points[0].station_m == point.station_m
    assert run_study(hill, line, settings).survey is not None


@pytest.mark.parametrize(
    ("survey", "words"),
    [
        ({"points": "/etc/passwd"}, "names a file"),
        ({"points": 7}, "are no points"),
        ({"points": []}, "no surveyed point"),
        ({"points": [{"station": "5 m"}]}, r"survey\.points\[0\] has no elevation"),
        ({"points": {"type": "Point"}}, "FeatureCollection"),
        ({"points": ROWS, "fade": "0 m"}, r"survey\.fade"),
        ({"points": ROWS, "unit": "inch"}, r"survey\.unit"),
        ({"pionts": ROWS}, "points"),
    ],
)
def test_settings_from_mapping__bad_survey_is_named(survey: dict[str, object], words: str) -> None:
    with pytest.raises(ValueError, match=words):
        settings_from_mapping({"survey": survey})


def test_read_settings__missing_survey_file_is_named(tmp_path: Path) -> None:
    path = tmp_path / "line.toml"
    path.write_text('[survey]\npoints = "levels.csv"\n')
    with pytest.raises(SettingsError, match=r"survey\.points.*levels\.csv"):
        read_settings(path)


def test_run_study__drawn_uphill_is_told_and_reversed(hill: Terrain, line: Route) -> None:
    up = line.reversed()
    told = run(hill, up)
    assert {"line_drawn_uphill", "uphill"} <= set(codes(told))
    (found,) = [f for f in told.findings if f.code == "line_drawn_uphill"]
    assert "reverse = true" in found.message
    turned = run(hill, up, study={"reverse": True})
    assert "line_reversed" in codes(turned)
    assert not {"line_drawn_uphill", "uphill"} & set(codes(turned))
    right = run(hill, line)
    assert np.array_equal(turned.profile.ground_m, right.profile.ground_m)
    assert turned.line.gross_head_m == right.line.gross_head_m


def noisy(line: Route, *, recorded: bool) -> Route:
    """Return the line with a jump of 150 m in the middle of a dense walk."""
    share = np.linspace(0.0, 1.0, 251)
    lon = np.interp(share, [0, 1], [line.lon[0], line.lon[-1]])
    lat = np.interp(share, [0, 1], [line.lat[0], line.lat[-1]])
    lat[100] += 140.0 / 111_195.0
    return Route(name="walk", lon=lon, lat=lat, recorded=recorded)


def test_run_study__only_recorded_lines_are_cleaned_unasked(hill: Terrain, line: Route) -> None:
    straight = run(hill, line).profile.station_m[-1]
    walked = run(hill, noisy(line, recorded=True))
    assert "track_cleaned" in codes(walked)
    assert walked.profile.station_m[-1] == pytest.approx(straight, abs=0.5)
    kept = run(hill, noisy(line, recorded=True), study={"clean": False})
    assert not {"track_cleaned", "line_looks_walked"} & set(codes(kept))
    assert kept.profile.station_m[-1] > straight + 250.0
    drawn = run(hill, noisy(line, recorded=False))
    assert "line_looks_walked" in codes(drawn)
    assert drawn.profile.station_m[-1] > straight + 250.0
    asked = run(hill, noisy(line, recorded=False), study={"clean": True})
    assert "track_cleaned" in codes(asked)


def test_run_study__line_that_crosses_itself_is_noted(hill: Terrain) -> None:
    places = [place(x, y) for x, y in ((50, 150), (300, 150), (300, 200), (200, 200), (200, 100))]
    lon, lat = zip(*places, strict=True)
    study = run(hill, Route(name="loop", lon=list(lon), lat=list(lat)))
    (found,) = [f for f in study.findings if f.code == "line_crosses_itself"]
    assert found.severity == "note"
    assert found.station_m == pytest.approx(150.0 / 0.9996, abs=0.05)
