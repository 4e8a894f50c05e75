"""The pages: own modules, styles and the third-party files that the build installed."""

from __future__ import annotations

from pathlib import Path

__all__ = ["asset"]

HERE = Path(__file__).resolve().parent


def asset(name: str) -> Path:
    """Return the installed file ``name`` of a front-end package, as ``leaflet/dist/leaflet.js``."""
    path = HERE / "node_modules" / name
    if not path.is_file():
        raise FileNotFoundError(
            f"The front-end file {name!r} is not installed (looked at {path}). It comes with the "
            "build: install the project again with `pip install .` (or `pip install -e .`)."
        )
    return path
