"""What kinds of elevation data are good for: typical errors, and how errors are stated."""

from __future__ import annotations

import difflib
import re
from functools import cache
from typing import Literal

from routing.errors import InputError
from routing.trade_table import rows_of
from routing.value import dataclass

__all__ = ["LE90_FACTOR", "LE95_FACTOR", "SourceClass", "find_class", "source_classes"]

LE90_FACTOR = 1.6449
"""Linear error at 90 % over the standard error, of normal errors without bias [-]."""

LE95_FACTOR = 1.96
"""Linear error at 95 % over the root mean square error [-]; FGDC-STD-007.3-1998 (NSSDA)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SourceClass:
    """A kind of elevation data; ``surface`` when treetops and roofs are in it.

    ``rmse_m`` is the vertical error that studies of such data found [m]; it is no statement about
    one raster.
    """

    id: str
    label: str
    rmse_m: float
    surface: bool
    whole_metres: bool
    tokens: tuple[str, ...]
    source: str
    status: str


@cache
def source_classes() -> tuple[SourceClass, ...]:
    """Return the table of kinds of elevation data."""
    return rows_of(
        SourceClass,
        __file__,
        "accuracy.csv",
        surface=lambda row: row["surface"] == "surface",
        whole_metres=lambda row: row["whole_metres"] == "1",
        tokens=lambda row: tuple(row["tokens"].split(";")),
    )


def find_class(
    setting: str | None, about: str, driver: str
) -> tuple[SourceClass | None, Literal["setting", "file", "format"] | None]:
    """Return the kind of data and what says so: the settings, the file's tags or its format.

    >>> find_class(None, "Shuttle Radar Topography Mission, void filled", "GTiff")[0].id
    'srtm'
    """
    classes = source_classes()
    if setting is not None:
        for kind in classes:
            if kind.id == setting.strip().lower():
                return kind, "setting"
        known = [kind.id for kind in classes]
        near = difflib.get_close_matches(setting.lower(), known, n=1, cutoff=0.0)
        raise InputError(
            f"The source {setting!r} of the raster is not known.",
            f"The nearest known one is {near[0]}; all: {', '.join(known)}.",
        )
    if driver == "SRTMHGT":
        return next(kind for kind in classes if kind.id == "srtm"), "format"
    words = about.lower()
    for kind in classes:
        # A whole word: "mastery" is not "aster".
        if any(re.search(rf"(?<![a-z]){re.escape(token)}", words) for token in kind.tokens):
            return kind, "file"
    return None, None
