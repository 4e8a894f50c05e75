"""[survey]: levels taken on the ground."""

from __future__ import annotations

import dataclasses
from collections.abc import Collection, Mapping
from typing import Any

from routing.errors import SettingsError
from routing.settings.line import CRS_GIVEN, HEIGHT_UNIT
from routing.settings.readers import Reader, quantity, text
from routing.settings.rows import row
from routing.survey import SurveyPoint, survey_from_geojson, survey_from_rows
from routing.value import dataclass

__all__ = ["SurveySettings"]


def _points(value: object, name: str) -> Any:
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


# Rows have the columns of a survey file under any of their names.
_POINTS = Reader(
    read=_points,
    schema={"anyOf": [{"type": "array", "items": {"type": "object"}}, {"type": "object"}]},
    takes="a file beside the settings file, rows, or a GeoJSON FeatureCollection",
    several=True,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveySettings:
    """[survey]: levels taken on the ground, and what must be said of them."""

    points: tuple[SurveyPoint, ...] = row(
        _POINTS,
        "levels taken on the ground, which override the raster; see [Survey](survey.md)",
        [{"station": "310 m", "elevation": "412.6 m"}],
        without="the raster alone",
    )
    fade: float = row(
        quantity("length", "0.1 m", "10 km"),
        "distance along the line over which the difference from the raster fades out",
        "40 m",
        "30 m",
        page=("Fades out over", ""),
    )
    unit: str | None = row(
        HEIGHT_UNIT,
        "unit of plain numbers in the survey",
        "ft",
        without="what the file says, else metres",
    )
    crs: str | None = row(
        CRS_GIVEN,
        "coordinate system of x and y",
        "EPSG:32633",
        without="a column `crs`",
        page=("Coordinate system", ""),
    )
    vertical_datum: str | None = row(
        text(),
        "what the survey's heights are measured from, in words",
        "local levelling",
        without="not known",
    )

    def consistent(self, name: str, given: Collection[str]) -> SurveySettings:
        """Return the settings with their points read."""
        raw: Any = self.points
        if isinstance(raw, Mapping):
            points = survey_from_geojson(raw, unit=self.unit, crs=self.crs)
        elif isinstance(raw, list):
            points = survey_from_rows(raw, unit=self.unit, crs=self.crs)
        else:
            points = raw
        return dataclasses.replace(self, points=points)
