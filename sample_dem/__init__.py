"""The demo: an invented valley, a line through it, and what is known about the pipe.

``sample_paths()`` gives the three files; ``make_terrain.py`` made the raster.
"""

from __future__ import annotations

from dataclasses import dataclass
from importlib.resources import as_file, files
from pathlib import Path

__all__ = ["SamplePaths", "sample_paths"]


@dataclass(frozen=True, slots=True, kw_only=True)
class SamplePaths:
    """Where the demo's files are: elevation raster, drawn line, settings."""

    terrain: Path
    line: Path
    settings: Path


def sample_paths() -> SamplePaths:
    """Return the demo's files; the package must be installed as files, not run from an archive."""
    folder = files(__name__)

    def path(name: str) -> Path:
        with as_file(folder / name) as found:
            return found

    return SamplePaths(
        terrain=path("otterfell.tif"),
        line=path("otterfell-line.geojson"),
        settings=path("otterfell.toml"),
    )
