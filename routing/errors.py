"""Everything that can stop a study, as one tree.

::

    LeatlineError
    ├── InputError              a value the user gave; also a ValueError
    │   ├── SettingsError       a settings file or one of its keys
    │   ├── QuantityError       text that should be a quantity with a unit
    │   ├── RouteError          the drawn line or the file it came in
    │   ├── PipeError           a pipe that is not in the catalogue or cannot exist
    │   └── StudyFileError      a saved study that cannot be read
    ├── TerrainError            the elevation raster
    │   ├── UnreadableRaster    no supported raster, or a damaged one
    │   ├── MissingCrs          nothing says where on Earth the raster lies
    │   ├── NotElevation        a picture, or values no ground can have
    │   ├── TerrainMismatch     tiles that do not share one grid
    │   └── RasterTooLarge      beyond a stated limit
    ├── ProfileError            the line and the raster together
    │   ├── OutsideTerrain      the line leaves the raster
    │   └── MissingElevation    no elevation on the line
    └── NoLine                  no line between two places keeps to what is asked

A message names the input, the value and the remedy, in words a landowner understands. Each class
carries ``code``, the short name under which the guide explains it; every error pickles.
"""

from __future__ import annotations

from typing import ClassVar

__all__ = [
    "InputError",
    "LeatlineError",
    "MissingCrs",
    "MissingElevation",
    "NoLine",
    "NotElevation",
    "OutsideTerrain",
    "PipeError",
    "ProfileError",
    "QuantityError",
    "RasterTooLarge",
    "RouteError",
    "SettingsError",
    "StudyFileError",
    "TerrainError",
    "TerrainMismatch",
    "UnreadableRaster",
]


class LeatlineError(Exception):
    """Something given cannot be used.

    Base of all errors that are the input's doing; its text is meant for the user. ``problem`` says
    what is wrong with which value, ``remedy`` what to do about it. ``station_m``, ``lon`` and
    ``lat`` name the place where there is one.
    """

    code: ClassVar[str] = "error"

    def __init__(
        self,
        problem: str,
        remedy: str,
        station_m: float | None = None,
        lon: float | None = None,
        lat: float | None = None,
    ) -> None:
        # Positional to super().__init__, so that pickling (which replays args) keeps every field.
        super().__init__(problem, remedy, station_m, lon, lat)
        self.problem = problem
        self.remedy = remedy
        self.station_m = station_m
        self.lon = lon
        self.lat = lat

    def __str__(self) -> str:
        return f"{self.problem} {self.remedy}".strip()

    @classmethod
    def kind(cls) -> str:
        """Return what is wrong whatever the values: the first line of the class's own text.

        >>> OutsideTerrain.kind()
        'The line leaves the raster.'
        """
        return (cls.__doc__ or "").partition("\n")[0]


class InputError(LeatlineError, ValueError):
    """A value that was given cannot be used."""

    code = "input"


class SettingsError(InputError):
    """A settings file, or a key in it, cannot be used."""

    code = "settings"


class QuantityError(InputError):
    """Text that should be a number with a unit is not."""

    code = "quantity"


class RouteError(InputError):
    """The drawn line, or the file that holds it, cannot be used."""

    code = "route"

    lines: tuple[str, ...] = ()
    """Names of the lines, where the error is that there are several to choose from."""


class PipeError(InputError):
    """A pipe is not in the catalogue, or its dimensions cannot be."""

    code = "pipe"


class StudyFileError(InputError):
    """A saved study cannot be read."""

    code = "study_file"


class TerrainError(LeatlineError):
    """The elevation raster cannot be used."""

    code = "terrain"


class UnreadableRaster(TerrainError):
    """The file is no raster of a supported format, or is damaged."""

    code = "unreadable_raster"


class MissingCrs(TerrainError):
    """Neither the raster nor the settings say where on Earth it lies."""

    code = "missing_crs"


class NotElevation(TerrainError):
    """The raster holds a picture, or values that no ground can have."""

    code = "not_elevation"


class TerrainMismatch(TerrainError):
    """Several tiles do not lie on one grid."""

    code = "terrain_mismatch"


class RasterTooLarge(TerrainError):
    """The raster is beyond a stated limit."""

    code = "raster_too_large"


class ProfileError(LeatlineError):
    """The line and the raster do not fit each other."""

    code = "profile"


class OutsideTerrain(ProfileError):
    """The line leaves the raster."""

    code = "outside_terrain"


class MissingElevation(ProfileError):
    """The raster has no elevation somewhere on the line."""

    code = "missing_elevation"


class NoLine(LeatlineError):
    """No line between the two places keeps to what is asked.

    Says what stands in the way.
    """

    code = "no_line"
