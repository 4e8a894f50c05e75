"""Lines of two and of twelve kilometres over the sample's hill."""

from __future__ import annotations

import json
from pathlib import Path

import sample_dem


def two_kilometres() -> list[list[float]]:
    """Return the sample line made longer: up its valley and down again beside itself."""
    document = json.loads(sample_dem.sample_paths().line.read_text(encoding="utf-8"))
    there = document["features"][0]["geometry"]["coordinates"]
    back = [[lon, lat + 0.0012] for lon, lat in reversed(there)]
    return there + back[: int(0.72 * len(back))]


def twelve_kilometres() -> list[list[float]]:
    """Return 43 points to and fro across the sample's slope, some 290 m each way."""
    return [[-16.072 + 0.0004 * k, 47.2945 + 0.0026 * (k % 2)] for k in range(43)]


def line_file(path: Path, points: list[list[float]]) -> Path:
    """Write a line as GeoJSON and return where."""
    path.write_text(json.dumps({"type": "LineString", "coordinates": points}), encoding="utf-8")
    return path
