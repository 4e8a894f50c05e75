"""[survey]: the points, and what must be said of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from routing.errors import InputError, SettingsError
from routing.survey.point import DEFAULT_FADE_M, SurveyPoint
from routing.survey.read import read_survey, survey_from_geojson, survey_from_rows

__all__ = ["SurveySettings", "raw_points", "with_points", "with_survey"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveySettings:
    """[survey]: points, their unit and system, the distance over which they fade [m]."""

    points: tuple[SurveyPoint, ...] = ()
    fade: float = DEFAULT_FADE_M
    unit: str | None = None
    crs: str | None = None
    vertical_datum: str | None = None


def raw_points(value: object, name: str) -> Any:
    """Return points as rows or as GeoJSON, still to be read; a file's name is refused here."""
    if isinstance(value, list | Mapping):
        return value
    if isinstance(value, str):
        raise SettingsError(
            f"{name} = {value[:80]!r} names a file, which only a settings file may.",
            "Give the points in place: a list of rows, or a GeoJSON FeatureCollection.",
        )
    raise SettingsError(
        f"{name} = {value!r} are no points.",
        'Give a file, such as "levels.csv", a list of rows, or a GeoJSON FeatureCollection.',
    )


def with_points(survey: SurveySettings) -> SurveySettings:
    """Return the settings with the points that :func:`raw_points` let through read."""
    raw: Any = survey.points
    if isinstance(raw, Mapping):
        points = survey_from_geojson(raw, unit=survey.unit, crs=survey.crs)
    elif isinstance(raw, list):
        points = survey_from_rows(raw, unit=survey.unit, crs=survey.crs)
    else:
        points = tuple(raw)
    return dataclasses.replace(survey, points=points)


def with_survey(tables: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return settings tables with a file named in ``survey.points`` read in its place, as rows.

    The settings then hold the whole survey, in metres and degrees, and need no file any more. The
    file is sought beside the settings file.
    """
    survey = tables.get("survey")
    named = survey.get("points") if isinstance(survey, Mapping) else None
    if not isinstance(survey, Mapping) or not isinstance(named, str):
        return dict(tables)
    unit, crs = survey.get("unit"), survey.get("crs")
    for key, value in (("unit", unit), ("crs", crs)):
        if value is not None and not isinstance(value, str):
            raise SettingsError(f"survey.{key} = {value!r} is no text.", "Write it in quotes.")
    try:
        points = read_survey(folder / named, unit=unit, crs=crs)
    except InputError as error:
        raise SettingsError(f"survey.points: {error.problem}", error.remedy) from error
    kept = {key: value for key, value in survey.items() if key not in ("unit", "crs")}
    return {**tables, "survey": {**kept, "points": [_row(point) for point in points]}}


def _row(point: SurveyPoint) -> dict[str, Any]:
    """Return a point as a row of the settings."""
    row: dict[str, Any] = {"elevation": f"{point.elevation_m!r} m"}
    if point.name:
        row["name"] = point.name
    if point.station_m is not None:
        row |= {"station": f"{point.station_m!r} m", "offset": f"{point.offset_m!r} m"}
    elif point.lon is not None:
        row |= {"lon": point.lon, "lat": point.lat}
    if point.accuracy_m is not None:
        row["accuracy"] = f"{point.accuracy_m!r} m"
    return row
