"""Surveyed points: levels taken on the ground, which override the raster near the line."""

from __future__ import annotations

from routing.survey.blend import blend_survey
from routing.survey.judge import disagreeing, survey_findings
from routing.survey.place import PlacedSurvey, place_survey
from routing.survey.point import DEFAULT_ACCURACY_M, DEFAULT_FADE_M, SurveyPoint
from routing.survey.profile import surveyed_profile
from routing.survey.read import read_survey, survey_from_geojson, survey_from_rows

__all__ = [
    "DEFAULT_ACCURACY_M",
    "DEFAULT_FADE_M",
    "PlacedSurvey",
    "SurveyPoint",
    "blend_survey",
    "disagreeing",
    "place_survey",
    "read_survey",
    "survey_findings",
    "survey_from_geojson",
    "survey_from_rows",
    "surveyed_profile",
]
