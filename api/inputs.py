"""What both faces do before a study: open its terrain the way its settings say."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from routing.settings import Settings
from routing.terrain import Terrain, open_terrain

__all__ = ["open_study_terrain"]


def open_study_terrain(paths: Sequence[Path], settings: Settings) -> Terrain:
    """Return the terrain in these files, read as the settings' [terrain] table says."""
    given = settings.terrain
    return open_terrain(
        paths,
        unit=given.unit,
        crs=given.crs,
        band=given.band,
        rmse_m=given.rmse,
        vertical_datum=given.vertical_datum,
        source=given.source,
    )
