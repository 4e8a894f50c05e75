"""The ground along a line from raster and survey together."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence

from routing.finding import Finding
from routing.line import GroundProfile, Route, ground_profile
from routing.survey.blend import blend_survey
from routing.survey.judge import survey_findings
from routing.survey.place import PlacedSurvey, place_survey
from routing.survey.point import DEFAULT_FADE_M, SurveyPoint
from routing.terrain import GridWindow, Terrain

__all__ = ["surveyed_profile"]


def surveyed_profile(
    terrain: Terrain,
    route: Route,
    points: Sequence[SurveyPoint],
    *,
    fade_m: float = DEFAULT_FADE_M,
    vertical_datum: str | None = None,
    at_m: Sequence[float] = (),
    bridge_m: float | None = None,
    window: GridWindow | None = None,
) -> tuple[GroundProfile, PlacedSurvey | None]:
    """Return the ground along a line, corrected by a survey if there is one.

    The raster's profile is taken twice: once to find where the surveyed points stand, then with
    stations at these places and where their corrections fade out, so that it is exact there.
    """
    profile = ground_profile(terrain, route, at_m=at_m, bridge_m=bridge_m, window=window)
    if not points:
        return profile, None
    placed = place_survey(points, profile, terrain, fade_m=fade_m, window=window)
    breaks = placed.break_station_m
    breaks = breaks[(breaks >= 0.0) & (breaks <= profile.station_m[-1])]
    profile = ground_profile(
        terrain, route, at_m=[*at_m, *breaks.tolist()], bridge_m=bridge_m, window=window
    )
    profile = blend_survey(profile, placed)
    found = (
        *_datums(terrain.vertical_datum, vertical_datum),
        *survey_findings(placed, terrain.rmse_m),
    )
    return dataclasses.replace(profile, findings=(*profile.findings, *found)), placed


def _datums(ours: str | None, theirs: str | None) -> tuple[Finding, ...]:
    """Return the finding on two vertical datums that are stated and are not the same."""
    if ours is None or theirs is None or ours.casefold() == theirs.casefold():
        return ()
    return (
        Finding(
            code="survey_datum_mixed",
            severity="fault",
            message=f"The raster's heights are in {ours}, the survey's in {theirs}. Nothing was "
            "converted: bring both to one vertical datum, or correct vertical_datum.",
        ),
    )
