"""What a survey says of the raster, and what it says of itself."""

from __future__ import annotations

import numpy as np
import pytest

from routing.line import Route, ground_profile
from routing.survey import PlacedSurvey, SurveyPoint, place_survey, survey_findings
from routing.survey.judge import disagreeing
from routing.terrain import Terrain


def placed(hill: Terrain, line: Route, levels: dict[float, float], **more: float) -> PlacedSurvey:
    """Return a survey whose levels are those of the raster changed by a function of its own."""
    profile = ground_profile(hill, line)
    points = [
        SurveyPoint(label=f"row {at}", station_m=station, elevation_m=level, **more)
        for at, (station, level) in enumerate(levels.items())
    ]
    return place_survey(points, profile, hill, fade_m=30.0)


def raster(hill: Terrain, line: Route, station: float) -> float:
    profile = ground_profile(hill, line)
    return float(np.interp(station, profile.station_m, profile.ground_m))


STATIONS = (50.0, 150.0, 250.0, 350.0)


def test_disagreeing__limit_is_of_both_errors(hill: Terrain, line: Route) -> None:
    # 1.96 sqrt(0.4^2 + 0.3^2) = 0.98 m
    levels = {
        s: raster(hill, line, s) + d
        for s, d in zip(STATIONS, (0.97, 0.99, -0.97, -0.99), strict=True)
    }
    wrong, allowed = disagreeing(placed(hill, line, levels, accuracy_m=0.3), 0.4)
    assert allowed == pytest.approx(0.98)
    assert wrong.tolist() == [False, True, False, True]


def test_survey_findings__point_by_point(hill: Terrain, line: Route) -> None:
    levels = {
        s: raster(hill, line, s) + d for s, d in zip(STATIONS, (0.0, 3.0, 0.1, -4.0), strict=True)
    }
    found = survey_findings(placed(hill, line, levels), 0.5)
    assert [(f.code, f.severity, round(f.station_m or 0)) for f in found] == [
        ("survey_disagrees", "warning", 150),
        ("survey_disagrees", "warning", 350),
    ]
    assert "3.00 m above" in found[0].message
    assert "4.00 m below" in found[1].message


def test_survey_findings__agreement_is_silent(hill: Terrain, line: Route) -> None:
    levels = {s: raster(hill, line, s) + 0.3 for s in STATIONS}
    assert survey_findings(placed(hill, line, levels), 0.5) == ()


@pytest.mark.parametrize("offset", [47.3, -31.0, 2.5])
def test_survey_findings__another_datum(hill: Terrain, line: Route, offset: float) -> None:
    noise = (0.1, -0.2, 0.0, 0.15)
    levels = {s: raster(hill, line, s) + offset + n for s, n in zip(STATIONS, noise, strict=True)}
    (found,) = survey_findings(placed(hill, line, levels), 0.5)
    assert (found.code, found.severity) == ("survey_offset_alike", "fault")
    assert f"{abs(offset + 0.05):.2f} m" in found.message
    assert "datum" in found.message


@pytest.mark.parametrize(("ratio", "word"), [(1 / 0.3048, "[survey]"), (0.3048, "[terrain]")])
def test_survey_findings__feet_for_metres(
    hill: Terrain, line: Route, ratio: float, word: str
) -> None:
    levels = {
        s: raster(hill, line, s) * ratio + n
        for s, n in zip(STATIONS, (0.1, -0.1, 0.2, 0), strict=True)
    }
    (found,) = survey_findings(placed(hill, line, levels), 0.5)
    assert found.code == "survey_offset_alike"
    assert "feet" in found.message
    assert f'unit = "ft" under {word}' in found.message


def test_survey_findings__unused_and_repeated(hill: Terrain, line: Route) -> None:
    profile = ground_profile(hill, line)
    base = raster(hill, line, 100.0)
    points = [
        SurveyPoint(label="a", station_m=100.0, elevation_m=base),
        SurveyPoint(label="b", station_m=100.0, elevation_m=base + 0.1),
        SurveyPoint(label="c", name="far", station_m=100.0, offset_m=80.0, elevation_m=base),
        SurveyPoint(label="d", name="past", station_m=5000.0, elevation_m=340.0),
    ]
    found = survey_findings(place_survey(points, profile, hill, fade_m=30.0), 25.0)
    assert [f.code for f in found] == [
        "survey_point_unused",
        "survey_point_unused",
        "survey_repeated",
    ]
    assert "far" in found[0].message
    assert "past" in found[1].message


def test_survey_findings__many_points_do_not_drown_the_rest(hill: Terrain, line: Route) -> None:
    profile = ground_profile(hill, line)
    levels = {
        float(s): float(np.interp(s, profile.station_m, profile.ground_m)) + 9.0 * (-1) ** s
        for s in range(400)
    }
    found = survey_findings(placed(hill, line, levels), 0.5)
    assert len(found) == 51
    assert "350 further" in found[-1].message
