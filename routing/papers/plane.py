"""Places on paper: a plane of true lengths about the line, and the surveyor's coordinates."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import numpy as np
from pyproj import CRS, Geod, Transformer
from pyproj.exceptions import CRSError, ProjError

from routing.arrays import FloatArray
from routing.errors import InputError, StudyFileError
from routing.papers.document import Document, column, near_meridian, plain
from routing.units import UnitSystem
from routing.value import dataclass

__all__ = ["LocalPlane", "SurveySystem", "local_plane", "survey_system"]

Places = Callable[[Any, Any], tuple[FloatArray, FloatArray]]
MOST_STRETCH = 0.01
"""Share by which lengths of a system may differ from the ground's before it is not used [-]."""
FOOT_NAMES = {"foot": "foot", "US survey foot": "US survey foot"}


@dataclass(frozen=True, slots=True, kw_only=True)
class SurveySystem:
    """Coordinates that a surveyor sets out from."""

    name: str
    unit: str
    """"metre", "foot" or "US survey foot"."""
    metres_per_unit: float
    chosen: str
    """Where it comes from: "as asked", "the terrain's own" or "UTM zone of the line"."""
    forward: Places
    """Longitude and latitude (WGS 84) to easting and northing."""
    wkt: str
    """The system in full, as well-known text."""

    @property
    def suffix(self) -> str:
        """Return the unit as it stands in the name of a column."""
        return {"metre": "m", "foot": "ft", "US survey foot": "usft"}[self.unit]

    def unit_on(self, units: UnitSystem) -> str:
        """Return the unit in words, which on papers in feet may be another one."""
        return "metres, not feet" if units == "us" and self.unit == "metre" else self.unit


@dataclass(frozen=True, slots=True, kw_only=True)
class LocalPlane:
    """x east, y north [m] about the middle of the line, and back to longitude and latitude."""

    forward: Places
    inverse: Places


def local_plane(doc: Document) -> LocalPlane:
    """Return the plane on which the plan is drawn: lengths are true to a few parts in a million.

    A transverse Mercator projection of its own whose central line runs through the middle.
    """
    lon, lat = _positions(doc)
    middle = len(lon) // 2
    lon_0 = float(lon[middle])
    system = f"+proj=tmerc +lat_0={float(lat[middle])!r} +lon_0={lon_0!r} +k=1 +datum=WGS84"
    transform = Transformer.from_crs("EPSG:4326", CRS.from_user_input(system), always_xy=True)

    def place(east: Any, north: Any) -> tuple[FloatArray, FloatArray]:
        x, y = transform.transform(near_meridian(np.asarray(east, dtype=np.float64), lon_0), north)
        return np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)

    def back(x: Any, y: Any) -> tuple[FloatArray, FloatArray]:
        lon, lat = transform.transform(x, y, direction="INVERSE")
        return np.asarray(lon, dtype=np.float64), np.asarray(lat, dtype=np.float64)

    return LocalPlane(forward=place, inverse=back)


def survey_system(doc: Document, wanted: str | None = None) -> SurveySystem:
    """Return the coordinate system for setting out: the one asked for, else the terrain's own.

    A terrain in degrees, in a system whose lengths are wrong at the line (as in the projection of
    web maps) or without a name that is understood gives the UTM zone of the line's middle. Raises
    :class:`~routing.errors.InputError` when ``wanted`` is no projected system in metres or feet, or
    when its lengths are wrong at the line by more than a hundredth.
    """
    lon, lat = _positions(doc)
    if wanted is not None:
        system = _projected(wanted)
        survey = None if system is None else _survey(system, "as asked")
        if survey is None or not _true_lengths(survey, doc):
            raise InputError(
                f"The coordinate system {wanted!r} cannot be set out from here.",
                "Name a projected system in metres or feet made for this place, for example the "
                "UTM zone.",
            )
        return survey
    system = _projected(str((doc.get("terrain") or {}).get("crs") or ""))
    if system is not None:
        survey = _survey(system, "the terrain's own")
        if _true_lengths(survey, doc):
            return survey
    middle = len(lon) // 2
    zone = int((float(lon[middle]) + 180.0) % 360.0 // 6.0) + 1
    code = (32600 if float(lat[middle]) >= 0 else 32700) + zone
    return _survey(CRS.from_epsg(code), "UTM zone of the line")


def _projected(text: str) -> CRS | None:
    """Return a projected system with lengths a tape agrees with, or None."""
    if not text.strip():
        return None
    try:
        system = CRS.from_user_input(str(text))
        if system.is_compound:
            system = system.sub_crs_list[0]
    except (CRSError, ProjError):
        return None
    return system if system.is_projected and _unit(system) is not None else None


def _true_lengths(survey: SurveySystem, doc: Document) -> bool:
    """Return whether lengths in a system are those of the ground, at the ends of the line."""
    lon, lat = (column(doc, name)[[0, 0, -1, -1]] for name in ("lon", "lat"))
    # A short step to the north-east and one to the south-east at each end.
    far_lon, far_lat = lon + 1e-3, lat + np.array([1e-3, -1e-3, 1e-3, -1e-3])
    x0, y0 = survey.forward(lon, lat)
    x1, y1 = survey.forward(far_lon, far_lat)
    _, _, true = Geod(ellps="WGS84").inv(lon, lat, far_lon, far_lat)
    drawn = np.hypot(x1 - x0, y1 - y0) * survey.metres_per_unit
    return bool(np.all(np.abs(drawn - true) <= MOST_STRETCH * np.asarray(true)))


def _unit(system: CRS) -> tuple[str, float] | None:
    axis = system.axis_info[0]
    name = re.sub(r"\s+", " ", axis.unit_name)
    if name in ("metre", "meter"):
        return "metre", 1.0
    return (FOOT_NAMES[name], axis.unit_conversion_factor) if name in FOOT_NAMES else None


def _survey(system: CRS, chosen: str) -> SurveySystem:
    transform = Transformer.from_crs("EPSG:4326", system, always_xy=True)
    unit, metres = _unit(system) or ("metre", 1.0)
    authority = system.to_authority()
    name = plain(system.name)
    if authority is not None:
        name = f"{':'.join(authority)} ({name})"

    def place(lon: Any, lat: Any) -> tuple[FloatArray, FloatArray]:
        x, y = transform.transform(lon, lat)
        return np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)

    return SurveySystem(
        name=name,
        unit=unit,
        metres_per_unit=metres,
        chosen=chosen,
        forward=place,
        wkt=system.to_wkt(),
    )


def _positions(doc: Document) -> tuple[FloatArray, FloatArray]:
    """Return longitudes and latitudes of the stations; all must be there."""
    lon, lat = column(doc, "lon"), column(doc, "lat")
    if not (np.isfinite(lon).all() and np.isfinite(lat).all()):
        raise StudyFileError(
            "The study's stations have no positions.",
            "Run the study again and export the new file.",
        )
    return lon, lat
