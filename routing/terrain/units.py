"""The vertical unit of a raster: what states it, and how many metres it is."""

from __future__ import annotations

from pathlib import Path
from typing import Literal

from routing.errors import NotElevation
from routing.finding import Finding
from routing.terrain.sources import shown
from routing.units import FOOT, US_SURVEY_FOOT
from routing.value import dataclass

__all__ = ["UnitSource", "VerticalUnit", "decide_unit", "unit_of_factor", "unit_of_word"]

UnitSource = Literal["band unit tag", "compound CRS", "setting", "format", "assumed"]

METRES_PER_UNIT = {"metre": 1.0, "foot": FOOT, "US survey foot": US_SURVEY_FOOT}
"""Metres in each vertical unit; exact by definition (metre 1799/1960, foot 1959, US foot 1893)."""

_WORDS = {
    "metre": "m metre metres meter meters mtr",
    "foot": "ft foot feet ' international_foot international_feet foot_international "
    "feet_international ft_intl intl_ft foot_intl",
    "US survey foot": "us_survey_foot us_survey_feet survey_foot survey_feet us_foot us_feet "
    "us_ft ftus ft_us foot_us feet_us foot_us_survey us_survey_ft ussft sft",
}
_UNIT_OF = {word: unit for unit, words in _WORDS.items() for word in words.split()}


@dataclass(frozen=True, slots=True, kw_only=True)
class VerticalUnit:
    """A vertical unit and what states it."""

    name: str
    source: UnitSource
    findings: tuple[Finding, ...] = ()

    @property
    def metres(self) -> float:
        """Metres in one unit."""
        return METRES_PER_UNIT[self.name]


def unit_of_word(word: str) -> str | None:
    """Return the unit that a tag or a setting names, None when it names none that is known.

    >>> unit_of_word("US survey foot"), unit_of_word("Meters"), unit_of_word("furlong")
    ('US survey foot', 'metre', None)
    """
    key = word.strip().strip(".").lower()
    for mark in ("(", ")", "[", "]", ".", "-", "_", "/"):
        key = key.replace(mark, " ")
    return _UNIT_OF.get("_".join(key.split()))


def unit_of_factor(metres: float) -> str | None:
    """Return the unit that is ``metres`` long, None when it is none that is known."""
    for name, length in METRES_PER_UNIT.items():
        if abs(metres - length) < 2e-8:
            return name
    return None


def decide_unit(
    path: Path,
    *,
    setting: str | None,
    tag: str | None,
    crs_metres: float | None,
    stated_by_format: bool,
    map_metres: float | None = None,
) -> VerticalUnit:
    """Return the vertical unit: setting, else band tag, else compound CRS, else metres assumed.

    ``map_metres`` is the length of the map's unit: where that is a foot, metres are doubtful.
    """
    from_file = _unit_in_file(path, tag, crs_metres, stated_by_format, lenient=setting is not None)
    if setting is not None:
        name = unit_of_word(setting)
        if name is None:
            raise NotElevation(
                f"The vertical unit {setting!r} of the settings is not known.",
                'Use "m", "ft" or "US survey foot".',
            )
        overridden = from_file is not None and from_file.name != name
        finding = Finding(
            code="unit_overridden",
            severity="warning",
            message=f"The raster states its elevations in {from_file.name if from_file else ''}; "
            f"the settings' unit, {name}, was used instead.",
        )
        return VerticalUnit(name=name, source="setting", findings=(finding,) * overridden)
    if from_file is not None:
        return from_file
    map_unit = None if map_metres is None else unit_of_factor(map_metres)
    if map_unit not in (None, "metre"):
        doubt = Finding(
            code="unit_doubtful",
            severity="warning",
            message=f"Nothing in “{path.name}” states the unit of its elevations and metres were "
            f"assumed, but the map itself is in units of one {map_unit}: the elevations may be "
            "feet too, and every head and pressure then be 3.28 times too high. State unit under "
            '[terrain]: "m", "ft" or "US survey foot".',
        )
        return VerticalUnit(name="metre", source="assumed", findings=(doubt,))
    assumed = Finding(
        code="unit_assumed",
        severity="note",
        message=f"Nothing in “{path.name}” states the unit of its elevations; metres were assumed. "
        'If they are feet, set unit = "ft" or "US survey foot" under [terrain].',
    )
    return VerticalUnit(name="metre", source="assumed", findings=(assumed,))


def _unit_in_file(
    path: Path, tag: str | None, crs_metres: float | None, stated_by_format: bool, *, lenient: bool
) -> VerticalUnit | None:
    """Return the unit the file itself states; one that is not known stops, unless overridden."""
    remedy = 'State the unit under [terrain]: unit = "m", "ft" or "US survey foot".'
    if tag is not None and tag.strip():
        name = unit_of_word(tag)
        if name is not None:
            return VerticalUnit(name=name, source="format" if stated_by_format else "band unit tag")
        if not lenient:
            raise NotElevation(f"The band of {shown(path)} states the unit {tag[:60]!r}.", remedy)
    elif crs_metres is not None:
        name = unit_of_factor(crs_metres)
        if name is not None:
            return VerticalUnit(name=name, source="compound CRS")
        if not lenient:
            raise NotElevation(
                f"The vertical axis of {shown(path)} has a unit of {crs_metres:g} m.", remedy
            )
    return None
