"""What a terrain's facts leave in doubt, as findings."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

import numpy as np

from routing.finding import Finding
from routing.terrain.accuracy import LE95_FACTOR, SourceClass
from routing.terrain.raster import Raster

__all__ = ["band_notes", "crs_overridden", "terrain_notes"]

COARSE_CELL_M = 5.0
"""Cell from which a profile is called interpolated [m]; common practice, no source."""

COARSE_SHIFT_M = 5.0
"""Accuracy of a datum's tie to WGS 84 from which it is worth a note [m]."""


def crs_overridden(path: Path, own: str, given: str) -> Finding:
    """Return the warning that the settings' system was taken for the file's own."""
    return Finding(
        code="crs_overridden",
        severity="warning",
        message=f"“{path.name}” states its coordinate system as “{own}”; “{given}”, which the "
        "settings name, was used instead.",
    )


def band_notes(rasters: Sequence[Raster], *, said: bool) -> list[Finding]:
    """Return which of several bands was read, and the doubt of a band that looks like a picture."""
    found = []
    for raster in rasters:
        if len(raster.bands) > 1:
            named = ", ".join(
                f"{at} {name!r}" if name else str(at) for at, name in enumerate(raster.bands, 1)
            )
            asked = "as band under [terrain] says" if said else "which nobody said"
            found.append(
                Finding(
                    code="bands_several",
                    severity="note" if said else "warning",
                    message=f"Band {raster.band} of the {len(raster.bands)} bands of "
                    f"{raster.path.name} was read as elevations, {asked}. Its bands: {named}. Set "
                    "band under [terrain] to the one that holds the elevations.",
                )
            )
        if raster.dtype == "uint8" and (raster.scale, raster.offset) == (1.0, 0.0):
            found.append(
                Finding(
                    code="elevation_bytes",
                    severity="warning",
                    message=f"Band {raster.band} of {raster.path.name} holds whole numbers from 0 "
                    "to 255, as pictures and hillshades do: it may not be elevation. Compare the "
                    "level of a place that you know, or give another raster or band.",
                )
            )
    return found


def terrain_notes(
    tiles: Sequence[Raster],
    cell_m: float,
    datum: str | None,
    shift_m: float | None,
    kind: SourceClass | None,
) -> list[Finding]:
    """Return the notes on what a raster cannot promise."""
    notes = []
    if datum is None:
        notes.append(
            _note(
                "datum_unknown",
                "Nothing states the vertical datum of the raster: take the intake and the outlet "
                "from the same source, or name it as vertical_datum under [terrain].",
            )
        )
    if shift_m is None or shift_m > COARSE_SHIFT_M:
        known = "an unknown accuracy" if shift_m is None else f"about {shift_m:g} m"
        notes.append(
            _note(
                "datum_shift_coarse",
                f"The raster's horizontal datum is tied to WGS 84 only with {known}: the line may "
                "lie that far beside the ground meant.",
            )
        )
    if cell_m > COARSE_CELL_M:
        notes.append(
            _note(
                "coarse_terrain",
                f"The raster's cell of {cell_m:.3g} m is coarse for a trench: the profile is "
                "interpolated, and levels along the trench must be taken before laying.",
            )
        )
    if any(np.dtype(tile.dtype).kind in "iu" and tile.scale == 1.0 for tile in tiles):
        notes.append(
            _note(
                "stair_steps",
                "The raster holds whole units only, so gentle ground shows as flats and steps "
                "that may not be there.",
            )
        )
    if kind is not None:
        notes += _kind_notes(kind)
    return notes


def _kind_notes(kind: SourceClass) -> list[Finding]:
    """Return what is known of a kind of elevation data."""
    notes = [
        _note(
            "accuracy_typical",
            f"Elevations are {kind.label}: in studies such data had a vertical error of about "
            f"{kind.rmse_m:g} m (root mean square; {LE95_FACTOR * kind.rmse_m:.2g} m at 95 %). "
            "State this raster's own error as rmse under [terrain] to have summits judged by it.",
        )
    ]
    if kind.surface:
        notes.append(
            Finding(
                code="surface_model",
                severity="warning",
                message=f"Elevations are {kind.label}, which holds treetops and roofs: steps of 5 "
                "to 20 m at the edges of woods are not ground, and false highs may show there.",
            )
        )
    return notes


def _note(code: str, message: str) -> Finding:
    return Finding(code=code, severity="note", message=message)
